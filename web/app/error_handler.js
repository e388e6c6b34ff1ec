// SPDX-License-Identifier: GPL-3.0-or-later
// The last resort: a fault of the page itself is shown with its place, not swallowed.

export function watchErrors() {
  const tell = (/** @type {unknown} */ error) => {
    const place = document.getElementById("news");
    const text = error instanceof Error ? `${error.name}: ${error.message}` : String(error);
    if (place) {
      place.className = "veto";
      place.textContent = text;
    }
  };
  addEventListener("error", (event) => tell(event.error ?? event.message));
  addEventListener("unhandledrejection", (event) => tell(event.reason));
}
