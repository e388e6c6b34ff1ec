// SPDX-License-Identifier: GPL-3.0-or-later
// Which pad lies at a point? Cells of 2 mm hold pad numbers; then each is looked at in its own frame.

const CELL_MM = 2;

/** @typedef {{x: number[], y: number[], w: number[], h: number[], angle: number[], shape: number[], net: number[], part: number[], pin: string[]}} Pads */

export class HitGrid {
  /** @param {Pads} pads */
  constructor(pads) {
    this.pads = pads;
    /** @type {Map<number, number[]>} */
    this.cells = new Map();
    for (let i = 0; i < pads.x.length; i += 1) {
      const reach = Math.hypot(pads.w[i], pads.h[i]) / 2;
      const [x0, x1] = [cell(pads.x[i] - reach), cell(pads.x[i] + reach)];
      const [y0, y1] = [cell(pads.y[i] - reach), cell(pads.y[i] + reach)];
      for (let cx = x0; cx <= x1; cx += 1) {
        for (let cy = y0; cy <= y1; cy += 1) {
          const key = cx * 65536 + cy;
          const there = this.cells.get(key);
          if (there) there.push(i);
          else this.cells.set(key, [i]);
        }
      }
    }
  }

  /**
   * The pad at a point, or the nearest within reach; -1: none. Marked pads are preferred.
   * @param {number} x @param {number} y @param {number} reach in millimetres
   * @param {(pad: number) => boolean} marked
   */
  at(x, y, reach, marked) {
    let best = -1;
    let least = Infinity;
    for (let cx = cell(x - reach); cx <= cell(x + reach); cx += 1) {
      for (let cy = cell(y - reach); cy <= cell(y + reach); cy += 1) {
        for (const i of this.cells.get(cx * 65536 + cy) ?? []) {
          let off = this.distance(i, x, y);
          if (off > reach) continue;
          if (off > 0 && marked(i)) off /= 4;
          // Of pads on top of each other the smaller one is meant.
          const rank = off + this.pads.w[i] * this.pads.h[i] * 1e-6;
          if (rank < least) [best, least] = [i, rank];
        }
      }
    }
    return best;
  }

  /** From a point to the edge of a pad; 0 inside. @param {number} i @param {number} x @param {number} y */
  distance(i, x, y) {
    const { pads } = this;
    const turn = (pads.angle[i] * Math.PI) / 180;
    const [dx, dy] = [x - pads.x[i], y - pads.y[i]];
    // y runs down and angles are counter-clockwise
    const u = dx * Math.cos(turn) - dy * Math.sin(turn);
    const v = dx * Math.sin(turn) + dy * Math.cos(turn);
    const over = [Math.abs(u) - pads.w[i] / 2, Math.abs(v) - pads.h[i] / 2];
    if (pads.shape[i] === 0) return Math.max(0, Math.hypot(u, v) - pads.w[i] / 2);
    return Math.hypot(Math.max(0, over[0]), Math.max(0, over[1]));
  }
}

/** @param {number} mm */
function cell(mm) {
  return Math.floor(mm / CELL_MM) + 32768;
}
