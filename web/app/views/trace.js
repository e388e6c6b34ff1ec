// SPDX-License-Identifier: GPL-3.0-or-later
// Board, trace mode: photographs on which scale, parts, pads and nets are set, each step kept at once.

import { numberIn } from "../../core/numbers.js";
import { nearestPad, nearestPart } from "../../core/photo_view.js";
import { Refused, ask, blobOf } from "../api.js";
import { el, fill } from "../dom.js";
import { photoOf } from "../photos.js";
import { save } from "../save.js";
import { say, sayOr } from "../words.js";
import { PhotoPicture } from "./photo_picture.js";
import { ChangeForm } from "./trace_change.js";
import { NetForm, PadForm, PartForm } from "./trace_forms.js";
import { TraceLists } from "./trace_lists.js";
import { ScaleForm } from "./trace_scale.js";

const STEPS = ["scale", "part", "pad", "net", "change"];

export class TraceView {
  /** @param {any} page */
  constructor(page) {
    this.page = page;
    this.side = "top";
    this.stepNow = "scale";
    this.canvas = /** @type {HTMLCanvasElement} */ (el("canvas", {
      tabindex: 0, role: "application", "aria-roledescription": say("trace.picture.kind"), "aria-label": say("trace.picture.top"),
    }));
    this.picture = new PhotoPicture(this.canvas, {
      act: (x, y) => this.act(x, y), moved: (x, y) => this.showCross(x, y),
    });
    /** @type {Record<string, any>} */
    this.forms = {
      scale: new ScaleForm(this), part: new PartForm(this), pad: new PadForm(this), net: new NetForm(this), change: new ChangeForm(this),
    };
    this.lists = new TraceLists(this);
    this.file = el("strong", {});
    this.saved = el("p", { class: "saved" });
    this.fault = el("p", { class: "veto", role: "alert" });
    this.events = el("div", { class: "vetoes", role: "alert", hidden: true });
    this.heard = el("p", { class: "heard", role: "status" });
    this.undoButton = /** @type {HTMLButtonElement} */ (el("button", { type: "button", class: "large undo", onclick: () => this.undo() }, say("trace.undo")));
    this.root = el("div", { class: "trace" },
      el("h1", { tabindex: -1 }, say("trace.title")),
      el("div", { class: "tracehead" }, el("p", {}, this.file), this.saved, this.undoButton),
      el("div", { class: "two" }, el("div", { class: "main" }, this.pictureBlock()),
        el("div", { class: "steps" }, this.stepChoice(), STEPS.map((name) => this.forms[name].root))),
      this.lists.root, this.filesBlock(),
      this.toldBox());
    this.root.addEventListener("keydown", (event) => {
      if (event instanceof KeyboardEvent && event.key === "Escape") this.forms.change.leave();
    });
    // A button under a finger stays where it is, else the tap would miss it.
    this.root.addEventListener("focusin", (event) => {
      if (event.target instanceof Element && event.target.matches(":focus-visible")) this.uncover();
    });
    this.showStep();
    // Whoever comes back from another window sees what was done there.
    addEventListener("focus", () => this.lookAgain());
  }

  async lookAgain() {
    const { desk } = this;
    if (!desk || !this.root.isConnected || this.root.hidden) return;
    try {
      await desk.tracing.inTurn(() => ask(`/boards/${desk.sha}/trace`));
      if (this.desk === desk) await this.showNow();
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
    }
  }

  /** What is said: stuck to the window's lower edge, in sight wherever the page is scrolled to. */
  toldBox() {
    const box = el("div", { class: "told" }, this.events, this.fault, this.heard, this.forms.change.armed);
    this.told = box;
    new ResizeObserver(() => {
      document.documentElement.style.scrollPaddingBottom = box.clientHeight ? `${box.clientHeight + 16}px` : "";
      this.uncover();
    }).observe(box);
    return box;
  }

  /** What has the focus is never under what is said; the photograph stays where the finger is. */
  uncover() {
    const held = document.activeElement;
    if (!this.told || held === this.canvas || !this.root.contains(held) || this.told.contains(held)) return;
    if (held && held.getBoundingClientRect().bottom > this.told.getBoundingClientRect().top) held.scrollIntoView({ block: "nearest" });
  }

