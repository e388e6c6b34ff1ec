// SPDX-License-Identifier: GPL-3.0-or-later
// One photograph on a canvas with what is marked on it, and a cross-hair that mouse, fingers and keys move.

import { watchHands } from "../pointer.js";
import { PhotoView, seenAt } from "../../core/photo_view.js";

const PLAIN = "11px system-ui, sans-serif";

export class PhotoPicture {
  /**
   * @param {HTMLCanvasElement} canvas
   * @param {{act: (x: number, y: number) => void, moved: (x: number, y: number) => void}} told
   */
  constructor(canvas, told) {
    this.canvas = canvas;
    this.told = told;
    const pen = canvas.getContext("2d", { alpha: false });
    if (!pen) throw new Error("no canvas");
    this.pen = pen;
    this.view = new PhotoView();
    /** @type {import("../photos.js").Photo|null} */
    this.photo = null;
    /** @type {[number, number]} */
    this.cross = [0, 0];
    /** @type {{side: string, parts: any[], points: any[], chosen: Set<string>, net: Set<string>, part: string}} */
    this.marks = { side: "top", parts: [], points: [], chosen: new Set(), net: new Set(), part: "" };
    this.waiting = false;
    this.fitted = true;
    /** Names that are painted, by their middles in CSS pixels. @type {{x: number, y: number, half: number}[]} */
    this.named = [];
    this.listen();
    new ResizeObserver(() => this.resized()).observe(canvas);
  }

  /** @param {import("../photos.js").Photo|null} photo */
  load(photo) {
    if (photo === this.photo) return;
    this.photo = photo;
    this.fitted = true;
    if (photo) {
      this.cross = [Math.round(photo.width / 2), Math.round(photo.height / 2)];
      this.told.moved(...this.cross);
    }
    this.resized();
  }

  /** @param {typeof this.marks} marks */
  mark(marks) {
    this.marks = marks;
    this.draw();
  }

  /** Whether a place lies on the picture. @param {number} x @param {number} y */
  shows(x, y) {
    return !this.photo || (x >= 0 && y >= 0 && x <= this.photo.width && y <= this.photo.height);
  }

  /** Set the cross-hair to a place of the picture. @param {number} x @param {number} y @param {boolean} [follow] bring it into sight */
  moveTo(x, y, follow = true) {
    if (!this.photo) return;
    const within = (/** @type {number} */ at, /** @type {number} */ most) => Math.min(Math.max(at, 0), most);
    this.cross = [within(x, this.photo.width), within(y, this.photo.height)];
    const before = [this.view.left, this.view.top];
    if (follow) this.view.follow(...this.cross);
    if (before[0] !== this.view.left || before[1] !== this.view.top) this.fitted = false;
    this.told.moved(...this.cross);
    this.draw();
  }

  fit() {
    if (!this.photo) return;
    this.view.fit(this.photo.width, this.photo.height);
    this.fitted = true;
    this.draw();
  }

  /** @param {number} factor */
  zoom(factor) {
    this.view.zoom(factor, ...this.view.toScreen(...this.cross));
    this.fitted = false;
    this.draw();
  }

  /** @param {number} dx @param {number} dy */
  pan(dx, dy) {
    this.view.pan(dx, dy);
    this.fitted = false;
    this.draw();
  }

  /** How many picture pixels a finger covers. */
  get reach() {
    return 24 / this.view.scale;
  }

  resized() {
    const ratio = window.devicePixelRatio || 1;
    const [w, h] = [this.canvas.clientWidth, this.canvas.clientHeight];
    if (!w || !h) return;
    this.view.width = w;
    this.view.height = h;
    if (this.canvas.width !== Math.round(w * ratio)) this.canvas.width = Math.round(w * ratio);
    if (this.canvas.height !== Math.round(h * ratio)) this.canvas.height = Math.round(h * ratio);
    if (this.fitted) this.fit();
    this.draw();
  }

  // -- drawing ---------------------------------------------------------------------------------

