// SPDX-License-Identifier: GPL-3.0-or-later
// Fingers, mouse and wheel on a picture: drag moves it, two fingers or the wheel change its size,
// a touch that stays in its place is a tap.

/** So far a hand may slip and still mean one place, in pixels of the screen. */
const SLIP = 6;

/**
 * @typedef {object} Hands
 * @property {(dx: number, dy: number) => void} pan
 * @property {(factor: number, x: number, y: number) => void} zoom about a point of the canvas
 * @property {(x: number, y: number) => void} tap
 * @property {(x: number, y: number) => void} [over] the pointer rests on this point
 * @property {() => void} [gone] it has left the picture
 */

/** @param {HTMLCanvasElement} canvas @param {Hands} hands */
export function watchHands(canvas, hands) {
  /** @type {Map<number, {x: number, y: number}>} */
  const down = new Map();
  let moved = 0;
  let apart = 0;
  canvas.addEventListener("pointerdown", (event) => {
    canvas.setPointerCapture(event.pointerId);
    down.set(event.pointerId, { x: event.offsetX, y: event.offsetY });
    moved = 0;
    apart = 0;
  });
  canvas.addEventListener("pointermove", (event) => {
    const before = down.get(event.pointerId);
    if (!before) {
      hands.over?.(event.offsetX, event.offsetY);
      return;
    }
    const now = { x: event.offsetX, y: event.offsetY };
    down.set(event.pointerId, now);
    moved += Math.abs(now.x - before.x) + Math.abs(now.y - before.y);
    if (down.size === 1 && moved > SLIP) hands.pan(now.x - before.x, now.y - before.y);
    if (down.size === 2) {
      const [a, b] = [...down.values()];
      const gap = Math.hypot(a.x - b.x, a.y - b.y);
      if (apart) hands.zoom(gap / apart, (a.x + b.x) / 2, (a.y + b.y) / 2);
      apart = gap;
      moved += 10;
    }
  });
  const up = (/** @type {PointerEvent} */ event) => {
    const was = down.delete(event.pointerId);
    if (was && event.type === "pointerup" && moved <= SLIP) hands.tap(event.offsetX, event.offsetY);
  };
  canvas.addEventListener("pointerup", up);
  canvas.addEventListener("pointercancel", up);
  canvas.addEventListener("pointerleave", () => hands.gone?.());
  canvas.addEventListener("wheel", (event) => {
    // Without the control key the wheel moves the page, unless the picture was entered.
    if (!event.ctrlKey && document.activeElement !== canvas) return;
    event.preventDefault();
    hands.zoom(Math.exp(-event.deltaY / 400), event.offsetX, event.offsetY);
  }, { passive: false });
}
