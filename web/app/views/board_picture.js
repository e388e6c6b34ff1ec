// SPDX-License-Identifier: GPL-3.0-or-later
// One side of a board on a canvas. Paths are built once a tile of 20 mm; tiles out of sight are skipped.

import { watchHands } from "../pointer.js";
import { HitGrid } from "../../core/hit_grid.js";

const TILE_MM = 20;
const AIM_PX = 12;
const LEAST_MARK_PX = 3;
const FINE_FROM = 14; // pixels a millimetre: from here on round corners and part outlines are drawn

/** @typedef {{x: number, y: number, kind: "lift"|"keep"|"inject"|"site", label: string, side: string}} Mark */

export class BoardPicture {
  /**
   * @param {HTMLCanvasElement} canvas
   * @param {{pick: (pad: number) => void, hover: (pad: number) => void}} told
   */
  constructor(canvas, told) {
    this.canvas = canvas;
    this.told = told;
    const pen = canvas.getContext("2d", { alpha: false });
    if (!pen) throw new Error("no canvas");
    this.pen = pen;
    /** @type {any} */
    this.side = null;
    this.scale = 1;
    this.left = 0;
    this.top = 0;
    this.net = -1;
    this.part = "";
    /** @type {Mark[]} */
    this.marks = [];
    /** @type {Tile[]} */
    this.tiles = [];
    this.waiting = false;
    // Kept, since asking the element makes the browser lay the whole page out.
    this.width = 0;
    this.height = 0;
    /** @type {number[]} frame times in ms, for the benchmark */
    this.frames = [];
    /** @type {import("../photos.js").Photo|null} */
    this.photo = null;
    /** @type {number[]} */
    this.affine = [];
    this.listen();
    new ResizeObserver(() => this.resized()).observe(canvas);
  }

  /** @param {any} side columns of /drawing */
  load(side) {
    const started = performance.now();
    this.side = side;
    this.mirror = side.side === "bottom";
    this.grid = new HitGrid(side.pads);
    this.tiles = tilesOf(side);
    this.buildMs = performance.now() - started;
    this.resized(true);
  }

  /** A photograph under the drawing. @param {import("../photos.js").Photo|null} photo @param {number[]} [affine] picture pixels to millimetres */
  lay(photo, affine) {
    this.photo = photo;
    this.affine = affine ?? [];
    this.draw();
  }

  /** @param {{net: string, part: string, marks: Mark[]}} shown */
  mark(shown) {
    if (!this.side) return;
    this.net = shown.net ? this.side.nets.indexOf(shown.net) : -1;
    this.part = shown.part;
    this.marks = shown.marks.filter((one) => one.side === this.side.side);
    const { pads } = this.side;
    const number = shown.part ? this.side.part_ids.indexOf(shown.part) : -1;
    this.onNet = indices(pads.x.length, (i) => this.net >= 0 && pads.net[i] === this.net);
    this.ofPart = indices(pads.x.length, (i) => pads.part[i] === number);
    this.netPath = padPath(pads, this.onNet, true);
    this.partPath = padPath(pads, this.ofPart, true);
    this.draw();
  }

  // -- where things are ------------------------------------------------------------------------

  /** The middle of the board for turning it over. */
  get flip() {
    return this.side.box ? this.side.box[0] + this.side.box[2] : 0;
  }

  /** @param {number} x @param {number} y in millimetres @returns {[number, number]} CSS pixels */
  toScreen(x, y) {
    const seen = this.mirror ? this.flip - x : x;
    return [(seen - this.left) * this.scale, (y - this.top) * this.scale];
  }

  /** @param {number} px @param {number} py @returns {[number, number]} millimetres */
  toBoard(px, py) {
    const seen = px / this.scale + this.left;
    return [this.mirror ? this.flip - seen : seen, py / this.scale + this.top];
  }


  fit() {
    if (!this.side?.box || !this.width) return;
    const [x0, y0, x1, y1] = this.side.box;
    this.scale = Math.min((this.width - 16) / (x1 - x0), (this.height - 16) / (y1 - y0));
    this.left = (x0 + x1) / 2 - this.width / 2 / this.scale;
    this.top = (y0 + y1) / 2 - this.height / 2 / this.scale;
    this.fitted = true;
    this.draw();
  }

