// SPDX-License-Identifier: GPL-3.0-or-later
// Which part of a photograph is in sight, and what lies under a place of it.

/** A window on a picture: CSS pixels are (picture pixels - left, top) * scale. */
export class PhotoView {
  constructor() {
    this.scale = 1;
    this.left = 0;
    this.top = 0;
    this.width = 0; // of the window
    this.height = 0;
  }

  /** @param {number} x @param {number} y picture pixels @returns {[number, number]} CSS pixels */
  toScreen(x, y) {
    return [(x - this.left) * this.scale, (y - this.top) * this.scale];
  }

  /** @param {number} sx @param {number} sy CSS pixels @returns {[number, number]} picture pixels */
  toPicture(sx, sy) {
    return [sx / this.scale + this.left, sy / this.scale + this.top];
  }

  /** Show all of it. @param {number} width @param {number} height of the picture */
  fit(width, height) {
    this.scale = Math.max(1e-3, Math.min(this.width / width, this.height / height));
    this.left = width / 2 - this.width / 2 / this.scale;
    this.top = height / 2 - this.height / 2 / this.scale;
  }

  /** @param {number} factor @param {number} sx @param {number} sy the point that stays */
  zoom(factor, sx, sy) {
    const [x, y] = this.toPicture(sx, sy);
    this.scale = Math.min(40, Math.max(0.005, this.scale * factor));
    this.left = x - sx / this.scale;
    this.top = y - sy / this.scale;
  }

  /** @param {number} dx @param {number} dy CSS pixels */
  pan(dx, dy) {
    this.left -= dx / this.scale;
    this.top -= dy / this.scale;
  }

  /** Move so far that a place is in sight. @param {number} x @param {number} y */
  follow(x, y) {
    const [sx, sy] = this.toScreen(x, y);
    const rim = Math.min(12, this.width / 4, this.height / 4);
    const inside = (/** @type {number} */ at, /** @type {number} */ most) => Math.min(Math.max(at, rim), most - rim);
    this.pan(inside(sx, this.width) - sx, inside(sy, this.height) - sy);
  }
}

/** Where a pad is seen on a side's picture, or null. @param {any} part @param {any} pad @param {string} side */
export function seenAt(part, pad, side) {
  return part.side === side ? pad : pad.across;
}

/**
 * The marked pad next to a place, or null.
 * @param {any[]} parts of the answer of /trace @param {string} side
 * @param {number} x @param {number} y @param {number} reach in picture pixels
 * @returns {{ref: string, pin: string, x: number, y: number}|null}
 */
export function nearestPad(parts, side, x, y, reach) {
  let found = null;
  let least = reach;
  for (const part of parts) {
    for (const pad of part.pads) {
      const at = seenAt(part, pad, side);
      const far = at ? Math.hypot(at.x_px - x, at.y_px - y) : Infinity;
      if (far > least) continue;
      least = far;
      found = { ref: part.ref, pin: pad.pin, x: at.x_px, y: at.y_px };
    }
  }
  return found;
}

/** The part whose place is next, or null. @param {any[]} parts @param {string} side @param {number} x @param {number} y @param {number} reach */
export function nearestPart(parts, side, x, y, reach) {
  let found = null;
  let least = reach;
  for (const part of parts) {
    if (part.side !== side || part.x_px === null) continue;
    const far = Math.hypot(part.x_px - x, part.y_px - y);
    if (far > least) continue;
    least = far;
    found = part.ref;
  }
  return found;
}

/**
 * A pad put into a typed line, or taken out of it where it stands already; a net's name stays behind.
 * @param {string} line @param {string} pad
 */
export function withPad(line, pad) {
  const words = line.split(/\s+/).filter(Boolean);
  const colon = words.indexOf(":");
  const pads = colon < 0 ? words : words.slice(0, colon);
  const rest = colon < 0 ? [] : words.slice(colon);
  const now = pads.includes(pad) ? pads.filter((one) => one !== pad) : [...pads, pad];
  const text = [...now, ...rest].join(" ");
  return text && !rest.length ? `${text} ` : text;
}
