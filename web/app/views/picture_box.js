// SPDX-License-Identifier: GPL-3.0-or-later
// The board's pictures with their buttons: which side, nearer, farther, move, save.

import { boardSvg } from "../../core/svg_board.js";
import { el, fill } from "../dom.js";
import { photoOf } from "../photos.js";
import { savePng, saveText } from "../save.js";
import { say } from "../words.js";
import { BoardPicture } from "./board_picture.js";

const BOTH_FROM_PX = 1400;

export class PictureBox {
  /** @param {{pick: (part: string, net: string) => void}} told */
  constructor(told) {
    this.told = told;
    /** @type {{name: string, picture: BoardPicture, frame: HTMLElement, columns: any}[]} */
    this.sides = [];
    this.sideNow = "top";
    /** @type {{net: string, part: string, marks: any[]}} */
    this.shown = { net: "", part: "", marks: [] };
    this.under = el("p", { class: "under" }, say("picture.under"));
    this.frames = el("div", { class: "frames" });
    this.sheet = el("div", { class: "print-only sheet" });
    this.root = el("section", { class: "picture", "aria-label": say("picture.title") },
      this.bar(), this.frames, this.under, legend(), this.sheet);
    addEventListener("resize", () => {
      this.arrange();
      this.markSeen();
    });
    addEventListener("beforeprint", () => this.fillSheet());
  }

  bar() {
    this.choice = el("span", { class: "sides", role: "group", "aria-label": say("picture.side") },
      ["top", "bottom"].map((name) => el("button", {
        type: "button", "data-side": name, "aria-pressed": name === this.sideNow,
        onclick: () => this.turn(name),
      }, say(`side.${name}`))));
    const act = (/** @type {string} */ key, /** @type {(p: BoardPicture) => void} */ what) => el("button", {
      type: "button", class: "tool", title: say(`picture.${key}`), "aria-label": say(`picture.${key}`),
      onclick: () => this.seen().forEach((one) => what(one.picture)),
    }, say(`picture.${key}.sign`));
    return el("div", { class: "tools" },
      this.choice,
      act("nearer", (p) => p.zoomChosen(1.5)), act("farther", (p) => p.zoomChosen(1 / 1.5)), act("all", (p) => p.fit()),
      act("left", (p) => p.pan(80, 0)), act("right", (p) => p.pan(-80, 0)),
      act("up", (p) => p.pan(0, 80)), act("down", (p) => p.pan(0, -80)),
      el("button", { type: "button", class: "tool wide", onclick: () => this.saveSvg() }, say("save.svg")),
      el("button", { type: "button", class: "tool wide", onclick: () => this.savePng() }, say("save.png")));
  }

  /** @param {any[]} columns the answers of /drawing, top and bottom @param {string} file */
  load(columns, file) {
    this.file = file;
    const first = !this.sides.length;
    for (const side of columns) {
      let there = this.sides.find((one) => one.name === side.side);
      if (!there) this.sides.push((there = this.side(side.side)));
      if (there.columns === side) continue;
      there.columns = side;
      there.picture.load(side);
    }
    if (first) fill(this.frames, this.sides.map((one) => one.frame));
    this.root.hidden = columns.every((side) => side.box === null);
    this.arrange();
  }

  /** Lay the photographs under the drawing, where the board has them with their scale. @param {any} desk */
  async lay(desk) {
    this.laid = desk;
    const pictures = desk.tracing?.now?.pictures ?? [];
    for (const one of this.sides) {
      const shot = pictures.find((/** @type {any} */ p) => p.side === one.name && p.here && p.scale);
      const photo = shot ? await photoOf(desk.sha, shot) : null;
      if (this.laid !== desk) return;
      one.picture.lay(photo, shot?.scale.affine);
    }
  }

  /** @param {string} name */
  side(name) {
    const canvas = /** @type {HTMLCanvasElement} */ (el("canvas", {
      tabindex: 0, role: "application", "aria-roledescription": say("picture.kind"),
      "aria-label": say(`picture.label.${name}`),
    }));
    const frame = el("figure", { "data-side": name }, canvas, el("figcaption", {}, say(`picture.caption.${name}`)));
    const of = (/** @type {number} */ pad) => {
      const { pads, nets, part_ids: parts } = entry.columns;
      return { part: parts[pads.part[pad]], net: pads.net[pad] < 0 ? "" : nets[pads.net[pad]], pin: pads.pin[pad] };
    };
    const picture = new BoardPicture(canvas, {
      pick: (pad) => this.told.pick(of(pad).part, of(pad).net),
      hover: (pad) => {
        this.under.textContent = pad < 0 ? say("picture.under") : say("picture.pad", {
          pad: `${of(pad).part}.${of(pad).pin}`, net: of(pad).net || say("net.none"),
        });
      },
    });
    /** @type {any} */
    const entry = { name, picture, frame, columns: null };
    return entry;
  }

  /** @param {{net: string, part: string, marks: any[]}} shown @param {string} [side] where the chosen lies */
  show(shown, side) {
    this.shown = shown;
    if (side && side !== this.sideNow) this.turn(side);
    this.markSeen();
  }

  /** Only what is in sight is drawn; the other side hears of it when it is turned up. */
  markSeen() {
    for (const one of this.seen()) {
      one.picture.mark(this.shown);
      if (this.shown.part) one.picture.showChosen();
    }
  }

  /** @param {string} name */
  turn(name) {
    this.sideNow = name;
    this.arrange();
    this.markSeen();
  }

  arrange() {
    const both = window.innerWidth > BOTH_FROM_PX && this.root.classList.contains("large");
    this.root.classList.toggle("both", both);
    for (const one of this.sides) one.frame.hidden = !both && one.name !== this.sideNow;
    for (const one of this.choice?.querySelectorAll("button") ?? []) {
      one.setAttribute("aria-pressed", String(one.dataset.side === this.sideNow));
    }
  }

  seen() {
    return this.sides.filter((one) => !one.frame.hidden);
  }

  // -- files and paper -------------------------------------------------------------------------

  /** @param {any} one */
  svgOf(one) {
    const net = this.shown.net ? one.columns.nets.indexOf(this.shown.net) : -1;
    const title = [this.file, this.shown.net, this.shown.part].filter(Boolean).join(" – ");
    return boardSvg(one.columns, { ...this.shown, net }, { title, side: say(`picture.caption.${one.name}`) });
  }

  saveSvg() {
    for (const one of this.seen()) saveText(`${this.file}-${one.name}.svg`, this.svgOf(one), "image/svg+xml");
  }

  savePng() {
    for (const one of this.seen()) savePng(`${this.file}-${one.name}.png`, this.svgOf(one));
  }

  fillSheet() {
    if (!this.root.isConnected || this.root.hidden) return;
    // Parsed as a picture, not as markup of the page: nothing in it can run.
    fill(this.sheet, this.sides.map((one) => document.adoptNode(
      new DOMParser().parseFromString(this.svgOf(one), "image/svg+xml").documentElement)));
  }
}

function legend() {
  return el("details", { class: "legend" }, el("summary", {}, say("legend.title")),
    el("dl", {}, ["net", "part", "lift", "keep", "inject", "site"].flatMap((key) => [
      el("dt", {}, say(`legend.${key}.sign`)), el("dd", {}, say(`legend.${key}`)),
    ])));
}
