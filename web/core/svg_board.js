// SPDX-License-Identifier: GPL-3.0-or-later
// A side of a board as SVG text: for files and for print, where it must scale. Always light.

/** @param {unknown} text */
export function escaped(text) {
  return String(text).replace(/[<>&"'\u0000-\u001f]/g, (c) => `&#${c.codePointAt(0)};`);
}

/** Text colours and lines of marks; the same shapes as on the screen. */
const INK = "#1b1f23";
const BLUE = "#0072b2";

/**
 * @param {any} side columns of /drawing
 * @param {{net: number, part: string, marks: {x: number, y: number, kind: string, label: string, side: string}[]}} shown
 * @param {{title: string, side: string}} words
 */
export function boardSvg(side, shown, words) {
  const [x0, y0, x1, y1] = side.box ?? [0, 0, 10, 10];
  const pad = 3;
  const [w, h] = [x1 - x0 + 2 * pad, y1 - y0 + 2 * pad + 6];
  const mirror = side.side === "bottom";
  const turn = mirror ? `translate(${x0 + x1} 0) scale(-1 1)` : "";
  const out = [
    `<svg xmlns="http://www.w3.org/2000/svg" viewBox="${n(x0 - pad)} ${n(y0 - pad)} ${n(w)} ${n(h)}" width="${n(w)}mm" height="${n(h)}mm" role="img">`,
    `<title>${escaped(words.title)}</title>`,
    `<rect x="${n(x0 - pad)}" y="${n(y0 - pad)}" width="${n(w)}" height="${n(h)}" fill="#fff"/>`,
    `<g transform="${turn}">`,
    `<path d="${side.outline.map(lineData).join("")}" fill="none" stroke="${INK}" stroke-width="0.25"/>`,
    `<path d="${padData(side.pads, () => true)}" fill="#c9ced3"/>`,
    `<path d="${boxData(side.parts)}" fill="none" stroke="#6b7278" stroke-width="0.06"/>`,
  ];
  if (shown.net >= 0) {
    const on = padData(side.pads, (i) => side.pads.net[i] === shown.net);
    out.push(`<path d="${on}" fill="${BLUE}" stroke="${BLUE}" stroke-width="0.3"/>`);
  }
  if (shown.part) {
    const number = side.part_ids.indexOf(shown.part);
    const of = padData(side.pads, (i) => side.pads.part[i] === number);
    out.push(`<path d="${of}" fill="none" stroke="${INK}" stroke-width="0.3"/>`);
  }
  out.push("</g>");
  for (const mark of shown.marks) {
    if (mark.side !== side.side) continue;
    const x = mirror ? x0 + x1 - mark.x : mark.x;
    out.push(markSvg(mark.kind, x, mark.y, mark.label));
  }
  out.push(
    `<text x="${n(x0)}" y="${n(y1 + pad + 4)}" font-family="sans-serif" font-size="3.2" fill="${INK}">${escaped(words.side)}</text>`,
    "</svg>",
  );
  return out.join("\n");
}

/** @param {string} kind @param {number} x @param {number} y @param {string} label */
function markSvg(kind, x, y, label) {
  const r = 1.4;
  const line = `fill="none" stroke="${INK}" stroke-width="0.35"`;
  const shape = {
    lift: `<path d="M${n(x - r)} ${n(y - r)}L${n(x + r)} ${n(y + r)}M${n(x - r)} ${n(y + r)}L${n(x + r)} ${n(y - r)}" ${line}/>`,
    keep: `<rect x="${n(x - r)}" y="${n(y - r)}" width="${2 * r}" height="${2 * r}" ${line}/>`,
    inject: `<path d="M${n(x)} ${n(y)}l-1 -2.4h2zM${n(x)} ${n(y - 2.4)}v-2.6" fill="${INK}" stroke="${INK}" stroke-width="0.35"/>`,
    site: `<circle cx="${n(x)}" cy="${n(y)}" r="${r}" ${line}/>`,
  }[kind] ?? "";
  const text = label
    ? `<text x="${n(x + 1.8)}" y="${n(y - 1)}" font-family="sans-serif" font-size="2" fill="${INK}">${escaped(label)}</text>`
    : "";
  return shape + text;
}

/** @param {number[]} line */
function lineData(line) {
  let out = `M${n(line[0])} ${n(line[1])}`;
  for (let i = 2; i < line.length; i += 2) out += `L${n(line[i])} ${n(line[i + 1])}`;
  return out;
}

/** @param {any} pads @param {(i: number) => boolean} wanted */
function padData(pads, wanted) {
  let out = "";
  for (let i = 0; i < pads.x.length; i += 1) {
    if (!wanted(i)) continue;
    if (pads.shape[i] === 0) {
      const r = pads.w[i] / 2;
      out += `M${n(pads.x[i] - r)} ${n(pads.y[i])}a${n(r)} ${n(r)} 0 1 0 ${n(2 * r)} 0a${n(r)} ${n(r)} 0 1 0 ${n(-2 * r)} 0z`;
    } else {
      out += corners(pads.x[i], pads.y[i], pads.w[i], pads.h[i], pads.angle[i]);
    }
  }
  return out;
}

/** @param {any} parts */
function boxData(parts) {
  let out = "";
  for (let i = 0; i < parts.x.length; i += 1) {
    out += corners(parts.x[i], parts.y[i], parts.w[i], parts.h[i], parts.angle[i]);
  }
  return out;
}

/** @param {number} x @param {number} y @param {number} w @param {number} h @param {number} angle */
function corners(x, y, w, h, angle) {
  const turn = (angle * Math.PI) / 180;
  const [c, s] = [Math.cos(turn), Math.sin(turn)];
  const at = (/** @type {number} */ u, /** @type {number} */ v) =>
    `${n(x + u * c + v * s)} ${n(y - u * s + v * c)}`;
  const [a, b] = [w / 2, h / 2];
  return `M${at(-a, -b)}L${at(a, -b)}L${at(a, b)}L${at(-a, b)}z`;
}

/** @param {number} value */
function n(value) {
  return String(Math.round(value * 1000) / 1000);
}
