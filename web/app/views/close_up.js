// SPDX-License-Identifier: GPL-3.0-or-later
// The chosen net or part and what it touches, as a small graph; the same stands beside it as a list.

import { el, fill, nameButton } from "../dom.js";
import { plain, say } from "../words.js";

export class CloseUp {
  /** @param {(kind: "net"|"part", name: string) => void} pick */
  constructor(pick) {
    this.pick = pick;
    this.field = el("div", { class: "graph", "aria-hidden": "true" });
    this.list = el("ul", { class: "near" });
    this.note = el("p", { class: "under" });
    this.root = el("details", { class: "close-up", ontoggle: () => this.refresh() },
      el("summary", {}, say("near.title")), el("div", { class: "scroll" }, this.field), this.note, this.list);
  }

  /** @param {any} desk @param {string} kind @param {string} id */
  show(desk, kind, id) {
    this.asked = { desk, kind, id };
    this.refresh();
  }

  async refresh() {
    if (!this.root.hasAttribute("open") || !this.asked?.id) return;
    const { desk, kind, id } = this.asked;
    const key = `${kind} ${id}`;
    if (this.shownDesk === desk.answers.get("notes") && this.shownKey === key) return;
    const near = await desk.answer("/neighbourhood", { [kind]: id });
    if (this.asked.id !== id) return;
    this.shownKey = key;
    this.shownDesk = desk.answers.get("notes");
    const { cytoscape } = await import("../../vendor/index.js");
    this.draw(cytoscape, near);
    this.tell(near);
  }

  /** @param {any} cytoscape @param {any} near */
  draw(cytoscape, near) {
    this.graph?.destroy();
    const rows = Math.max(1, ...near.nodes.map((/** @type {any} */ one) => Math.abs(one.y) * 2 + 1));
    this.field.style.setProperty("height", `${Math.min(560, Math.max(180, rows * 34))}px`);
    const ink = getComputedStyle(this.field);
    const colour = (/** @type {string} */ name) => ink.getPropertyValue(`--${name}`).trim();
    this.graph = cytoscape({
      container: this.field,
      layout: { name: "preset", padding: 12 },
      userZoomingEnabled: false,
      autoungrabify: true,
      boxSelectionEnabled: false,
      elements: [
        ...near.nodes.map((/** @type {any} */ one) => ({
          data: { id: one.id, label: this.label(one), kind: one.kind, name: one.name, middle: one.id === near.middle ? 1 : 0 },
          position: { x: one.x * 165, y: one.y * 36 },
        })),
        ...near.edges.map((/** @type {any} */ one) => ({ data: { source: one.start, target: one.end, label: one.pins.slice(0, 4).join(" ") } })),
      ],
      style: [
        { selector: "node", style: {
          label: "data(label)", "text-valign": "center", "font-size": 13, shape: "rectangle", width: 144, height: 27,
          "background-color": colour("surface"), "border-width": 1, "border-color": colour("ink"), color: colour("ink"),
          "text-max-width": 136, "text-wrap": "ellipsis",
        } },
        { selector: "node[kind='net']", style: { "background-color": colour("tint"), shape: "round-rectangle" } },
        { selector: "node[kind='more']", style: { "border-style": "dashed" } },
        { selector: "node[middle=1]", style: { "border-width": 3, "border-color": colour("accent") } },
        { selector: "edge", style: {
          width: 1.5, "line-color": colour("line"), label: "data(label)", "font-size": 10, color: colour("ink"),
          "text-background-color": colour("surface"), "text-background-opacity": 1, "curve-style": "straight", "min-zoomed-font-size": 7,
        } },
      ],
    });
    this.graph.on("tap", "node", (/** @type {any} */ event) => {
      const { kind, name } = event.target.data();
      if (name) this.pick(kind, name);
    });
  }

  /** @param {any} one */
  label(one) {
    if (one.kind !== "more") return one.label;
    return one.role ? say("near.more", { n: one.names.length, what: plain(one.role) }) : say("near.rest", { n: one.names.length });
  }

  /** @param {any} near */
  tell(near) {
    this.note.textContent = [
      near.grounds.length ? say("near.ground", { nets: near.grounds.join(", ") }) : "",
      near.folded ? say("near.folded", { n: near.folded }) : "",
    ].filter(Boolean).join(" ");
    fill(this.list, near.nodes.filter((/** @type {any} */ one) => one.id !== near.middle).map((/** @type {any} */ one) => el("li", {},
      one.kind === "more"
        ? [`${this.label(one)}: `, some(one.names)]
        : [nameButton(one.name, () => this.pick(one.kind, one.name)), ` ${one.role ? plain(one.role) : ""}`])));
  }
}

/** @param {string[]} names */
function some(names) {
  const most = 12;
  return names.length <= most + 1 ? names.join(" ") : say("plan.andmore", { shown: names.slice(0, most).join(" "), n: names.length - most });
}
