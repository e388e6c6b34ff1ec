// SPDX-License-Identifier: GPL-3.0-or-later
// The forms of trace mode: a part, a pad, a traced line. Each has `act` for a place on the picture.

import { millimetresIn } from "../../core/numbers.js";
import { withPad } from "../../core/photo_view.js";
import { el, fill } from "../dom.js";
import { say } from "../words.js";

/** @param {string} label @param {Record<string, any>} told @returns {[Element, HTMLInputElement]} */
export function field(label, told) {
  const input = /** @type {HTMLInputElement} */ (el("input", { autocomplete: "off", spellcheck: "false", maxlength: 200, ...told }));
  return [el("label", {}, el("span", {}, label), input), input];
}

/** @param {string} name @param {() => void} send @param {any[]} inside */
export function step(name, send, ...inside) {
  return el("form", { class: "step", "aria-label": say(`trace.step.${name}`), onsubmit: (/** @type {Event} */ event) => {
    event.preventDefault();
    send();
  } }, el("h2", {}, say(`trace.step.${name}`)), el("p", {}, say(`trace.${name}.how`)), ...inside);
}

/** What is typed in some fields: they are empty as soon as it is sent, so that one can type on. */
class Typed {
  /** @param {any} view @param {HTMLInputElement[]} fields */
  constructor(view, fields) {
    this.view = view;
    this.fields = fields;
    this.sending = 0;
  }

  clear() {
    for (const one of this.fields) one.value = "";
  }

  /** Send; what was refused stands in its fields again, or is said where something new was typed there. @param {() => Promise<boolean>} step */
  async send(step) {
    const kept = this.fields.map((one) => one.value);
    this.clear();
    this.sending += 1;
    const taken = await step();
    this.sending -= 1;
    if (taken) return true;
    if (this.fields.every((one) => !one.value)) this.fields.forEach((one, i) => (one.value = kept[i]));
    else this.view.wrong(`${this.view.fault.textContent} ${say("trace.refused", { typed: kept.filter(Boolean).join(" ") })}`);
    return false;
  }
}

export class PartForm {
  /** @param {any} view */
  constructor(view) {
    this.view = view;
    const [ref, refInput] = field(say("trace.part.ref"), { name: "ref" });
    const [value, valueInput] = field(say("trace.part.value"), { name: "value" });
    const [pack, packInput] = field(say("trace.part.package"), { name: "package" });
    this.inputs = { ref: refInput, value: valueInput, package: packInput };
    this.typed = new Typed(view, Object.values(this.inputs));
    this.root = step("part", () => this.add(), ref, value, pack,
      el("p", { class: "buttons" }, el("button", { type: "submit", class: "act large" }, say("trace.part.add"))));
  }

  show() {}

  clear() {
    this.typed.clear();
  }

  act() {
    this.inputs.ref.focus();
  }

  chosenPart() {
    return this.inputs.ref.value.trim();
  }

  async add() {
    const { view, inputs } = this;
    const ref = inputs.ref.value.trim();
    if (!ref) {
      // A second Enter on what is on its way already.
      if (!this.typed.sending) view.wrong(say("trace.part.which"), inputs.ref);
      return;
    }
    const known = view.now.parts.find((/** @type {any} */ one) => one.ref === ref);
    if (known && known.x_px !== null) {
      view.wrong(say("trace.part.there", { part: ref }), inputs.ref);
      return;
    }
    const here = Boolean(view.shot?.here);
    const [x_px, y_px] = view.picture.cross;
    const text = (/** @type {HTMLInputElement} */ one) => one.value.trim() || null;
    const told = { do: "part", ref, side: view.side, value: text(inputs.value), package: text(inputs.package), at: here ? { x_px, y_px } : null };
    inputs.ref.focus();
    if (await this.typed.send(() => view.step(told))) view.forms.pad.begin(ref);
  }
}

export class PadForm {
  /** @param {any} view */
  constructor(view) {
    this.view = view;
    this.names = el("datalist", { id: "trace-parts" });
    const [ref, refInput] = field(say("trace.pad.part"), { name: "part", list: "trace-parts", oninput: () => this.follow() });
    const [pin, pinInput] = field(say("trace.pad.pin"), { name: "pin" });
    this.ref = refInput;
    this.pin = pinInput;
    /** @type {Promise<void>} */
    this.turn = Promise.resolve();
    this.round = 0;
    this.through = /** @type {HTMLInputElement} */ (el("input", { type: "checkbox", name: "through" }));
    const [width, widthInput] = field(say("trace.pad.width"), { name: "width", inputmode: "decimal", size: 5 });
    const [height, heightInput] = field(say("trace.pad.height"), { name: "height", inputmode: "decimal", size: 5 });
    this.width = widthInput;
    this.height = heightInput;
    this.root = step("pad", () => this.act(...this.view.picture.cross), this.names, ref, pin,
      el("label", { class: "large tick" }, this.through, " ", say("trace.pad.through")),
      el("details", {}, el("summary", {}, say("trace.pad.size")), width, height),
      el("p", { class: "buttons" }, el("button", { type: "submit", class: "act large" }, say("trace.pad.set"))));
  }

  show() {
    const parts = this.view.now.parts;
    fill(this.names, parts.map((/** @type {any} */ one) => el("option", { value: one.ref })));
  }

  clear() {
    this.ref.value = "";
    this.follow();
    this.pin.value = "";
  }

  /** The part whose pads come next. @param {string} ref */
  begin(ref) {
    this.ref.value = ref;
    this.follow();
  }

