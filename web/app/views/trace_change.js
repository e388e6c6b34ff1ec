// SPDX-License-Identifier: GPL-3.0-or-later
// The form of trace mode that changes what is set: moved, renamed, taken away, said otherwise.

import { el, fill } from "../dom.js";
import { say } from "../words.js";
import { field, step } from "./trace_forms.js";

/** So long after a move was begun a tap or key may still be the one that began it. */
const BOUNCE_MS = 400;

export class ChangeForm {
  /** @param {any} view */
  constructor(view) {
    this.view = view;
    this.names = el("datalist", { id: "trace-all" });
    const [what, whatInput] = field(say("trace.change.what"), { name: "what", list: "trace-all", oninput: () => this.chose() });
    const [name, nameInput] = field(say("trace.change.new"), { name: "new" });
    this.what = whatInput;
    this.name = nameInput;
    const [value, valueInput] = field(say("trace.part.value"), { name: "value" });
    const [pack, packInput] = field(say("trace.part.package"), { name: "package" });
    this.value = valueInput;
    this.package = packInput;
    const act = (/** @type {string} */ key, /** @type {() => void} */ what_) => el("button", { type: "button", class: "large", onclick: what_ }, say(`trace.change.${key}`));
    /** A move that was begun: it stands with what is said, in sight of the photograph. */
    this.armed = el("p", { class: "armed", role: "status", hidden: true });
    this.armedAt = 0;
    const typed = () => (document.activeElement === valueInput || document.activeElement === packInput ? this.tell() : this.rename());
    this.root = step("change", typed, this.names, what,
      el("p", { class: "buttons" }, act("move", () => this.move()), act("gone", () => this.remove())),
      name, el("p", { class: "buttons" }, el("button", { type: "submit", class: "large" }, say("trace.change.rename"))),
      el("details", {}, el("summary", {}, say("trace.change.more")), value, pack,
        el("p", { class: "buttons" }, act("say", () => this.tell()), act("side", () => this.turn()))));
  }

  show() {
    fill(this.names, this.view.now.parts.flatMap((/** @type {any} */ one) => [one.ref, ...one.pads.map((/** @type {any} */ pad) => `${one.ref}.${pad.pin}`)])
      .slice(0, 2000).map((/** @type {string} */ one) => el("option", { value: one })));
  }

  clear() {
    this.leave();
    for (const one of [this.what, this.name, this.value, this.package]) one.value = "";
  }

  /** A part or pad that is typed or clicked: its value and package as they are. */
  chose() {
    this.leave();
    const part = this.found()?.part;
    this.value.value = part?.value ?? "";
    this.package.value = part?.package ?? "";
    this.view.markPicture();
  }

  /** @param {string} name */
  choose(name) {
    this.what.value = name;
    this.chose();
  }

  /** The part or pad that is named, or null. */
  found() {
    const typed = this.what.value.trim();
    const { parts } = this.view.now;
    const part = parts.find((/** @type {any} */ one) => one.ref === typed);
    if (part) return { part, pin: "" };
    for (const one of parts) {
      const pad = one.pads.find((/** @type {any} */ two) => `${one.ref}.${two.pin}` === typed);
      if (pad) return { part: one, pin: pad.pin };
    }
    return null;
  }

  /** What is meant; said where nothing is. */
  meant() {
    const found = this.found();
    if (!found) this.view.wrong(say(this.what.value.trim() ? "trace.change.none" : "trace.change.which", { what: this.what.value.trim() }), this.what);
    return found;
  }

  chosenPads() {
    return [this.what.value.trim()];
  }

  chosenPart() {
    return this.what.value.trim();
  }

  /** @param {number} x @param {number} y */
  act(x, y) {
    if (this.moving) {
      // The same tap or key once more is no new place.
      if (performance.now() - this.armedAt < BOUNCE_MS) return;
      const step = this.moving;
      this.leave();
      this.view.step({ ...step, x_px: x, y_px: y });
      return;
    }
    const pad = this.view.padAt(x, y);
    const ref = pad ? `${pad.ref}.${pad.pin}` : this.view.partAt(x, y);
    if (ref) {
      this.choose(ref);
      this.view.news(say("trace.change.chosen", { what: ref }));
    } else this.view.wrong(say("trace.net.nopad"));
  }

  /** The next click is the new place, on the picture of the part's own side. */
  move() {
    const found = this.meant();
    const { view } = this;
    if (!found) return;
    if (found.part.side !== view.side) view.turn(found.part.side);
    if (!view.shot?.here) {
      view.wrong(say("trace.pad.nophoto"));
      return;
    }
    this.moving = found.pin ? { do: "pad-moved", ref: found.part.ref, pin: found.pin } : { do: "part-moved", ref: found.part.ref };
    fill(this.armed, say("trace.change.where", { what: this.what.value.trim() }), " ",
      el("button", { type: "button", class: "large", onclick: () => {
        this.leave();
        this.what.focus();
      } }, say("trace.change.leave")));
    this.armed.hidden = false;
    this.armedAt = performance.now();
    view.showStep();
    view.canvas.focus();
  }

  /** No click moves anything any more. */
  leave() {
    if (!this.moving) return;
    this.moving = null;
    this.armed.hidden = true;
    this.view.showStep();
    this.view.news(say("trace.change.left"));
  }

  async rename() {
    const found = this.meant();
    const name = this.name.value.trim();
    if (!found) return;
    if (!name) {
      this.view.wrong(say("trace.change.newname"), this.name);
      return;
    }
    const told = found.pin ? { do: "pad-named", ref: found.part.ref, pin: found.pin, new: name } : { do: "part-named", ref: found.part.ref, new: name };
    if (await this.view.step(told)) {
      this.what.value = found.pin ? `${found.part.ref}.${name}` : name;
      this.name.value = "";
    }
  }

  async remove() {
    const found = this.meant();
    if (!found) return;
    const told = found.pin ? { do: "pad-gone", ref: found.part.ref, pin: found.pin } : { do: "part-gone", ref: found.part.ref };
    if (await this.view.step(told)) this.clear();
  }

  async tell() {
    const found = this.meant();
    if (!found) return;
    const { part } = found;
    const [value, pack] = [this.value.value.trim(), this.package.value.trim()];
    if (value === part.value && pack === part.package) {
      this.view.wrong(say("trace.change.same", { part: part.ref }), this.value);
      return;
    }
    await this.view.step({ do: "part", ref: part.ref, value, package: pack });
  }

  async turn() {
    const found = this.meant();
    if (found) await this.view.step({ do: "part", ref: found.part.ref, side: found.part.side === "top" ? "bottom" : "top" });
  }
}
