// SPDX-License-Identifier: GPL-3.0-or-later
// Hand a picture to the person as a file.

/** @param {string} name @param {string} text @param {string} type */
export function saveText(name, text, type) {
  save(name, new Blob([text], { type }));
}

/** Draw SVG text at three pixels a unit and save it as PNG. @param {string} name @param {string} text */
export function savePng(name, text) {
  const url = URL.createObjectURL(new Blob([text], { type: "image/svg+xml" }));
  const picture = new Image();
  picture.onload = () => {
    const most = 4000;
    const scale = Math.min(3, most / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(picture.width * scale);
    canvas.height = Math.round(picture.height * scale);
    canvas.getContext("2d")?.drawImage(picture, 0, 0, canvas.width, canvas.height);
    URL.revokeObjectURL(url);
    canvas.toBlob((blob) => blob && save(name, blob), "image/png");
  };
  picture.src = url;
}

/** @param {string} name @param {Blob} blob */
export function save(name, blob) {
  const link = document.createElement("a");
  link.href = URL.createObjectURL(blob);
  link.download = name.replace(/[^\w.+-]+/g, "_");
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 10_000);
}
