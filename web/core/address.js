// SPDX-License-Identifier: GPL-3.0-or-later
// The selection and the address hold the same: what stands behind # is all that is chosen.

/**
 * @typedef {object} Selection
 * @property {string} view    start, rails, board, plan
 * @property {string} board   the first digits of the board's hash; empty: none
 * @property {string} short   the net that is shorted; empty: none named
 * @property {string} to      the net it may be joined with; empty: any ground
 * @property {string} goal    what must survive
 * @property {"trace"|""} mode  what is done on the board: looked at, or traced on photographs
 * @property {"net"|"part"|""} kind  what is chosen
 * @property {string} id      its name
 */

export const VIEWS = ["start", "rails", "board", "plan"];
export const USUAL_GOAL = "recover-data";

/** @type {Selection} */
export const NOTHING = {
  view: "start", board: "", short: "", to: "", goal: USUAL_GOAL, kind: "", id: "", mode: "",
};

/** @param {string} hash @returns {Selection} */
export function parseAddress(hash) {
  const told = new URLSearchParams(hash.replace(/^#/, ""));
  const view = told.get("view") ?? "";
  const part = told.get("part");
  const net = told.get("net");
  return {
    view: VIEWS.includes(view) ? view : told.has("board") ? "rails" : "start",
    board: /^[0-9a-f]{6,64}$/.test(told.get("board") ?? "") ? told.get("board") ?? "" : "",
    short: told.get("short") ?? "",
    to: told.get("to") ?? "",
    goal: told.get("goal") || USUAL_GOAL,
    kind: part ? "part" : net ? "net" : "",
    id: part || net || "",
    mode: view === "board" && told.get("mode") === "trace" ? "trace" : "",
  };
}

/** @param {Selection} selection */
export function formatAddress(selection) {
  const told = new URLSearchParams();
  if (selection.board) told.set("board", selection.board);
  told.set("view", selection.view);
  if (selection.short) told.set("short", selection.short);
  if (selection.to) told.set("to", selection.to);
  if (selection.goal !== USUAL_GOAL) told.set("goal", selection.goal);
  if (selection.kind && selection.id) told.set(selection.kind, selection.id);
  if (selection.view === "board" && selection.mode) told.set("mode", selection.mode);
  return `#${told}`;
}
