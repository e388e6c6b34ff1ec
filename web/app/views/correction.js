// SPDX-License-Identifier: GPL-3.0-or-later
// A person knows better: a form that writes one board note, where the mistake is seen.

import { Refused } from "../api.js";
import { el } from "../dom.js";
import { plain, say } from "../words.js";

/**
 * @param {{news: (text: string) => void, changed: () => void, words: any}} told
 * @param {any} desk
 * @param {{kind: "part"|"net", id: string, now: any, noted: any}} about
 */
export function correctionForm(told, desk, about) {
  const part = about.kind === "part";
  const fault = el("p", { class: "veto", role: "alert" });
  const form = /** @type {HTMLFormElement} */ (el("form", {
    class: "correction",
    onsubmit: (/** @type {Event} */ event) => {
      event.preventDefault();
      write(noteFrom(form, about));
    },
  },
  part ? partFields(told.words, about) : netFields(told.words, about),
  field(say("note.why"), el("input", { name: "why", maxlength: 2000, value: about.noted?.why ?? "", autocomplete: "off" })),
  fault,
  el("p", { class: "buttons" },
    el("button", { type: "submit", class: "act" }, say("note.write")),
    about.noted ? el("button", { type: "button", onclick: () => write(null) }, say("note.forget")) : null)));

  /** @param {any} note null: take it away */
  async function write(note) {
    fault.textContent = "";
    const [list, key] = part ? ["parts", "ref"] : ["nets", "net"];
    try {
      await desk.correct((/** @type {any} */ notes) => {
        notes[list] = notes[list].filter((/** @type {any} */ one) => one[key] !== about.id);
        if (note) notes[list].push(note);
      });
      told.news(say(note ? "note.written" : "note.forgotten", { id: about.id }));
      told.changed();
    } catch (error) {
      if (!(error instanceof Refused)) throw error;
      fault.textContent = error.line;
    }
  }

  return el("details", { class: "correct" },
    el("summary", {}, say("note.title"), about.noted ? el("span", { class: "tag" }, say("note.there")) : ""), form);
}

/** @param {any} words @param {any} about */
function partFields(words, about) {
  return [
    field(say("note.role", { role: plain(about.now.role) }), select("role", words.roles, about.noted?.role ?? "")),
    field(say("note.fitted"), select("fitted", ["yes", "no"], yesNo(about.noted?.fitted))),
    field(say("note.keep"), select("keep", words.keep, about.noted?.keep ?? "", (one) => say(`keep.${one}`))),
  ];
}

/** @param {any} words @param {any} about */
function netFields(words, about) {
  return [
    field(say("note.kind", { kind: plain(about.now.kind) }), select("kind", words.net_kinds, about.noted?.kind ?? "")),
    field(say("note.volts"), el("input", { name: "volts", inputmode: "decimal", autocomplete: "off", pattern: "[+\\-]?[0-9]+([.,][0-9]+)?", value: about.noted?.nominal_volts ?? "" })),
    field(say("note.alwayson"), select("always_on", ["yes", "no"], yesNo(about.noted?.always_on))),
  ];
}

/** @param {HTMLFormElement} form @param {any} about */
function noteFrom(form, about) {
  const told = new FormData(form);
  const text = (/** @type {string} */ name) => String(told.get(name) ?? "").trim();
  const truth = (/** @type {string} */ name) => (text(name) ? text(name) === "yes" : null);
  if (about.kind === "part") {
    return { ref: about.id, role: text("role") || null, fitted: truth("fitted"), keep: text("keep") || null, why: text("why") };
  }
  const volts = text("volts").replace(",", ".");
  return {
    net: about.id, kind: text("kind") || null, nominal_volts: volts ? Number(volts) : null,
    feeders: about.noted?.feeders ?? null, always_on: truth("always_on"), why: text("why"),
  };
}

/** @param {boolean|null|undefined} told */
function yesNo(told) {
  if (told === null || told === undefined) return "";
  return told ? "yes" : "no";
}

/** @param {string} label @param {Element} input */
function field(label, input) {
  return el("label", {}, el("span", {}, label), input);
}

/** @param {string} name @param {string[]} words @param {string} now @param {(word: string) => string} [shown] */
function select(name, words, now, shown = plain) {
  return el("select", { name }, el("option", { value: "" }, say("note.nothing")),
    words.map((one) => el("option", { value: one, selected: one === now }, shown(one))));
}
