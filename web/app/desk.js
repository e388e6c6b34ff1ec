// SPDX-License-Identifier: GPL-3.0-or-later
// One open board: each answer is asked for once and kept until a note is changed.

import { ask, changeNotes, notesOf } from "./api.js";
import { Tracing } from "./tracing.js";

export class Desk {
  /** @param {any} row of the list of boards */
  constructor(row) {
    this.row = row;
    this.sha = row.sha256;
    /** @type {Map<string, Promise<any>>} */
    this.answers = new Map();
    this.stamp = 0;
    this.tracing = row.traced ? new Tracing(this) : null;
  }

  /** The board itself is another one now: nothing that was answered holds. @param {any} row */
  changed(row) {
    this.row = row;
    this.stamp += 1;
    this.answers.clear();
  }

  /** @param {string} path @param {Record<string, any>} [query] @returns {Promise<any>} */
  answer(path, query = {}) {
    const key = `${path} ${JSON.stringify(query)}`;
    const kept = this.answers.get(key);
    if (kept) return kept;
    const asked = ask(`/boards/${this.sha}${path}`, query);
    this.answers.set(key, asked);
    asked.catch(() => this.answers.delete(key));
    return asked;
  }

  show() { return this.answer(""); }
  rails() { return this.answer("/rails"); }
  tree() { return this.answer("/rails/drawing"); }
  /** @param {string} side */
  drawing(side) { return this.answer("/drawing", { side }); }
  /** @param {string} net */
  rail(net) { return this.answer("/rail", { net }); }

  /** All parts by identity. @returns {Promise<Map<string, any>>} */
  async parts() {
    const { parts } = await this.answer("/parts");
    if (this.partsOf !== parts) {
      this.partsOf = parts;
      this.partMap = new Map(parts.map((/** @type {any} */ one) => [one.id, one]));
    }
    return this.partMap ?? new Map();
  }

  notes() {
    const kept = this.answers.get("notes");
    if (kept) return kept;
    const asked = notesOf(this.sha);
    this.answers.set("notes", asked);
    asked.catch(() => this.answers.delete("notes"));
    return asked;
  }

  /**
   * Change the notes and forget all answers that came from the old ones.
   * @param {(notes: {parts: any[], nets: any[], asked: any[]}) => void} edit
   */
  async correct(edit) {
    const { notes, tag } = await notesOf(this.sha);
    const body = { parts: notes.parts, nets: notes.nets, asked: notes.asked };
    edit(body);
    const changed = await changeNotes(this.sha, body, tag);
    this.answers.clear();
    this.answers.set("notes", Promise.resolve(changed));
  }
}
