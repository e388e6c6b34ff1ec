// SPDX-License-Identifier: GPL-3.0-or-later
// The question as a sentence with blanks: which net is shorted, to what, and what must survive.

import { el, fill } from "./dom.js";
import { choose, chosen } from "./state.js";
import { plain, say, sayOr } from "./words.js";

export class QuestionLine {
  /** @param {any} page */
  constructor(page) {
    this.page = page;
    this.form = /** @type {HTMLFormElement} */ (document.getElementById("question"));
    this.fault = el("span", { class: "veto", role: "alert", id: "question-fault" });
    this.nets = el("datalist", { id: "nets" });
    this.short = input("short", say("question.short"));
    this.to = input("to", say("question.to"), say("question.ground"));
    this.goal = /** @type {HTMLSelectElement} */ (el("select", { name: "goal", "aria-label": say("question.goal") },
      page.words.goals.map((/** @type {string} */ one) => el("option", { value: one }, sayOr(`goal.${one}`, plain(one))))));
    this.form.setAttribute("aria-label", say("question.label"));
    this.file = el("strong", {});
    this.unsure = el("ul", { class: "cautions", "aria-label": say("question.notknown") });
    fill(this.form,
      el("p", {}, say("question.on"), " ", this.file, " ", say("question.thenet"), " ", this.short, " ", say("question.isshorted"), " ",
        this.to, " ", say("question.andmust"), " ", this.goal, " ",
        el("button", { type: "submit", class: "act" }, say("question.ask")), " ", this.fault), this.unsure, this.nets);
    this.form.addEventListener("submit", (event) => {
      event.preventDefault();
      this.ask();
    });
  }

  /** @param {any} desk @param {import("./state.js").Selection} now */
  async show(desk, now) {
    // While a board is traced the photograph needs the room; without a part there is no question.
    this.form.hidden = !desk || now.mode === "trace" || (desk.row.traced && !desk.row.parts);
    if (this.form.hidden) return;
    const about = JSON.stringify([desk.sha, now.short, now.to, now.goal]);
    if (this.about !== about) this.refuse("");
    this.about = about;
    this.desk = desk;
    this.file.textContent = desk.row.file;
    if (document.activeElement !== this.short) this.short.value = now.short;
    if (document.activeElement !== this.to) this.to.value = now.to;
    this.goal.value = now.goal;
    const listed = `${desk.sha} ${desk.stamp}`;
    if (this.listed !== listed) {
      this.listed = listed;
      const [rails, side] = await Promise.all([desk.rails(), desk.drawing("top")]);
      // What the file can't tell goes with every answer about the board.
      this.unsure.hidden = !rails.not_known?.length;
      fill(this.unsure, (rails.not_known ?? []).map((/** @type {any} */ one) => el("li", {}, one.text)));
      const first = rails.rails.map((/** @type {any} */ one) => one.net);
      const names = [...new Set([...first, ...side.nets])];
      const others = Object.entries(side.other_names);
      fill(this.nets, [...names, ...others.map(([other]) => other)].map((name) => el("option", { value: name })));
      const known = [...names.map((name) => [name, name]), ...others];
      /** @type {Map<string, string>} */
      this.names = new Map();
      // A name as it is written wins over the same in another case.
      for (const [typed, name] of [...known, ...known.map(([one, name]) => [one.toLowerCase(), name])]) {
        if (!this.names.has(typed)) this.names.set(typed, name);
      }
    }
  }

  /** Say what is wrong with the question, and in which field; nothing: all is well. @param {string} text @param {HTMLInputElement} [field] */
  refuse(text, field) {
    this.fault.textContent = text;
    for (const one of [this.short, this.to]) one.setAttribute("aria-invalid", String(one === field));
    field?.focus();
  }

  ask() {
    const [short, to] = [this.name(this.short), this.name(this.to)];
    this.refuse("");
    for (const [net, field] of /** @type {[string, HTMLInputElement][]} */ ([[short, this.short], [to, this.to]])) {
      if (net === "" || [...(this.names?.values() ?? [])].includes(net)) continue;
      this.refuse(say("question.nonet", { net }) + this.below(), field);
      return;
    }
    if (!short) {
      this.refuse(say("question.which") + this.below(), this.short);
      return;
    }
    const called = [[this.short.value.trim(), short], [this.to.value.trim(), to]]
      .filter(([typed, net]) => typed.toLowerCase() !== net.toLowerCase());
    choose({ view: "plan", short, to, goal: this.goal.value, kind: "", id: "" });
    this.page.news(called.map(([typed, net]) => say("question.called", { typed, net })).join(" "));
  }

  /** What stands below is then the answer to an earlier question. */
  below() {
    const { view, short } = chosen();
    return view === "plan" && short ? ` ${say("question.below", { net: short })}` : "";
  }

  /** As the board calls it, whatever case or other name was typed. @param {HTMLInputElement} field */
  name(field) {
    const typed = field.value.trim();
    return this.names?.get(typed) ?? this.names?.get(typed.toLowerCase()) ?? typed;
  }
}

/** @param {string} name @param {string} label @param {string} [empty] @returns {HTMLInputElement} */
function input(name, label, empty = "") {
  return /** @type {HTMLInputElement} */ (el("input", {
    name, list: "nets", autocomplete: "off", spellcheck: "false", "aria-label": label, placeholder: empty, "aria-describedby": "question-fault",
  }));
}
