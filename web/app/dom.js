// SPDX-License-Identifier: GPL-3.0-or-later
// Make elements. Text goes in as text, never as markup: names come from strangers' files.

const SVG = "http://www.w3.org/2000/svg";

/** @typedef {Node|string|number|null|undefined|false} Child */

/**
 * @param {string} tag @param {Record<string, any>} [told] attributes; on… are listeners
 * @param {...(Child|Child[])} children
 */
export function el(tag, told = {}, ...children) {
  return filled(document.createElement(tag), told, children);
}

/** @param {string} tag @param {Record<string, any>} [told] @param {...(Child|Child[])} children */
export function svg(tag, told = {}, ...children) {
  return filled(document.createElementNS(SVG, tag), told, children);
}

/** @param {any} made @param {Record<string, any>} told @param {(Child|Child[])[]} children */
function filled(made, told, children) {
  for (const [name, value] of Object.entries(told)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else if (name === "value" || name === "checked" || name === "disabled") made[name] = value;
    else made.setAttribute(name, value === true ? "" : String(value));
  }
  put(made, ...children);
  return made;
}

/** Add children to an element. @param {Element} to @param {...(Child|Child[])} children */
export function put(to, ...children) {
  for (const one of children.flat()) {
    if (one === null || one === undefined || one === false) continue;
    to.append(typeof one === "object" ? one : String(one));
  }
  return to;
}

/** Replace all that is in an element. @param {Element} to @param {...(Child|Child[])} children */
export function fill(to, ...children) {
  to.replaceChildren();
  return put(to, ...children);
}

const ROLES = { TH: "rowheader", TD: "cell" };

/**
 * A table with a heading row. Narrow windows show its rows as blocks, so the roles are said outright,
 * and each cell knows its heading.
 * @param {string} caption @param {string[]} heads @param {Element[]} rows
 */
export function table(caption, heads, rows) {
  for (const row of rows) {
    row.setAttribute("role", "row");
    [...row.children].forEach((cell, i) => {
      cell.setAttribute("role", ROLES[/** @type {"TH"|"TD"} */ (cell.tagName)]);
      cell.setAttribute("data-label", heads[i] ?? "");
    });
  }
  const head = el("tr", { role: "row" }, heads.map((one) => el("th", { scope: "col", role: "columnheader" }, one)));
  const body = el("table", { role: "table" }, el("caption", {}, caption),
    el("thead", { role: "rowgroup" }, head), el("tbody", { role: "rowgroup" }, rows));
  return el("div", { class: "scroll", role: "group", "aria-label": caption, tabindex: 0 }, body);
}

/** A button that looks like a name. @param {string} name @param {() => void} act @param {Record<string, any>} [told] */
export function nameButton(name, act, told = {}) {
  return el("button", { type: "button", class: "name", onclick: act, ...told }, name);
}