  draw() {
    if (this.waiting) return;
    this.waiting = true;
    requestAnimationFrame(() => {
      this.waiting = false;
      this.paint();
    });
  }

  paint() {
    const { pen, view, photo } = this;
    const style = getComputedStyle(this.canvas);
    const ratio = this.canvas.width / Math.max(1, view.width);
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.fillStyle = style.getPropertyValue("--faint");
    pen.fillRect(0, 0, view.width, view.height);
    if (!photo) return;
    const [x, y] = view.toScreen(0, 0);
    const near = view.scale * photo.width * ratio > photo.small.width;
    pen.imageSmoothingEnabled = view.scale < 3;
    pen.drawImage(near ? photo.large : photo.small, x, y, photo.width * view.scale, photo.height * view.scale);
    // Names first and pads over them: no name hides a pad.
    this.named = [];
    for (const part of this.marks.parts) this.paintName(part);
    for (const part of this.marks.parts) this.paintPart(part);
    this.marks.points.forEach((point, i) => this.paintPoint(point, String.fromCharCode(65 + (i % 26))));
    this.paintCross();
  }

  /** Two strokes: dark on light is seen on any photograph. @param {() => void} shape @param {string} colour @param {number} width @param {number[]} [dash] */
  stroke(shape, colour, width, dash = []) {
    const { pen } = this;
    pen.setLineDash([]);
    for (const [ink, wide] of /** @type {[string, number][]} */ ([["#ffffff", width + 2.5], [colour, width]])) {
      pen.strokeStyle = ink;
      pen.lineWidth = wide;
      if (ink === colour) pen.setLineDash(dash);
      pen.beginPath();
      shape();
      pen.stroke();
    }
    pen.setLineDash([]);
  }

  /** @param {any} part */
  paintPart(part) {
    const { pen, view } = this;
    for (const pad of part.pads) {
      const at = seenAt(part, pad, this.marks.side);
      if (!at) continue;
      const [x, y] = view.toScreen(at.x_px, at.y_px);
      if (x < -30 || y < -30 || x > view.width + 30 || y > view.height + 30) continue;
      const name = `${part.ref}.${pad.pin}`;
      const chosen = this.marks.chosen.has(name);
      const r = this.padReach;
      const shape = () => pen.rect(x - r, y - r, 2 * r, 2 * r);
      // Traced: filled. Joins nothing: dashed. On the net that grew last: ringed as well.
      this.stroke(shape, chosen ? "#000000" : "#0067a3", chosen ? 4 : 2, pad.alone ? [3, 3] : []);
      if (pad.net !== null) {
        pen.fillStyle = "#0067a3";
        pen.fillRect(x - r + 1, y - r + 1, 2 * r - 2, 2 * r - 2);
      }
      if (this.marks.net.has(name)) this.stroke(() => pen.arc(x, y, r + 6, 0, 2 * Math.PI), "#0067a3", 2);
      if (r >= 6 || chosen) this.label(chosen || part.side !== this.marks.side ? name : pad.pin, x + r + 3, y - r - 3);
    }
    if (part.x_px === null || part.side !== this.marks.side) return;
    const [x, y] = view.toScreen(part.x_px, part.y_px);
    if (!part.pads.length || this.marks.part === part.ref) {
      this.stroke(() => {
        pen.moveTo(x - 6, y);
        pen.lineTo(x + 6, y);
        pen.moveTo(x, y - 6);
        pen.lineTo(x, y + 6);
      }, "#000000", this.marks.part === part.ref ? 4 : 2);
    }
  }

  /** Half a pad's mark, in CSS pixels. */
  get padReach() {
    return Math.max(3, Math.min(9, this.view.scale * 6));
  }