  /** @param {number} factor @param {number} [px] @param {number} [py] the point that stays */
  zoom(factor, px = this.width / 2, py = this.height / 2) {
    const scale = Math.min(400, Math.max(0.5, this.scale * factor));
    this.left += px / this.scale - px / scale;
    this.top += py / this.scale - py / scale;
    this.scale = scale;
    this.fitted = false;
    this.draw();
  }

  /** Nearer to what is chosen, where it is in sight; else to the middle. @param {number} factor */
  zoomChosen(factor) {
    const { pads } = this.side;
    const points = (this.ofPart ?? []).map((i) => this.toScreen(pads.x[i], pads.y[i]));
    const [x, y] = points.length ? middle(points) : [this.width / 2, this.height / 2];
    const inside = x > 0 && y > 0 && x < this.width && y < this.height;
    if (inside) this.zoom(factor, x, y);
    else this.zoom(factor);
  }

  /** @param {number} dx @param {number} dy in CSS pixels */
  pan(dx, dy) {
    this.left -= dx / this.scale;
    this.top -= dy / this.scale;
    this.fitted = false;
    this.draw();
  }

  /** Bring what is chosen into sight, if it isn't. */
  showChosen() {
    const number = this.ofPart?.length ? this.ofPart : this.onNet;
    if (!number?.length || !this.side) return;
    const { pads } = this.side;
    const points = number.map((i) => this.toScreen(pads.x[i], pads.y[i]));
    const inside = points.some(([x, y]) => x > 0 && y > 0 && x < this.width && y < this.height);
    if (inside) return;
    const [x, y] = points[0];
    this.pan(this.width / 2 - x, this.height / 2 - y);
  }

  // -- drawing ---------------------------------------------------------------------------------

  resized(fresh = false) {
    const ratio = window.devicePixelRatio || 1;
    this.width = this.canvas.clientWidth;
    this.height = this.canvas.clientHeight;
    const [w, h] = [Math.round(this.width * ratio), Math.round(this.height * ratio)];
    if (!w || !h) return;
    if (this.canvas.width !== w || this.canvas.height !== h) {
      this.canvas.width = w;
      this.canvas.height = h;
    }
    if (fresh || this.fitted !== false) this.fit();
    else this.draw();
  }

