// SPDX-License-Identifier: GPL-3.0-or-later
// Rows of the lift answer as they are read: by verdict, those with one reason together.

export const VERDICTS = ["lift", "lift-and-jumper", "unsure", "replace", "keep"];

/**
 * @param {{ref: string, verdict: string, why: {text: string}}[]} rows
 * @returns {Map<string, any[]>} in the order of VERDICTS, only those that occur
 */
export function byVerdict(rows) {
  const found = new Map();
  for (const verdict of VERDICTS) {
    const same = rows.filter((row) => row.verdict === verdict);
    if (same.length) found.set(verdict, same);
  }
  return found;
}

/**
 * Groups that share what `key` gives, in the order of their first row.
 * @template T @param {T[]} rows @param {(row: T) => string} key @returns {T[][]}
 */
export function grouped(rows, key) {
  /** @type {Map<string, T[]>} */
  const found = new Map();
  for (const row of rows) {
    const name = key(row);
    const same = found.get(name);
    if (same) same.push(row);
    else found.set(name, [row]);
  }
  return [...found.values()];
}
