// SPDX-License-Identifier: GPL-3.0-or-later
// Light or dark, normal or large type: the person's choice, kept in this browser.

import { el } from "./dom.js";
import { say } from "./words.js";

const CHOICES = { theme: ["system", "light", "dark"], type: ["normal", "large"] };

/** @param {string} name */
function kept(name) {
  try {
    return localStorage.getItem(`netgraph-${name}`);
  } catch {
    return null; // storage may be forbidden; then nothing is kept
  }
}

export function applyLook() {
  for (const [name, values] of Object.entries(CHOICES)) {
    const told = kept(name);
    document.documentElement.dataset[name] = told && values.includes(told) ? told : values[0];
  }
}

/** The two choices of the header. */
export function lookControls() {
  return el("details", { class: "look" }, el("summary", {}, say("look.title")), Object.entries(CHOICES).map(([name, values]) => el("label", {},
    el("span", {}, say(`look.${name}`)), " ",
    el("select", { name, onchange: (/** @type {Event} */ event) => change(name, /** @type {HTMLSelectElement} */ (event.target).value) },
      values.map((one) => el("option", { value: one, selected: document.documentElement.dataset[name] === one }, say(`look.${name}.${one}`)))))));
}

/** @param {string} name @param {string} value */
function change(name, value) {
  try {
    localStorage.setItem(`netgraph-${name}`, value);
  } catch {
    // not kept, but applied
  }
  document.documentElement.dataset[name] = value;
  dispatchEvent(new Event("resize"));
  dispatchEvent(new Event("look"));
}