  /** The pin that most likely comes next. */
  follow() {
    const ref = this.ref.value.trim();
    const part = this.view.now.parts.find((/** @type {any} */ one) => one.ref === ref);
    this.pin.value = part ? part.next_pin : "1";
    // What was said of one part's pads is not said of the next one's.
    if (ref !== this.followed) {
      this.through.checked = false;
      this.width.value = this.height.value = "";
    }
    this.followed = ref;
    this.view.markPicture();
  }

  chosenPart() {
    return this.ref.value.trim();
  }

  /** Quick clicks wait for each other, so that each gets its own pin; a refused one drops the rest. @param {number} x @param {number} y */
  act(x, y) {
    const { round } = this;
    this.turn = this.turn.then(async () => {
      if (round === this.round && !(await this.set(x, y))) this.round += 1;
    });
    return this.turn;
  }

  /** @param {number} x @param {number} y */
  async set(x, y) {
    const { view } = this;
    if (!view.shot?.here) {
      view.wrong(say("trace.pad.nophoto"));
      return false;
    }
    const [ref, pin] = [this.ref.value.trim(), this.pin.value.trim()];
    const empty = !ref ? this.ref : !pin ? this.pin : null;
    if (empty) {
      view.wrong(say("trace.pad.which"), empty);
      return false;
    }
    const size = (/** @type {HTMLInputElement} */ one) => (one.value.trim() ? millimetresIn(one.value) : 0);
    const odd = [this.width, this.height].find((one) => !(size(one) >= 0));
    if (odd) {
      view.wrong(say("trace.pad.size.odd", { typed: odd.value.trim() }), odd);
      return false;
    }
    const pads = view.now.parts.find((/** @type {any} */ one) => one.ref === ref)?.pads ?? [];
    if (pads.some((/** @type {any} */ one) => one.pin === pin)) {
      view.wrong(say("trace.pad.there", { pad: `${ref}.${pin}` }));
      return false;
    }
    // A glove taps twice: the second one is no pad beside the first.
    const under = pads.find((/** @type {any} */ one) => Math.hypot(one.x_px - x, one.y_px - y) < view.picture.reach / 3);
    if (under) {
      view.wrong(say("trace.pad.twice", { pad: `${ref}.${under.pin}` }));
      return false;
    }
    const taken = await view.step({
      do: "pad", ref, pin, x_px: x, y_px: y, side: view.side, through: this.through.checked, width_mm: size(this.width), height_mm: size(this.height),
    });
    if (taken && this.ref.value.trim() === ref) this.follow();
    return taken;
  }
}

export class NetForm {
  /** @param {any} view */
  constructor(view) {
    this.view = view;
    const [label, input] = field(say("trace.net.line"), { name: "line", maxlength: 4000, placeholder: "C12.1 L3.2 U5.14 : VSYS", oninput: () => this.view.markPicture() });
    this.line = input;
    // Pads that were clicked stay when the line is gone into by keys: what is typed comes behind them.
    // Where a pointer sets the caret, there it stays.
    let byPointer = false;
    input.addEventListener("pointerdown", () => (byPointer = true));
    input.addEventListener("blur", () => (byPointer = false));
    input.addEventListener("focus", () => {
      if (!byPointer) requestAnimationFrame(() => input.setSelectionRange(input.value.length, input.value.length));
    });
    const [nameLabel, nameInput] = field(say("trace.net.name"), { name: "net", maxlength: 200 });
    this.name = nameInput;
    this.typed = new Typed(view, [input, nameInput]);
    this.grown = el("p", { class: "grown", role: "status" });
    const say_ = (/** @type {string} */ word, /** @type {string} */ key) => el("button", { type: "button", class: "large", onclick: () => this.send(word) }, say(key));
    this.root = step("net", () => this.send(""), label, nameLabel, this.grown,
      el("p", { class: "buttons" }, el("button", { type: "submit", class: "act large" }, say("trace.net.join")),
        say_("nc", "trace.net.nc"), say_("apart", "trace.net.apart"),
        el("button", { type: "button", class: "large", onclick: () => {
          this.clear();
          this.view.markPicture();
          this.line.focus();
        } }, say("trace.net.clear"))),
      el("details", {}, el("summary", {}, say("trace.net.words")), el("dl", { class: "grammar" }, ["join", "value", "pin", "fitted"].flatMap((key) => [
        el("dt", {}, el("code", {}, say(`trace.words.${key}.sign`))), el("dd", {}, say(`trace.words.${key}`))]))));
  }

  show() {
    const net = this.view.now.nets.find((/** @type {any} */ one) => one.net === this.view.lastNet);
    this.grown.textContent = net ? say("trace.net.grown", { net: net.net, n: net.pads.length, pads: net.pads.join(" ") }) : "";
  }

  clear() {
    this.typed.clear();
  }

  chosenPads() {
    return this.line.value.split(/\s+/).filter((word) => word.includes("."));
  }

  /** @param {number} x @param {number} y */
  act(x, y) {
    const pad = this.view.padAt(x, y);
    if (!pad) {
      this.view.wrong(say("trace.net.nopad"));
      return;
    }
    this.line.value = withPad(this.line.value, `${pad.ref}.${pad.pin}`);
    this.view.news(say("trace.net.now", { line: this.line.value }));
  }

  /** @param {string} word put behind the pads: `nc` or `apart` */
  async send(word) {
    const text = this.line.value.trim();
    if (!text) {
      // A second Enter on a line that is on its way already.
      if (!this.typed.sending) this.view.wrong(say("trace.net.which"), this.line);
      return;
    }
    const name = this.name.value.trim();
    const behind = word || (name && !text.split(/\s+/).includes(":") ? `: ${name}` : "");
    await this.typed.send(() => this.view.step({ do: "line", text: behind ? `${text} ${behind}` : text }));
    this.view.markPicture();
  }
}
