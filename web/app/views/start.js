// SPDX-License-Identifier: GPL-3.0-or-later
// Start: open a board by choice or drop, the sample, boards seen before.

import { Refused, ask, putIn, putPicture, putSampleIn, putSeveralIn, remove, send } from "../api.js";
import { el, fill, table } from "../dom.js";
import { choose } from "../state.js";
import { say } from "../words.js";

const POLL_MS = 150;

export class StartView {
  /** @param {any} page */
  constructor(page) {
    this.page = page;
    this.list = el("div", {});
    this.state = el("div", { class: "job", role: "status" });
    this.fault = el("p", { class: "veto", role: "alert" });
    this.input = /** @type {HTMLInputElement} */ (el("input", {
      type: "file", id: "file", multiple: true, accept: [...page.words.suffixes, ".*"].join(","), onchange: () => this.take(this.input.files),
    }));
    this.root = el("div", { class: "start" },
      el("h1", { tabindex: -1 }, say("start.title")),
      el("p", { class: "lead" }, say("start.lead")),
      el("div", { class: "drop" },
        el("label", { for: "file", class: "act" }, say("start.choose")), this.input,
        el("p", { class: "quiet" }, say("start.drop", { suffixes: page.words.suffixes.join(" ") }))),
      el("p", {}, el("button", { type: "button", onclick: () => this.run(putSampleIn()) }, say("start.sample")), " ",
        el("span", { class: "quiet" }, say("start.sample.about"))),
      this.state, this.fault, this.photoForm(), this.list);
    for (const kind of ["dragover", "drop"]) {
      document.addEventListener(kind, (event) => {
        event.preventDefault();
        const dragged = /** @type {DragEvent} */ (event).dataTransfer;
        if (kind === "drop") this.take(dragged?.files);
      });
    }
  }

  /** No file at all: a board is traced on a person's own photographs. */
  photoForm() {
    const name = /** @type {HTMLInputElement} */ (el("input", { name: "name", maxlength: 120, autocomplete: "off", id: "photo-name" }));
    const files = ["top", "bottom"].map((side) => ({
      side, input: /** @type {HTMLInputElement} */ (el("input", { type: "file", id: `photo-${side}`, accept: "image/png,image/jpeg" })),
    }));
    const button = /** @type {HTMLButtonElement} */ (el("button", { type: "submit", class: "act" }, say("start.photo.begin")));
    const begin = async () => {
      this.fault.textContent = "";
      button.disabled = true;
      let sha = "";
      try {
        let told = await send("/traces", { name: name.value });
        sha = told.board.sha256;
        for (const { side, input } of files) {
          const file = input.files?.[0];
          if (file) told = await putPicture(sha, side, told.revision, file);
        }
        this.page.boards = (await ask("/boards", {})).boards;
        form.reset();
        choose({ board: sha.slice(0, 12), view: "board", mode: "trace", short: "", to: "", kind: "", id: "" });
      } catch (error) {
        if (!(error instanceof Refused)) throw error;
        // What was begun with a picture that can't be kept is not left lying about.
        if (sha) await remove(`/boards/${sha}`);
        this.fault.textContent = error.line;
        this.fault.scrollIntoView({ block: "nearest" });
      } finally {
        button.disabled = false;
      }
    };
    const form = /** @type {HTMLFormElement} */ (el("form", { class: "photostart", onsubmit: (/** @type {Event} */ event) => {
      event.preventDefault();
      begin();
    } },
    el("label", { for: "photo-name" }, say("start.photo.name")), name,
    files.flatMap(({ side, input }) => [el("label", { for: input.id }, say(`start.photo.${side}`)), input]),
    el("p", { class: "quiet" }, say("start.photo.private")), el("p", {}, button)));
    return el("details", { class: "photobegin" }, el("summary", {}, say("start.photo.title")), el("p", {}, say("start.photo.about")), form);
  }

