// SPDX-License-Identifier: GPL-3.0-or-later
// Wires all: words, header, the question, the views. Views hear the selection, none calls another.

import { VIEWS, parseAddress } from "../core/address.js";
import { Refused, ask } from "./api.js";
import { Desk } from "./desk.js";
import { el, fill } from "./dom.js";
import { watchErrors } from "./error_handler.js";
import { applyLook, lookControls } from "./look.js";
import { QuestionLine } from "./question.js";
import { addressOf, choose, chosen, listen } from "./state.js";
import { loadWords, say } from "./words.js";
import { BoardView } from "./views/board.js";
import { ChosenPanel } from "./views/chosen.js";
import { PlanView } from "./views/plan.js";
import { RailsView } from "./views/rails.js";
import { StartView } from "./views/start.js";

/** Further pages enter here: name, and what makes the view. @type {Record<string, new (page: any) => any>} */
const MAKERS = { start: StartView, rails: RailsView, board: BoardView, plan: PlanView };

class Page {
  constructor() {
    this.content = /** @type {HTMLElement} */ (document.getElementById("content"));
    /** @type {any[]} */
    this.boards = [];
    /** @type {Map<string, Desk>} */
    this.desks = new Map();
    /** @type {Map<string, any>} */
    this.views = new Map();
    this.shownView = "";
    this.turn = 0;
    this.lastMode = "";
    /** Boards on which trace mode was left by going to another page. @type {Set<string>} */
    this.traced = new Set();
  }

  async begin() {
    this.words = await ask("/words");
    this.boards = (await ask("/boards")).boards;
    this.panel = new ChosenPanel({ news: (text) => this.news(text), changed: () => this.show(), words: this.words });
    this.question = new QuestionLine(this);
    listen(() => this.show());
    await this.show();
  }

  /** One sentence for everybody, also for those who hear it. @param {string} text */
  news(text) {
    const place = document.getElementById("news");
    if (place) place.textContent = text;
  }

  /** @param {string} sha */
  forget(sha) {
    this.desks.delete(sha);
  }

  /** The open board, or null. @param {string} begun */
  desk(begun) {
    const row = begun ? this.boards.find((one) => one.sha256.startsWith(begun)) : null;
    if (!row) return null;
    const kept = this.desks.get(row.sha256) ?? new Desk(row);
    this.desks.set(row.sha256, kept);
    return kept;
  }

  async show() {
    const turn = (this.turn += 1);
    const started = performance.now();
    const now = chosen();
    const desk = this.desk(now.board);
    if (desk && now.view === "board") this.traced[now.mode === "trace" ? "add" : "delete"](desk.sha);
    const name = desk ? now.view : "start";
    header(name, desk, Boolean(desk && this.traced.has(desk.sha)));
    document.title = [desk?.row.file, say(`view.${name}`), say("page.name")].filter(Boolean).join(" – ");
    let view = this.views.get(name);
    if (!view) this.views.set(name, (view = new MAKERS[name](this)));
    const fresh = this.shownView !== name;
    if (fresh) {
      this.views.get(this.shownView)?.left?.();
      this.shownView = name;
      fill(this.content, view.root);
      window.scrollTo(0, 0);
      if (turn > 1) view.root.querySelector("h1")?.focus({ preventScroll: true });
    }
    // What was said of the last step is no answer of another view.
    if (this.lastMode && !now.mode) this.news("");
    this.lastMode = now.mode;
    if (now.board && !desk) this.news(say("page.noboard"));
    this.content.setAttribute("aria-busy", "true");
    try {
      if (desk?.tracing) await desk.tracing.refresh();
      this.question?.show(desk, now);
      if (desk?.tracing && !desk.row.parts && name !== "start" && now.mode !== "trace") {
        this.news(say("trace.empty"));
        choose({ view: "board", mode: "trace", kind: "", id: "" });
        return;
      }
      await view.show(desk, now, this.panel);
      if (desk && turn === this.turn && now.mode !== "trace") await this.panel?.show(desk, now);
      this.content.dataset.shown = location.hash;
      this.content.dataset.ms = String(Math.round(performance.now() - started));
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      if (error.code === "board-unknown" && desk) this.forget(desk.sha);
      this.refused(error);
    } finally {
      if (turn === this.turn) this.content.setAttribute("aria-busy", "false");
    }
  }

  /** @param {Refused} error */
  refused(error) {
    if (error.code === "token-needed") closedDoor();
    else this.news(error.code === "gone" ? say("page.gone") : error.line);
  }
}

/**
 * The bar is made once; later only its links are told where they lead: back to the board as it was left.
 * @param {string} now @param {Desk|null} desk @param {boolean} traced
 */
function header(now, desk, traced) {
  const top = /** @type {HTMLElement} */ (document.getElementById("top"));
  if (!top.childElementCount) {
    fill(top, el("span", { class: "brand" }, say("page.name")),
      el("nav", { "aria-label": say("page.views") }, el("ul", {}, VIEWS.map((view) => el("li", {}, el("a", {
        "data-view": view,
        onclick: (/** @type {MouseEvent} */ event) => {
          if (event.ctrlKey || event.metaKey || event.shiftKey) return;
          event.preventDefault();
          const to = event.currentTarget instanceof HTMLAnchorElement ? event.currentTarget.getAttribute("href") : null;
          if (to) choose(parseAddress(to));
        },
      }, say(`view.${view}`)))))), lookControls());
  }
  for (const link of top.querySelectorAll("nav a")) {
    const view = link.getAttribute("data-view") ?? "";
    const mode = view === "board" && traced ? "trace" : "";
    const told = { href: view === "start" || desk ? addressOf({ view, mode }) : null, "aria-current": view === now ? "page" : null };
    for (const [name, value] of Object.entries(told)) {
      if (value === null) link.removeAttribute(name);
      else link.setAttribute(name, value);
    }
  }
}

function closedDoor() {
  const content = document.getElementById("content");
  if (content) fill(content, el("h1", {}, say("door.title")), el("p", { class: "lead" }, say("door.how")));
  document.getElementById("question")?.setAttribute("hidden", "");
}

async function begin() {
  watchErrors();
  applyLook();
  await loadWords();
  for (const one of document.querySelectorAll("[data-words]")) one.textContent = say(one.getAttribute("data-words") ?? "");
  fill(/** @type {HTMLElement} */ (document.getElementById("foot")), el("p", {}, say("page.foot")));
  const page = new Page();
  try {
    await page.begin();
  } catch (error) {
    if (!(error instanceof Refused)) throw error;
    header("start", null, false);
    page.refused(error);
  }
  document.documentElement.dataset.ready = "true";
}

begin();
