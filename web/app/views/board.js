// SPDX-License-Identifier: GPL-3.0-or-later
// Board: where is it? Both sides, search, and what is chosen.

import { Refused, send } from "../api.js";
import { el, fill, nameButton } from "../dom.js";
import { choose } from "../state.js";
import { plain, say } from "../words.js";
import { PictureBox } from "./picture_box.js";
import { TraceView } from "./trace.js";

export class BoardView {
  /** @param {any} page */
  constructor(page) {
    this.page = page;
    this.box = new PictureBox({ pick: (part) => choose({ kind: "part", id: part }) });
    this.box.root.classList.add("large");
    this.hits = el("ul", { class: "hits plain" });
    this.count = el("p", { class: "quiet", role: "status" });
    this.typed = /** @type {HTMLInputElement} */ (el("input", {
      type: "search", name: "q", id: "search", autocomplete: "off", maxlength: 200, oninput: () => this.search(),
    }));
    this.side = el("aside", { "aria-label": say("chosen.title") });
    this.none = el("p", { class: "veto", hidden: true }, say("board.noplaces"));
    const form = el("form", { class: "search", role: "search", onsubmit: (/** @type {Event} */ event) => {
      event.preventDefault();
      const first = this.hits.querySelector("button");
      if (first instanceof HTMLElement) first.click();
    } },
    el("label", { for: "search" }, say("board.search")), this.typed, this.count, this.hits);
    this.main = el("div", { class: "main" }, el("h1", { tabindex: -1 }, say("board.title")), form, this.none, this.box.root);
    this.look = el("div", { class: "two" }, this.main, this.side);
    this.bar = el("div", { class: "modes" });
    this.trace = new TraceView(page);
    this.root = el("div", {}, this.bar, this.look, this.trace.root);
  }

  /** @param {any} desk @param {import("../state.js").Selection} now @param {any} chosenPanel */
  async show(desk, now, chosenPanel) {
    const tracing = now.mode === "trace" && desk.tracing !== null;
    if (!tracing) this.trace.left();
    this.look.hidden = tracing;
    this.trace.root.hidden = !tracing;
    this.fillBar(desk, tracing);
    if (tracing) {
      await this.trace.show(desk);
      return;
    }
    this.side.append(chosenPanel.root);
    this.main.append(chosenPanel.closeUp.root);
    if (this.desk !== desk) {
      this.desk = desk;
      this.typed.value = "";
      fill(this.hits);
      this.count.textContent = "";
    }
    const sides = await Promise.all([desk.drawing("top"), desk.drawing("bottom"), desk.parts()]);
    const [top, bottom, parts] = sides;
    this.box.load([top, bottom], desk.row.file);
    this.box.lay(desk);
    this.none.hidden = top.box !== null;
    const part = now.kind === "part" ? parts.get(now.id) : null;
    this.box.show({
      net: now.kind === "net" ? now.id : "", part: part ? now.id : "", marks: [],
    }, part?.side);
  }

  /** Another page is looked at. */
  left() {
    this.trace.left();
  }

  /** A photo board can be traced on: where it is traced already, or from its file. @param {any} desk @param {boolean} tracing */
  fillBar(desk, tracing) {
    this.bar.hidden = desk.row.format !== "photo-board";
    if (this.bar.hidden) return;
    const mode = (/** @type {"trace"|""} */ to, /** @type {string} */ words) => el("button", {
      type: "button", class: "mode", "aria-pressed": String(tracing === (to === "trace")), "data-mode": to || "look",
      onclick: () => choose({ view: "board", mode: to, kind: "", id: "" }),
    }, words);
    if (desk.tracing) {
      const held = document.activeElement?.getAttribute("data-mode");
      fill(this.bar, el("span", { role: "group", "aria-label": say("trace.mode") }, mode("trace", say("trace.mode.trace")), mode("", say("trace.mode.look"))));
      if (held) this.bar.querySelector(`[data-mode=${held}]`)?.focus();
      return;
    }
    fill(this.bar, el("button", { type: "button", class: "act", onclick: () => this.traceOn(desk) }, say("trace.goon")), " ",
      el("span", { class: "quiet" }, say("trace.goon.about")));
  }

  /** @param {any} desk */
  async traceOn(desk) {
    try {
      const told = await send("/traces", { name: "", from_board: desk.sha });
      this.page.boards.push(told.board);
      choose({ board: told.board.sha256.slice(0, 12), view: "board", mode: "trace", kind: "", id: "" });
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      this.page.refused(error);
    }
  }

  async search() {
    const typed = this.typed.value.trim();
    this.lastTyped = typed;
    if (!typed) {
      fill(this.hits);
      this.count.textContent = "";
      return;
    }
    const found = await this.desk.answer("/search", { q: typed });
    if (this.lastTyped !== typed) return;
    this.count.textContent = say("board.found", { n: found.total });
    fill(this.hits, found.found.map((/** @type {any} */ one) => el("li", {},
      nameButton(one.name, () => choose({ kind: one.kind, id: one.name })), " ",
      el("span", { class: "quiet" }, `${say(`board.${one.kind}`)} · ${plain(one.about)}`))));
  }
}
