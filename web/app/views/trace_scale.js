// SPDX-License-Identifier: GPL-3.0-or-later
// Scale of a photograph: three points or more, with their coordinates or with the distances between them.

import { millimetresIn } from "../../core/numbers.js";
import { el, fill } from "../dom.js";
import { say } from "../words.js";

export class ScaleForm {
  /** @param {any} view */
  constructor(view) {
    this.view = view;
    /** Points that are set but not sent yet, a list a side. @type {Record<string, any[]>} */
    this.drafts = { top: [], bottom: [] };
    /** @type {Record<string, string>} */
    this.from = { top: "", bottom: "" };
    this.by = "distances";
    this.told = el("p", {});
    this.warned = el("ul", { class: "cautions" });
    this.rows = el("ol", { class: "points", type: "A" });
    this.choice = el("fieldset", {}, el("legend", {}, say("trace.scale.by")), ["distances", "places"].map((by) => el("label", { class: "large" },
      el("input", { type: "radio", name: "scale-by", value: by, checked: by === this.by, onchange: () => {
        this.by = by;
        this.rowsOf = "";
        this.show();
      } }), " ", say(`trace.scale.${by}`))));
    this.distances = el("div", { class: "distances" });
    this.send = el("button", { type: "submit", class: "act large" }, say("trace.scale.set"));
    this.root = el("form", { class: "step", "aria-label": say("trace.step.scale"), onsubmit: (/** @type {Event} */ event) => {
      event.preventDefault();
      this.set();
    } },
    el("h2", {}, say("trace.step.scale")), el("p", {}, say("trace.scale.how")), this.told, this.warned,
    this.choice, this.rows, this.distances, el("p", { class: "buttons" }, this.send,
      el("button", { type: "button", class: "large", onclick: () => this.again() }, say("trace.scale.again"))));
  }

  clear() {
    this.drafts = { top: [], bottom: [] };
    this.from = { top: "", bottom: "" };
    this.rowsOf = "";
    fill(this.distances);
  }

  /** All points of the side in sight. */
  points() {
    return this.drafts[this.view.side];
  }

  /** @param {number} x @param {number} y */
  act(x, y) {
    const most = this.by === "distances" ? 3 : 20;
    if (this.points().length >= most) {
      this.view.wrong(say("trace.scale.full"));
      return;
    }
    this.points().push({ x_px: x, y_px: y, x_mm: "", y_mm: "" });
    this.view.news(say("trace.scale.point", { name: letter(this.points().length - 1), x, y }));
    this.show();
  }

  again() {
    this.drafts[this.view.side] = [];
    this.show();
    this.view.markPicture();
  }

  show() {
    const { shot, side } = this.view;
    const stands = JSON.stringify(shot?.points ?? []);
    // What the service knows is taken over whenever it changed, by undo or by another window too.
    if (this.from[side] !== stands) {
      this.from[side] = stands;
      this.drafts[side] = (shot?.points ?? []).map((/** @type {any} */ one) => ({ ...one }));
      if (this.drafts[side].length > 3) this.by = "places";
    }
    const scale = shot?.scale;
    this.told.textContent = !scale ? say("trace.scale.none")
      : shot.points.length === 3 ? say("trace.scale.three", { mm: scale.mm_per_px_most.toPrecision(3) })
        : say("trace.scale.fit", { n: shot.points.length, worst: scale.worst_mm.toPrecision(2), mm: scale.mm_per_px_most.toPrecision(3) });
    fill(this.warned, (scale?.warnings ?? []).map((/** @type {string} */ one) => el("li", {}, one)));
    this.warned.hidden = !scale?.warnings.length;
    for (const one of this.choice.querySelectorAll("input")) one.checked = one.value === this.by;
    this.showRows();
  }

  showRows() {
    const key = JSON.stringify([this.view.side, this.by, this.points().map((one) => [one.x_px, one.y_px, one.off_mm])]);
    if (this.rowsOf === key) return;
    this.rowsOf = key;
    const typed = (/** @type {any} */ point, /** @type {string} */ name, /** @type {number} */ i) => el("label", {}, say(`trace.scale.${name}`, { name: letter(i) }), " ",
      el("input", { inputmode: "decimal", autocomplete: "off", size: 7, value: point[name], "data-point": `${i}-${name}`,
        oninput: (/** @type {Event} */ event) => {
          point[name] = /** @type {HTMLInputElement} */ (event.target).value;
        } }));
    fill(this.rows, this.points().map((point, i) => el("li", {},
      el("span", { class: "quiet" }, say("trace.scale.at", { x: point.x_px, y: point.y_px }),
        point.off_mm === undefined || this.points().length < 4 ? "" : ` ${say("trace.scale.off", { mm: Number(point.off_mm).toPrecision(2) })}`), " ",
      this.by === "places" ? [typed(point, "x_mm", i), " ", typed(point, "y_mm", i), " "] : null,
      el("button", { type: "button", class: "large", "aria-label": say("trace.scale.remove", { name: letter(i) }), onclick: () => {
        this.points().splice(i, 1);
        this.show();
        this.view.markPicture();
      } }, say("trace.scale.removeit")))));
    this.distances.hidden = this.by !== "distances";
    if (!this.distances.childElementCount) {
      fill(this.distances, ["AB", "BC", "CA"].map((pair) => el("label", {}, say("trace.scale.far", { a: pair[0], b: pair[1] }), " ",
        el("input", { inputmode: "decimal", autocomplete: "off", size: 7, "data-far": pair }))));
    }
  }

  async set() {
    const { view } = this;
    const points = this.points();
    if (this.by === "distances") {
      if (points.length !== 3) {
        view.wrong(say("trace.scale.three.needed"));
        return;
      }
      const fields = [...this.distances.querySelectorAll("input")];
      const odd = fields.find((one) => !(millimetresIn(one.value) > 0 && Number.isFinite(millimetresIn(one.value))));
      if (odd) {
        const [a, b] = odd.dataset.far ?? "";
        view.wrong(say("trace.scale.odd", { field: say("trace.scale.far", { a, b }), typed: odd.value.trim() }), odd);
        return;
      }
      await view.step({ do: "distances", side: view.side, pixels: points.map(({ x_px, y_px }) => ({ x_px, y_px })), distances_mm: fields.map((one) => millimetresIn(one.value)) });
      return;
    }
    if (points.length < 3) {
      view.wrong(say("trace.scale.places.needed"));
      return;
    }
    const odd = [...this.rows.querySelectorAll("input")].find((one) => !Number.isFinite(millimetresIn(one.value)));
    if (odd) {
      const [i, name] = (odd.dataset.point ?? "").split("-");
      view.wrong(say("trace.scale.odd", { field: say(`trace.scale.${name}`, { name: letter(Number(i)) }), typed: odd.value.trim() }), odd);
      return;
    }
    const told = points.map((one) => ({ x_px: one.x_px, y_px: one.y_px, x_mm: millimetresIn(String(one.x_mm)), y_mm: millimetresIn(String(one.y_mm)) }));
    await view.step({ do: "scale", side: view.side, points: told });
  }
}

/** @param {number} i */
function letter(i) {
  return String.fromCharCode(65 + i);
}
