// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers as people type them.

/** With a comma or a point; NaN: none, or nothing was typed. @param {string} typed */
export function numberIn(typed) {
  const text = typed.trim().replace(",", ".");
  return text === "" ? NaN : Number(text);
}

/** Millimetres, with or without their unit; NaN: none. @param {string} typed */
export function millimetresIn(typed) {
  return numberIn(typed.trim().replace(/\s*mm$/i, ""));
}