  async show() {
    const { boards } = await ask("/boards", {});
    this.page.boards = boards;
    if (!boards.length) {
      fill(this.list);
      return;
    }
    const when = new Intl.DateTimeFormat(undefined, { dateStyle: "medium", timeStyle: "short" });
    fill(this.list, el("h2", {}, say("start.seen")), table(say("start.seen"), ["file", "parts", "nets", "opened", "notes", "act"].map((key) => say(`start.${key}`)),
      boards.map((/** @type {any} */ one) => el("tr", {},
        el("th", { scope: "row" }, el("a", { href: `#board=${one.sha256.slice(0, 12)}&view=${one.traced ? "board&mode=trace" : "rails"}` }, one.file)),
        el("td", { class: "number" }, one.parts), el("td", { class: "number" }, one.nets),
        el("td", {}, when.format(one.opened * 1000)), el("td", {}, one.notes ? say("yes") : "–"),
        el("td", {}, this.forgetButton(one))))));
  }

  /** @param {any} one */
  forgetButton(one) {
    const place = el("span", { class: "buttons" });
    const ask_ = () => {
      const yes = el("button", { type: "button", class: "act", onclick: () => this.forget(one) }, say("start.forget.yes"));
      fill(place, say("start.forget.sure", { file: one.file }), " ", yes, " ",
        el("button", { type: "button", onclick: first }, say("start.forget.no")));
      yes.focus();
    };
    const first = () => fill(place, el("button", { type: "button", "aria-label": say("start.forget.label", { file: one.file }), onclick: ask_ }, say("start.forget")));
    first();
    return place;
  }

  /** @param {any} one */
  async forget(one) {
    await remove(`/boards/${one.sha256}`);
    this.page.forget(one.sha256);
    this.page.news(say("start.forgotten", { file: one.file }));
    await this.show();
  }

  /** One file is a board; several are an assembly with its boards. @param {FileList|null|undefined} list */
  take(list) {
    const files = [...(list ?? [])];
    if (files.length > 1) this.run(putSeveralIn(files), files.map((file) => file.name).join(", "));
    else if (files.length) this.run(putIn(files[0]), files[0].name);
    this.input.value = "";
  }

  /** @param {Promise<any>} asked @param {string} [name] */
  async run(asked, name = "") {
    this.fault.textContent = "";
    try {
      const { board, job } = await asked;
      const sha = board ? board.sha256 : await this.follow(job);
      fill(this.state);
      if (!sha) return;
      this.page.boards = (await ask("/boards", {})).boards;
      choose({ board: sha.slice(0, 12), view: "rails", short: "", to: "", kind: "", id: "" });
    } catch (error) {
      fill(this.state);
      if (!(error instanceof Refused)) throw error;
      // Said on the page that is open, also when a file is dropped on another one.
      choose({ view: "start" });
      this.fault.textContent = name ? say("start.fault", { file: name, line: error.line }) : error.line;
      this.fault.scrollIntoView({ block: "nearest" });
    }
  }

  /** Look after a job until it ends. @param {any} job @returns {Promise<string|null>} */
  async follow(job) {
    const bar = el("progress", { max: 1, "aria-label": say("start.reading", { file: job.what }) });
    const told = el("span", {});
    fill(this.state, bar, " ", told, " ",
      el("button", { type: "button", onclick: () => remove(`/jobs/${job.id}`) }, say("start.stop")));
    for (let now = job; ; now = await ask(`/jobs/${job.id}`)) {
      bar.setAttribute("value", now.progress);
      told.textContent = say(`stage.${now.stage}`, { file: now.what });
      if (now.state === "done") return now.board;
      if (now.state === "failed") throw new Refused(now.problem);
      if (now.state === "stopped") {
        this.page.news(say("start.stopped", { file: now.what }));
        return null;
      }
      await new Promise((done) => setTimeout(done, POLL_MS));
    }
  }
}
