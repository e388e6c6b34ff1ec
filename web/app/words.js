// SPDX-License-Identifier: GPL-3.0-or-later
// All words of the page come from one file, by what they mean.

/** @type {Record<string, string|Record<string, string>>} */
let strings = {};
let rules = new Intl.PluralRules("en-US");

/** Load the file; the page waits for it. @param {string} language */
export async function loadWords(language = "en-US") {
  const found = await fetch(new URL(`../strings/${language}.json`, import.meta.url));
  strings = await found.json();
  rules = new Intl.PluralRules(language);
}

/**
 * The words for a meaning; `{blank}`s are filled, a plural is chosen by `n`.
 * @param {string} key @param {Record<string, unknown>} [blanks]
 */
export function say(key, blanks = {}) {
  const found = strings[key];
  if (found === undefined) throw new Error(`no words for ${key}`);
  const text = typeof found === "string" ? found : found[rules.select(Number(blanks.n))] ?? found.other;
  return text.replace(/\{(\w+)\}/g, (_, name) => String(blanks[name]));
}

/** Words that may be missing: closed lists grow by themselves. @param {string} key @param {string} else_ @param {Record<string, unknown>} [blanks] */
export function sayOr(key, else_, blanks = {}) {
  return key in strings ? say(key, blanks) : else_;
}

/** A word of a closed list, as people say it. @param {string} word */
export function plain(word) {
  return word.replaceAll("-", " ");
}