  pictureBlock() {
    this.sides = el("span", { class: "sides", role: "group", "aria-label": say("picture.side") }, ["top", "bottom"].map((name) => el("button", {
      type: "button", class: "large", "data-side": name, "aria-pressed": name === this.side, onclick: () => this.turn(name),
    }, say(`side.${name}`))));
    const tool = (/** @type {string} */ key, /** @type {() => void} */ what) => el("button", {
      type: "button", class: "tool large", title: say(`picture.${key}`), "aria-label": say(`picture.${key}`), onclick: what,
    }, say(`picture.${key}.sign`));
    this.tools = el("div", { class: "tools" }, this.sides,
      tool("nearer", () => this.picture.zoom(1.5)), tool("farther", () => this.picture.zoom(1 / 1.5)), tool("all", () => this.picture.fit()),
      tool("left", () => this.picture.pan(80, 0)), tool("right", () => this.picture.pan(-80, 0)),
      tool("up", () => this.picture.pan(0, 80)), tool("down", () => this.picture.pan(0, -80)));
    const number = (/** @type {string} */ name) => /** @type {HTMLInputElement} */ (el("input", {
      name, id: `cross-${name}`, inputmode: "decimal", autocomplete: "off", size: 7, onchange: () => this.typedCross(),
    }));
    this.crossX = number("x");
    this.crossY = number("y");
    this.hereButton = el("button", { type: "submit", class: "act large" }, say("trace.here.scale"));
    const cross = el("form", { class: "cross", onsubmit: (/** @type {Event} */ event) => {
      event.preventDefault();
      if (this.typedCross()) this.act(...this.picture.cross);
    } },
    el("span", { id: "cross-words" }, say("trace.cross")),
    el("span", { class: "pair" }, el("label", { for: "cross-x" }, say("trace.cross.x")), this.crossX),
    el("span", { class: "pair" }, el("label", { for: "cross-y" }, say("trace.cross.y")), this.crossY), this.hereButton);
    this.missing = el("div", { class: "drop" });
    this.seen = el("div", { class: "photo large" }, this.tools, el("figure", {}, this.canvas, el("figcaption", {}, say("trace.picture.under"))), cross);
    return el("section", { "aria-label": say("trace.picture.title") }, this.seen, this.missing);
  }

  stepChoice() {
    this.choice = el("div", { class: "stepchoice", role: "group", "aria-label": say("trace.steps") }, STEPS.map((name) => el("button", {
      type: "button", class: "large", "data-step": name, onclick: () => this.goTo(name),
    }, say(`trace.step.${name}`))));
    return this.choice;
  }

  filesBlock() {
    this.pictureFiles = el("span", { class: "buttons" });
    return el("section", { class: "tracefiles" }, el("h2", {}, say("trace.files")), el("p", {}, say("trace.files.about")),
      el("p", { class: "buttons" }, el("button", { type: "button", class: "large", onclick: () => this.saveFile() }, say("trace.files.board")), this.pictureFiles));
  }

  // -- showing ---------------------------------------------------------------------------------

  /** @param {any} desk */
  async show(desk) {
    if (this.desk !== desk) {
      this.desk = desk;
      this.events.hidden = true;
      this.news("");
      this.lastNet = "";
      this.side = "top";
      for (const form of Object.values(this.forms)) form.clear?.();
      const { pictures, parts } = desk.tracing.now;
      if (pictures.length && !pictures.some((/** @type {any} */ one) => one.side === "top")) this.side = "bottom";
      this.stepNow = pictures.some((/** @type {any} */ one) => one.scale) ? (parts.length ? "net" : "part") : "scale";
      this.showStep();
    }
    await this.showNow();
  }

  get now() {
    return this.desk.tracing.now;
  }

  /** The picture of the side in sight, as the service told it. */
  get shot() {
    return this.now.pictures.find((/** @type {any} */ one) => one.side === this.side);
  }

