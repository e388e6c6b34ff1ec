// SPDX-License-Identifier: GPL-3.0-or-later
// A board that is traced: its state as the service told it last, and the steps on their way.

import { Refused, ask, putPicture, send } from "./api.js";

export class Tracing {
  /** @param {any} desk */
  constructor(desk) {
    this.desk = desk;
    /** @type {any} */
    this.now = null;
    /** @type {Promise<any>} */
    this.queue = Promise.resolve();
  }

  /** Ask how it stands; another window may have gone on. */
  async refresh() {
    this.take(await ask(`/boards/${this.desk.sha}/trace`));
  }

  /** @param {any} told */
  take(told) {
    const changed = this.now?.revision !== told.revision;
    this.now = told;
    if (changed) this.desk.changed(told.board);
    return told;
  }

  /** @param {Record<string, any>} step */
  step(step) {
    return this.inTurn(() => send(`/boards/${this.desk.sha}/trace`, { revision: this.now.revision, step }));
  }

  undo() {
    return this.inTurn(() => send(`/boards/${this.desk.sha}/trace/undo`, { revision: this.now.revision }));
  }

  /** @param {string} side @param {File} file */
  picture(side, file) {
    return this.inTurn(() => putPicture(this.desk.sha, side, this.now.revision, file));
  }

  /** One after the other, each based on what came before. @param {() => Promise<any>} act */
  inTurn(act) {
    const done = this.queue.then(async () => {
      try {
        return this.take(await act());
      } catch (error) {
        if (error instanceof Refused && error.code === "revision-stale") await this.refresh();
        throw error;
      }
    });
    this.queue = done.catch(() => undefined);
    return done;
  }
}