  /** A part's name below all its pads; left out where another name stands already. @param {any} part */
  paintName(part) {
    const { view } = this;
    if (part.x_px === null || part.side !== this.marks.side) return;
    const [x] = view.toScreen(part.x_px, part.y_px);
    const lowest = Math.max(part.y_px, ...part.pads.map((/** @type {any} */ one) => one.y_px));
    const [, y] = view.toScreen(part.x_px, lowest);
    if (x < -60 || y < -30 || x > view.width + 60 || y > view.height + 30) return;
    const at = { x, y: y + this.padReach + 15 };
    const half = 4 + 3.5 * Math.min(24, part.ref.length);
    const chosen = this.marks.part === part.ref;
    if (!chosen && this.named.some((one) => Math.abs(one.y - at.y) < 13 && Math.abs(one.x - at.x) < one.half + half)) return;
    this.named.push({ ...at, half });
    this.label(part.ref, at.x, at.y, true);
  }

  /** @param {any} point @param {string} name */
  paintPoint(point, name) {
    const { pen } = this;
    const [x, y] = this.view.toScreen(point.x_px, point.y_px);
    this.stroke(() => {
      pen.moveTo(x, y - 10);
      pen.lineTo(x + 9, y + 6);
      pen.lineTo(x - 9, y + 6);
      pen.closePath();
    }, "#8f3c00", 2.5);
    this.label(name, x + 12, y - 8);
  }

  paintCross() {
    const { pen, view } = this;
    const [x, y] = view.toScreen(...this.cross);
    const shape = () => {
      for (const [ax, ay, bx, by] of [[x - 34, y, x - 5, y], [x + 5, y, x + 34, y], [x, y - 34, x, y - 5], [x, y + 5, x, y + 34]]) {
        pen.moveTo(ax, ay);
        pen.lineTo(bx, by);
      }
    };
    this.stroke(shape, "#000000", 1.5);
  }

  /** @param {string} text @param {number} x @param {number} y @param {boolean} [middle] */
  label(text, x, y, middle = false) {
    const { pen } = this;
    const shown = text.length > 24 ? `${text.slice(0, 23)}…` : text;
    pen.font = PLAIN;
    pen.textBaseline = "alphabetic";
    const wide = pen.measureText(shown).width;
    const left = middle ? x - wide / 2 : x;
    pen.fillStyle = "rgba(255, 255, 255, 0.85)";
    pen.fillRect(left - 2, y - 10, wide + 4, 13);
    pen.fillStyle = "#000000";
    pen.textAlign = "left";
    pen.fillText(shown, left, y);
  }

  // -- pointer and keys ------------------------------------------------------------------------

  listen() {
    watchHands(this.canvas, {
      pan: (dx, dy) => this.pan(dx, dy),
      zoom: (factor, x, y) => {
        this.view.zoom(factor, x, y);
        this.fitted = false;
        this.draw();
      },
      tap: (px, py) => {
        if (!this.photo) return;
        const [x, y] = this.view.toPicture(px, py);
        if (!this.shows(x, y)) return;
        // Under the finger nothing may move away.
        this.moveTo(tenth(x), tenth(y), false);
        this.told.act(...this.cross);
      },
    });
    this.canvas.addEventListener("keydown", (event) => this.key(event));
  }

  /** @param {KeyboardEvent} event */
  key(event) {
    // With shift one pixel of the picture, else a step that the eye sees.
    const step = event.shiftKey ? 1 : Math.max(1, Math.round(12 / this.view.scale));
    const [x, y] = this.cross;
    /** @type {Record<string, () => void>} */
    const acts = {
      ArrowLeft: () => this.moveTo(x - step, y),
      ArrowRight: () => this.moveTo(x + step, y),
      ArrowUp: () => this.moveTo(x, y - step),
      ArrowDown: () => this.moveTo(x, y + step),
      PageUp: () => this.zoom(1.5),
      PageDown: () => this.zoom(1 / 1.5),
      Home: () => this.fit(),
      Enter: () => this.told.act(x, y),
    };
    const held = event.repeat && event.key === "Enter"; // a key that stays down sets one point
    const act = held || event.ctrlKey || event.altKey || event.metaKey ? undefined : acts[event.key];
    if (!act || !this.photo) return;
    event.preventDefault();
    act();
  }
}

/** A tenth of a pixel is more than any hand can tell. @param {number} value */
function tenth(value) {
  return Math.round(value * 10) / 10;
}