  async showNow() {
    const { now } = this;
    const last = now.last ? say("trace.last", { what: this.didWords(now.last) }) : "";
    this.file.textContent = this.desk.row.file;
    this.saved.textContent = `${say("trace.saved", { n: now.steps })} ${last}`;
    this.undoButton.disabled = !now.steps;
    for (const one of this.sides?.querySelectorAll("button") ?? []) one.setAttribute("aria-pressed", String(one.dataset.side === this.side));
    for (const form of Object.values(this.forms)) form.show();
    this.lists.show();
    this.markPicture();
    if (this.pictureFiles) {
      fill(this.pictureFiles, now.pictures.filter((/** @type {any} */ one) => one.here).map((/** @type {any} */ one) => el("button", {
        type: "button", class: "large", onclick: () => this.savePicture(one),
      }, say("trace.files.picture", { file: one.file }))));
    }
    await this.showPhoto();
    this.uncover();
  }

  async showPhoto() {
    const { shot, desk } = this;
    const here = Boolean(shot?.here);
    this.seen?.toggleAttribute("hidden", !here);
    this.canvas.setAttribute("aria-label", say(`trace.picture.${this.side}`));
    this.showMissing(shot);
    if (!here) return;
    const photo = await photoOf(desk.sha, shot);
    if (this.desk === desk && this.shot?.sha256 === shot.sha256) {
      this.picture.load(photo);
      this.canvas.dataset.photo = shot.sha256;
    }
  }

  /** A picture to be chosen: none yet, or the file names one that is not here; later another one. @param {any} shot */
  showMissing(shot) {
    const key = `${this.desk.sha} ${this.side} ${shot?.here} ${shot?.file}`;
    if (!this.missing || this.missingOf === key) return;
    this.missingOf = key;
    const input = /** @type {HTMLInputElement} */ (el("input", {
      type: "file", id: "trace-photo", accept: "image/png,image/jpeg", onchange: () => {
        const file = input.files?.[0];
        if (file) this.run(this.desk.tracing.picture(this.side, file));
        input.value = "";
      },
    }));
    const words = shot?.here ? say(`trace.other.${this.side}`) : shot ? say("trace.missing", { file: shot.file }) : say(`trace.none.${this.side}`);
    const choice = [el("label", { for: "trace-photo" }, words), " ", input];
    fill(this.missing, shot?.here ? null : el("div", { class: "sides", role: "group", "aria-label": say("picture.side") }, ["top", "bottom"].map((name) => el("button", {
      type: "button", class: "large", "aria-pressed": String(name === this.side), onclick: () => this.turn(name),
    }, say(`side.${name}`)))), shot?.here ? el("details", {}, el("summary", {}, say("trace.other")), choice) : el("p", {}, choice));
    this.missing.className = shot?.here ? "other" : "drop";
  }

  markPicture() {
    const { now } = this;
    const net = now.nets.find((/** @type {any} */ one) => one.net === this.lastNet);
    const form = this.forms[this.stepNow];
    this.picture.mark({
      side: this.side,
      parts: now.parts,
      points: this.stepNow === "scale" ? this.forms.scale.points() : [],
      chosen: new Set(form.chosenPads?.() ?? []),
      part: form.chosenPart?.() ?? "",
      net: new Set(net?.pads ?? []),
    });
  }

  showStep() {
    for (const one of this.choice?.querySelectorAll("button") ?? []) one.setAttribute("aria-pressed", String(one.dataset.step === this.stepNow));
    for (const name of STEPS) this.forms[name].root.hidden = name !== this.stepNow;
    if (this.hereButton) this.hereButton.textContent = say(`trace.here.${this.forms[this.stepNow].moving ? "move" : this.stepNow}`);
    if (this.desk) this.markPicture();
  }

  /** @param {string} name of a step */
  goTo(name) {
    this.left();
    this.events.hidden = true; // it stands with its net by now
    this.stepNow = name;
    this.showStep();
  }

  /** Something else is looked at or done: no move waits for a click any more, and no old refusal stands. */
  left() {
    this.forms.change.leave();
    this.news("");
  }

  // -- what is said ----------------------------------------------------------------------------

  /** @param {string} text */
  news(text) {
    this.fault.textContent = "";
    this.heard.textContent = text;
  }

  /** @param {string} text @param {HTMLElement} [field] where it is put right */
  wrong(text, field) {
    this.heard.textContent = "";
    this.fault.textContent = text;
    field?.focus();
  }