  draw() {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => {
      this.waiting = false;
      const started = performance.now();
      this.paint();
      this.frames.push(performance.now() - started);
      if (this.frames.length > 1000) this.frames.shift();
    });
  }

  paint() {
    const { pen, side } = this;
    const ink = colours(this.canvas);
    const ratio = this.canvas.width / Math.max(1, this.width);
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.fillStyle = ink.ground;
    pen.fillRect(0, 0, this.canvas.width, this.canvas.height);
    if (!side?.box) return;
    const s = this.scale * ratio;
    if (this.mirror) pen.setTransform(-s, 0, 0, s, (this.flip - this.left) * s, -this.top * s);
    else pen.setTransform(s, 0, 0, s, -this.left * s, -this.top * s);
    const hair = ratio / s;
    if (this.photo) {
      const [a, b, c, d, e, f] = this.affine;
      pen.save();
      pen.transform(a, d, b, e, c, f);
      pen.drawImage(this.photo.small, 0, 0, this.photo.width, this.photo.height);
      pen.restore();
      // A veil, so that pads and marks stay what is seen first.
      pen.save();
      pen.setTransform(1, 0, 0, 1, 0, 0);
      pen.globalAlpha = 0.45;
      pen.fillRect(0, 0, this.canvas.width, this.canvas.height);
      pen.restore();
    }
    const seen = this.tiles.filter((tile) => this.inSight(tile));
    const fine = this.scale >= FINE_FROM;
    pen.fillStyle = ink.board;
    pen.lineWidth = 1.2 * hair;
    pen.strokeStyle = ink.edge;
    pen.stroke(this.outline());
    pen.fillStyle = ink.pad;
    for (const tile of seen) pen.fill(fine ? tile.fine() : tile.coarse);
    if (this.photo) {
      pen.lineWidth = 1.5 * hair;
      pen.strokeStyle = ink.edge;
      for (const tile of seen) pen.stroke(tile.coarse);
    }
    pen.lineWidth = (this.photo ? 1.5 : 0.7) * hair;
    pen.strokeStyle = this.photo ? ink.edge : ink.part;
    if (this.scale >= 5) for (const tile of seen) pen.stroke(tile.boxes);
    pen.fillStyle = ink.net;
    pen.strokeStyle = ink.net;
    if (this.netPath) {
      pen.fill(this.netPath);
      // A pad too small to be seen is made as large as can be found.
      pen.lineWidth = Math.max(LEAST_MARK_PX * hair, 0.12);
      pen.stroke(this.netPath);
    }
    if (this.partPath) {
      pen.strokeStyle = ink.chosen;
      pen.lineWidth = 2.5 * hair;
      pen.stroke(this.partPath);
    }
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    this.paintChosen(ink);
    this.paintMarks(ink);
    if (fine) this.paintNames(ink, seen);
  }

  /** @param {Tile} tile */
  inSight(tile) {
    const [ax, ay] = this.toScreen(tile.x0, tile.y0);
    const [bx, by] = this.toScreen(tile.x1, tile.y1);
    return Math.max(ax, bx) > 0 && Math.min(ax, bx) < this.width && by > 0 && ay < this.height;
  }

  outline() {
    if (this.outlineOf !== this.side) {
      this.outlineOf = this.side;
      this.outlinePath = new Path2D();
      for (const line of this.side.outline) {
        this.outlinePath.moveTo(line[0], line[1]);
        for (let i = 2; i < line.length; i += 2) this.outlinePath.lineTo(line[i], line[i + 1]);
      }
    }
    return this.outlinePath ?? new Path2D();
  }

  /** A ring around the chosen part, so that a tiny one is found on a large board. @param {Ink} ink */
  paintChosen(ink) {
    if (!this.ofPart?.length) return;
    const { pen } = this;
    const { pads } = this.side;
    const points = this.ofPart.map((i) => this.toScreen(pads.x[i], pads.y[i]));
    const [x, y] = middle(points);
    const reach = Math.max(16, ...points.map(([px, py]) => Math.hypot(px - x, py - y) + 10));
    pen.strokeStyle = ink.chosen;
    pen.lineWidth = 2.5;
    pen.beginPath();
    pen.arc(x, y, reach, 0, 2 * Math.PI);
    pen.stroke();
    label(pen, ink, this.part, x + reach * 0.75 + 4, y - reach * 0.75);
  }

  /** @param {Ink} ink */
  paintMarks(ink) {
    const { pen } = this;
    /** @type {[number, number][]} */
    const named = [];
    for (const mark of this.marks) {
      const [x, y] = this.toScreen(mark.x, mark.y);
      if (x < -30 || y < -30 || x > this.width + 30 || y > this.height + 30) continue;
      pen.strokeStyle = ink.chosen;
      pen.fillStyle = ink.chosen;
      pen.lineWidth = 2;
      pen.beginPath();
      // Small boards in small windows: marks that would lie on each other are drawn smaller.
      const r = Math.max(3.5, Math.min(7, this.scale * 0.8));
      if (mark.kind === "lift") {
        pen.moveTo(x - r, y - r);
        pen.lineTo(x + r, y + r);
        pen.moveTo(x - r, y + r);
        pen.lineTo(x + r, y - r);
      } else if (mark.kind === "keep") {
        pen.rect(x - r, y - r, 2 * r, 2 * r);
      } else if (mark.kind === "inject") {
        pen.moveTo(x, y);
        pen.lineTo(x - 5, y - 11);
        pen.lineTo(x + 5, y - 11);
        pen.closePath();
        pen.fill();
        pen.moveTo(x, y - 11);
        pen.lineTo(x, y - 24);
      } else {
        pen.arc(x, y, r + 2, 0, 2 * Math.PI);
      }
      pen.stroke();
      // Where marks lie on each other only the first is named; nearer, each has room again.
      const free = named.every(([nx, ny]) => Math.hypot(nx - x, ny - y) > 20);
      if (mark.label && free) {
        label(pen, ink, mark.label, x + 10, mark.kind === "inject" ? y - 18 : y - 9);
        named.push([x, y]);
      }
    }
  }

  /** Names of parts that are large enough on the screen to bear them. @param {Ink} ink @param {Tile[]} seen */
  paintNames(ink, seen) {
    const { pen } = this;
    const { parts } = this.side;
    pen.font = "11px system-ui, sans-serif";
    pen.textAlign = "center";
    pen.textBaseline = "middle";
    pen.fillStyle = ink.text;
    let left = 400;
    for (const tile of seen) {
      for (const i of tile.parts) {
        const long = Math.max(parts.w[i], parts.h[i]) * this.scale;
        if (long < parts.id[i].length * 7 + 4) continue;
        const [x, y] = this.toScreen(parts.x[i], parts.y[i]);
        if (x < 0 || y < 0 || x > this.width || y > this.height) continue;
        pen.fillText(parts.id[i], x, y);
        left -= 1;
        if (!left) return;
      }
    }
  }

  // -- pointer and keys ------------------------------------------------------------------------

  listen() {
    const { canvas } = this;
    watchHands(canvas, {
      pan: (dx, dy) => this.pan(dx, dy),
      zoom: (factor, x, y) => this.zoom(factor, x, y),
      tap: (x, y) => {
        const pad = this.padAt(x, y);
        if (pad >= 0) this.told.pick(pad);
      },
      over: (x, y) => this.told.hover(this.padAt(x, y)),
      gone: () => this.told.hover(-1),
    });
    canvas.addEventListener("keydown", (event) => {
      const step = 60;
      /** @type {Record<string, () => void>} */
      const acts = {
        ArrowLeft: () => this.pan(step, 0),
        ArrowRight: () => this.pan(-step, 0),
        ArrowUp: () => this.pan(0, step),
        ArrowDown: () => this.pan(0, -step),
        PageUp: () => this.zoomChosen(1.4),
        PageDown: () => this.zoomChosen(1 / 1.4),
        Home: () => this.fit(),
        Enter: () => {
          const pad = this.padAt(this.width / 2, this.height / 2, 1e3);
          if (pad >= 0) this.told.pick(pad);
        },
      };
      const act = event.ctrlKey || event.altKey || event.metaKey ? undefined : acts[event.key];
      if (!act) return;
      event.preventDefault();
      act();
    });
  }

  /** @param {number} px @param {number} py @param {number} [aim] in pixels */
  padAt(px, py, aim = AIM_PX) {
    if (!this.grid) return -1;
    const [x, y] = this.toBoard(px, py);
    return this.grid.at(x, y, Math.min(60, aim / this.scale), (i) => this.net >= 0 && this.side.pads.net[i] === this.net);
  }
}

