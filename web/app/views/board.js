// SPDX-License-Identifier: GPL-3.0-or-later
// Board: where is it? Both sides, search, and what is chosen.

import { el, fill, nameButton } from "../dom.js";
import { choose } from "../state.js";
import { plain, say } from "../words.js";
import { PictureBox } from "./picture_box.js";

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
    this.root = el("div", { class: "two" },
      this.main, this.side);
  }

  /** @param {any} desk @param {import("../state.js").Selection} now @param {any} chosenPanel */
  async show(desk, now, chosenPanel) {
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
    this.none.hidden = top.box !== null;
    const part = now.kind === "part" ? parts.get(now.id) : null;
    this.box.show({
      net: now.kind === "net" ? now.id : "", part: part ? now.id : "", marks: [],
    }, part?.side);
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