  /** @param {string} side */
  turn(side) {
    this.left();
    this.side = side;
    this.missingOf = "";
    this.showNow();
    const again = [...this.root.querySelectorAll(".sides button[aria-pressed=true]")].find((one) => one instanceof HTMLElement && one.offsetParent);
    if (again instanceof HTMLElement) again.focus();
  }

  // -- the cross-hair --------------------------------------------------------------------------

  /** @param {number} x @param {number} y */
  showCross(x, y) {
    if (!this.crossX || !this.crossY) return;
    this.crossX.value = String(x);
    this.crossY.value = String(y);
  }

  /** The typed place; false where it is none of the picture, which is said. */
  typedCross() {
    const [x, y] = [this.crossX, this.crossY].map((one) => numberIn(one?.value ?? ""));
    if (!Number.isFinite(x) || !Number.isFinite(y)) this.wrong(say("trace.cross.bad"));
    else if (!this.picture.shows(x, y)) this.wrong(say("trace.cross.outside", { x: this.picture.photo?.width ?? 0, y: this.picture.photo?.height ?? 0 }));
    else {
      this.news("");
      this.picture.moveTo(x, y);
      return true;
    }
    return false;
  }

  /** What the step in hand does with a place. @param {number} x @param {number} y */
  act(x, y) {
    this.news("");
    this.forms[this.stepNow].act(x, y);
    this.markPicture();
  }

  /** @param {number} x @param {number} y */
  padAt(x, y) {
    return nearestPad(this.now.parts, this.side, x, y, this.picture.reach);
  }

  /** @param {number} x @param {number} y */
  partAt(x, y) {
    return nearestPart(this.now.parts, this.side, x, y, this.picture.reach * 1.5);
  }

  // -- steps -----------------------------------------------------------------------------------

  /** @param {any} did */
  didWords(did) {
    const name = ["scale", "distances", "picture"].includes(did.do) ? say(`side.${did.name === "bottom" ? "bottom" : "top"}`) : did.name;
    return sayOr(`trace.did.${did.do}`, did.do, { name });
  }

  /** @param {Record<string, any>} step @returns {Promise<boolean>} whether it was taken */
  step(step) {
    return this.run(this.desk.tracing.step(step));
  }

  undo() {
    return this.run(this.desk.tracing.undo());
  }

  /** @param {Promise<any>} asked */
  async run(asked) {
    this.left();
    const { desk } = this;
    try {
      const told = await asked;
      if (this.desk !== desk) return true; // another board was opened meanwhile
      fill(this.events, told.events.map((/** @type {string} */ one) => el("p", {}, one)));
      this.events.hidden = !told.events.length;
      const line = told.last?.do === "line" && !told.undone.length ? told.traced.at(-1) : "";
      const first = line.split(/\s+/)[0].replace(/^~/, "");
      this.lastNet = told.nets.find((/** @type {any} */ one) => one.pads.includes(first))?.net ?? this.lastNet;
      this.news(told.undone.length ? say("trace.undone", { what: told.undone.map((/** @type {any} */ one) => this.didWords(one)).join(", ") })
        : say("trace.kept", { what: told.last ? this.didWords(told.last) : "" }) + this.grown(told, line));
      await this.showNow();
      return true;
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      if (error.code === "revision-stale") await this.showNow();
      this.wrong(error.code === "revision-stale" ? say("trace.stale") : error.code === "gone" ? say("page.gone") : error.line);
      return false;
    }
  }

  /** The net that a line was about, in sight where the list is not. @param {any} told @param {string} line */
  grown(told, line) {
    const net = line && told.nets.find((/** @type {any} */ one) => one.net === this.lastNet);
    return net ? ` ${say("trace.net.size", { net: net.net, n: net.pads.length })}` : "";
  }

  // -- files -----------------------------------------------------------------------------------

  async saveFile() {
    save(this.desk.row.file, await blobOf(`/boards/${this.desk.sha}/trace/file`));
  }

  /** @param {any} shot */
  async savePicture(shot) {
    save(shot.file, await blobOf(`/boards/${this.desk.sha}/pictures/${shot.side}`));
  }
}