// -- tiles -------------------------------------------------------------------------------------

class Tile {
  /** @param {any} side @param {number[]} pads @param {number[]} parts */
  constructor(side, pads, parts) {
    this.side = side;
    this.pads = pads;
    this.parts = parts;
    this.coarse = padPath(side.pads, pads, false);
    this.boxes = boxPath(side.parts, parts);
    /** @type {Path2D|null} */
    this.rounded = null;
    [this.x0, this.y0, this.x1, this.y1] = bounds(side, pads, parts);
  }

  /** True shapes, made when they can be seen. */
  fine() {
    this.rounded ??= padPath(this.side.pads, this.pads, true);
    return this.rounded;
  }
}

/** @param {any} side */
function tilesOf(side) {
  /** @type {Map<string, {pads: number[], parts: number[]}>} */
  const found = new Map();
  const of = (/** @type {number} */ x, /** @type {number} */ y) => {
    const key = `${Math.floor(x / TILE_MM)} ${Math.floor(y / TILE_MM)}`;
    let tile = found.get(key);
    if (!tile) found.set(key, (tile = { pads: [], parts: [] }));
    return tile;
  };
  for (let i = 0; i < side.pads.x.length; i += 1) of(side.pads.x[i], side.pads.y[i]).pads.push(i);
  for (let i = 0; i < side.parts.x.length; i += 1) of(side.parts.x[i], side.parts.y[i]).parts.push(i);
  return [...found.values()].map(({ pads, parts }) => new Tile(side, pads, parts));
}

