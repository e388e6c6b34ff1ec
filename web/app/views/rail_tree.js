// SPDX-License-Identifier: GPL-3.0-or-later
// The rail tree as SVG, at the places that the service has computed.

import { asVolts } from "../../core/figures.js";
import { el, fill, svg } from "../dom.js";
import { savePng, saveText } from "../save.js";
import { say } from "../words.js";

const READABLE = 0.8; // of full size

export class RailTree {
  /** @param {(net: string) => void} pick */
  constructor(pick) {
    this.pick = pick;
    this.frame = el("div", { class: "scroll tree", role: "group", "aria-label": say("tree.title"), tabindex: 0 });
    this.root = el("section", { class: "picture" },
      el("div", { class: "tools" },
        el("button", { type: "button", class: "tool wide", "data-size": "fit", onclick: () => this.resize(true) }, say("tree.fit")),
        el("button", { type: "button", class: "tool wide", onclick: () => this.resize(false) }, say("tree.full")),
        el("button", { type: "button", class: "tool wide", onclick: () => saveText(`${this.file}-rails.svg`, this.text(), "image/svg+xml") }, say("save.svg")),
        el("button", { type: "button", class: "tool wide", onclick: () => savePng(`${this.file}-rails.png`, this.text()) }, say("save.png"))),
      this.frame,
      el("p", { class: "under" }, say("tree.key")));
  }

  /** @param {any} drawing @param {any} rails @param {string} file */
  load(drawing, rails, file) {
    this.file = file;
    this.drawing = drawing;
    const of = new Map(rails.rails.map((/** @type {any} */ one) => [one.net, one]));
    const pad = 6;
    const [w, h] = [drawing.width + 2 * pad, drawing.height + 2 * pad];
    this.svg = svg("svg", { viewBox: `${-pad} ${-pad} ${w} ${h}`, class: "rails", role: "img", "aria-label": say("tree.label", { n: rails.rails.length }) });
    for (const edge of drawing.edges) this.svg.append(line(edge));
    if (drawing.apart_y !== null) {
      this.svg.append(svg("text", { x: 0, y: drawing.apart_y - 10, class: "heading" }, say("tree.apart")));
    }
    for (const node of drawing.nodes) this.svg.append(this.box(node, of, drawing.box));
    fill(this.frame, this.svg);
    // Whole where it can be read whole, else at full size, the entries first.
    this.resize(this.fits ?? this.frame.clientWidth / w >= READABLE);
  }

  /** @param {any} node @param {Map<string, any>} of @param {[number, number]} size */
  box(node, of, size) {
    const [w, h] = size;
    const rail = of.get(node.nets[0]);
    const folded = node.nets.length > 1;
    const fed = [...new Set(rail?.feeders.map((/** @type {any} */ one) => one.ref))].join(", ");
    const first = folded ? say("tree.folded", { n: node.nets.length }) : node.label;
    const second = folded ? node.nets.slice(0, 3).join(", ") : [
      fed ? say("tree.fed", { ref: fed, kind: rail.kind }) : say(`kind.${rail?.kind ?? "unknown"}`),
      say("tree.loads", { n: rail?.loads.length ?? 0 }),
    ].join(" · ");
    const made = svg("g", {
      class: folded ? "box folded" : "box", "data-net": node.nets[0],
      transform: `translate(${node.x - w / 2} ${node.y - h / 2})`,
      onclick: () => this.pick(node.nets[0]),
    },
    svg("title", {}, node.nets.join(", ")),
    svg("rect", { width: w, height: h, rx: 3 }),
    svg("text", { x: 10, y: 19, class: "net" }, cut(first, 15)),
    svg("text", { x: w - 10, y: 19, class: "volts", "text-anchor": "end" }, folded ? "" : asVolts(rail?.nominal_volts ?? null)),
    svg("text", { x: 10, y: 37, class: "about" }, cut(second, 27)));
    return made;
  }

  /** @param {string} net */
  mark(net) {
    for (const one of this.svg?.querySelectorAll(".box") ?? []) {
      const on = one.getAttribute("data-net") === net;
      one.classList.toggle("chosen", on);
      if (on && this.fits === false) this.bringIn(one);
    }
  }

  /** Scroll the tree, but not the page, to a box. @param {Element} box */
  bringIn(box) {
    const [inner, outer] = [box.getBoundingClientRect(), this.frame.getBoundingClientRect()];
    if (inner.left < outer.left || inner.right > outer.right) this.frame.scrollLeft += inner.left - outer.left - outer.width / 2;
    if (inner.top < outer.top || inner.bottom > outer.bottom) this.frame.scrollTop += inner.top - outer.top - outer.height / 2;
  }

  /** @param {boolean} fits */
  resize(fits) {
    this.fits = fits;
    this.frame.dataset.fits = String(fits);
    this.svg?.setAttribute("width", fits ? "100%" : String(this.drawing.width + 12));
    this.svg?.removeAttribute("height");
    if (!fits) this.svg?.setAttribute("height", String(this.drawing.height + 12));
  }

  /** The picture as a file of its own: colours and fonts stand on each element. */
  text() {
    const copy = /** @type {SVGElement} */ (this.svg?.cloneNode(true));
    copy.setAttribute("width", String(this.drawing.width + 12));
    copy.setAttribute("height", String(this.drawing.height + 12));
    const put = (/** @type {string} */ where, /** @type {Record<string, string>} */ told) => {
      for (const one of copy.querySelectorAll(where)) {
        for (const [name, value] of Object.entries(told)) one.setAttribute(name, value);
      }
    };
    put("text", { "font-family": "sans-serif", fill: "#1b1f23", "font-size": "13" });
    put("text.about", { "font-size": "11.5" });
    put("rect", { fill: "#eef3f7", stroke: "#1b1f23" });
    put("path", { fill: "none", stroke: "#1b1f23", "stroke-width": "2" });
    return new XMLSerializer().serializeToString(copy);
  }
}

/** @param {any} edge */
function line(edge) {
  const [first, ...rest] = edge.points;
  let d = `M${first[0]} ${first[1]}`;
  let [x, y] = first;
  for (const [nx, ny] of rest) {
    const mx = (x + nx) / 2;
    d += y === ny ? `L${nx} ${ny}` : `C${mx} ${y} ${mx} ${ny} ${nx} ${ny}`;
    [x, y] = [nx, ny];
  }
  return svg("path", { d, class: edge.against ? "feeds against" : "feeds" }, svg("title", {}, edge.feeders.join(", ")));
}

/** @param {string} text @param {number} most */
function cut(text, most) {
  return text.length > most ? `${text.slice(0, most - 1)}…` : text;
}
