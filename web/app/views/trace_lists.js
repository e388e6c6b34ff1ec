// SPDX-License-Identifier: GPL-3.0-or-later
// What is traced so far, in words: nets as they grow, parts, lines.

import { el, fill, nameButton } from "../dom.js";
import { say } from "../words.js";

export class TraceLists {
  /** @param {any} view */
  constructor(view) {
    this.view = view;
    this.nets = el("ul", { class: "plain nets" });
    this.parts = el("ul", { class: "plain" });
    this.lines = el("ol", { class: "lines" });
    this.partsHead = el("summary", {});
    this.linesHead = el("summary", {});
    this.unmarked = el("p", { class: "quiet" });
    this.root = el("section", { class: "tracelists" },
      el("h2", {}, say("trace.nets")), el("p", { class: "quiet" }, say("trace.nets.about")), this.nets, this.unmarked,
      el("details", {}, this.partsHead, this.parts), el("details", {}, this.linesHead, this.lines));
  }

  show() {
    const { now, lastNet } = this.view;
    const nets = [...now.nets].sort((/** @type {any} */ a, /** @type {any} */ b) => Number(b.net === lastNet) - Number(a.net === lastNet));
    fill(this.nets, nets.map((/** @type {any} */ one) => el("li", { class: one.net === lastNet ? "grew" : null },
      el("strong", {}, one.net), one.names.length > 1 ? ` ${say("trace.nets.also", { names: one.names.slice(1).join(", ") })}` : "",
      one.assumed ? ` ${say("trace.nets.assumed")}` : "", `: ${one.pads.join(" ")}`)));
    if (!nets.length) fill(this.nets, el("li", { class: "quiet" }, say("trace.nets.none")));
    const { unmarked } = now;
    this.unmarked.hidden = !unmarked.length;
    this.unmarked.textContent = say("trace.unmarked", { n: unmarked.length, pads: unmarked.slice(0, 20).join(" ") + (unmarked.length > 20 ? " …" : "") });
    this.partsHead.textContent = say("trace.parts", { n: now.parts.length });
    fill(this.parts, now.parts.map((/** @type {any} */ one) => el("li", {},
      nameButton(one.ref, () => this.choose(one.ref, one.side)), " ",
      [one.value, one.package, say(`side.${one.side}`), say("trace.pads", { n: one.pads.length })].filter(Boolean).join(" · "))));
    this.linesHead.textContent = say("trace.lines", { n: now.traced.length });
    fill(this.lines, now.traced.map((/** @type {string} */ text, /** @type {number} */ i) => el("li", {}, el("code", {}, text), " ",
      el("button", { type: "button", "aria-label": say("trace.line.gone.label", { line: text }), onclick: () => this.view.step({ do: "line-gone", number: i + 1, text }) }, say("trace.line.gone")))));
  }

  /** @param {string} ref @param {string} side */
  choose(ref, side) {
    const { view } = this;
    if (view.side !== side) view.turn(side);
    view.goTo("change");
    view.forms.change.choose(ref);
    const part = view.now.parts.find((/** @type {any} */ one) => one.ref === ref);
    if (part.x_px !== null) view.picture.moveTo(part.x_px, part.y_px);
    view.forms.change.what.focus();
  }
}