/** @param {any} side @param {number[]} pads @param {number[]} parts @returns {[number, number, number, number]} */
function bounds(side, pads, parts) {
  let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
  for (const [columns, numbers] of [[side.pads, pads], [side.parts, parts]]) {
    for (const i of numbers) {
      const reach = Math.hypot(columns.w[i], columns.h[i]) / 2;
      x0 = Math.min(x0, columns.x[i] - reach);
      x1 = Math.max(x1, columns.x[i] + reach);
      y0 = Math.min(y0, columns.y[i] - reach);
      y1 = Math.max(y1, columns.y[i] + reach);
    }
  }
  return [x0, y0, x1, y1];
}

/** @param {any} pads @param {number[]} numbers @param {boolean} rounded */
function padPath(pads, numbers, rounded) {
  const path = new Path2D();
  for (const i of numbers) {
    const [x, y, w, h] = [pads.x[i], pads.y[i], pads.w[i], pads.h[i]];
    const shape = pads.shape[i];
    if (rounded && shape === 0) {
      path.moveTo(x + w / 2, y);
      path.arc(x, y, w / 2, 0, 2 * Math.PI);
    } else if (pads.angle[i] % 90 === 0) {
      const turned = pads.angle[i] % 180 !== 0;
      const [a, b] = turned ? [h, w] : [w, h];
      const r = rounded ? radius(shape, a, b) : 0;
      if (r) path.roundRect(x - a / 2, y - b / 2, a, b, r);
      else path.rect(x - a / 2, y - b / 2, a, b);
    } else {
      turnedBox(path, x, y, w, h, pads.angle[i]);
    }
  }
  return path;
}

/** @param {number} shape @param {number} w @param {number} h */
function radius(shape, w, h) {
  if (shape === 2) return Math.min(w, h) / 2;
  return shape === 3 ? Math.min(w, h) / 4 : 0;
}

/** @param {any} parts @param {number[]} numbers */
function boxPath(parts, numbers) {
  const path = new Path2D();
  for (const i of numbers) turnedBox(path, parts.x[i], parts.y[i], parts.w[i], parts.h[i], parts.angle[i]);
  return path;
}

/** @param {Path2D} path @param {number} x @param {number} y @param {number} w @param {number} h @param {number} angle */
function turnedBox(path, x, y, w, h, angle) {
  const turn = (angle * Math.PI) / 180;
  const [c, s] = [Math.cos(turn), Math.sin(turn)];
  const [a, b] = [w / 2, h / 2];
  path.moveTo(x - a * c - b * s, y + a * s - b * c);
  path.lineTo(x + a * c - b * s, y - a * s - b * c);
  path.lineTo(x + a * c + b * s, y - a * s + b * c);
  path.lineTo(x - a * c + b * s, y + a * s + b * c);
  path.closePath();
}

/** @param {number} count @param {(i: number) => boolean} wanted */
function indices(count, wanted) {
  const found = [];
  for (let i = 0; i < count; i += 1) if (wanted(i)) found.push(i);
  return found;
}

/** @param {number[][]} points @returns {[number, number]} */
function middle(points) {
  const xs = points.map(([x]) => x);
  const ys = points.map(([, y]) => y);
  return [(Math.min(...xs) + Math.max(...xs)) / 2, (Math.min(...ys) + Math.max(...ys)) / 2];
}

/** @param {CanvasRenderingContext2D} pen @param {Ink} ink @param {string} text @param {number} x @param {number} y */
function label(pen, ink, text, x, y) {
  pen.font = "600 13px system-ui, sans-serif";
  pen.textAlign = "left";
  pen.textBaseline = "middle";
  const wide = pen.measureText(text).width;
  pen.fillStyle = ink.ground;
  pen.fillRect(x - 2, y - 9, wide + 4, 18);
  pen.fillStyle = ink.text;
  pen.fillText(text, x, y);
}

/** @typedef {{ground: string, board: string, edge: string, pad: string, part: string, net: string, chosen: string, text: string}} Ink */

/** @param {Element} element @returns {Ink} */
function colours(element) {
  const style = getComputedStyle(element);
  const of = (/** @type {string} */ name) => style.getPropertyValue(`--picture-${name}`).trim() || "#888";
  return {
    ground: of("ground"), board: of("board"), edge: of("edge"), pad: of("pad"), part: of("part"),
    net: of("net"), chosen: of("chosen"), text: of("text"),
  };
}
