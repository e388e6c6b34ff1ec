// SPDX-License-Identifier: GPL-3.0-or-later
// Rails: which supplies there are and what feeds them, as a sentence, a list and a tree.

import { asVolts } from "../../core/figures.js";
import { el, fill, nameButton } from "../dom.js";
import { choose } from "../state.js";
import { plain, say } from "../words.js";
import { RailTree } from "./rail_tree.js";

export class RailsView {
  /** @param {any} page */
  constructor(page) {
    this.page = page;
    this.tree = new RailTree((net) => choose({ kind: "net", id: net }));
    this.answer = el("p", { class: "answer" });
    this.list = el("div", { class: "raillist" });
    this.side = el("aside", { "aria-label": say("chosen.title") });
    this.below = el("div", {});
    this.root = el("div", { class: "two broad" },
      el("div", { class: "main" }, el("h1", { tabindex: -1 }, say("rails.title")), this.answer,
        el("h2", {}, say("tree.title")), this.tree.root, this.below, el("h2", {}, say("rails.list")), this.list),
      this.side);
  }

  /** @param {any} desk @param {import("../state.js").Selection} now @param {any} chosenPanel */
  async show(desk, now, chosenPanel) {
    this.side.append(chosenPanel.root);
    this.below.append(chosenPanel.closeUp.root);
    const [rails, tree] = await Promise.all([desk.rails(), desk.tree()]);
    if (this.rails !== rails) {
      this.rails = rails;
      this.tree.load(tree, rails, desk.row.file);
      this.tell(rails);
      this.fillList(rails);
    }
    this.tree.mark(now.kind === "net" ? now.id : "");
    for (const one of this.list.querySelectorAll("button.name")) {
      const on = now.kind === "net" && one.getAttribute("data-net") === now.id;
      if (on) one.setAttribute("aria-current", "true");
      else one.removeAttribute("aria-current");
    }
  }

  /** @param {any} rails */
  tell(rails) {
    const known = rails.rails.filter((/** @type {any} */ one) => one.feeders.some((/** @type {any} */ f) => f.from_net));
    const entries = rails.entries.length;
    fill(this.answer, rails.rails.length
      ? say("rails.answer", { n: rails.rails.length, entries: entries ? rails.entries.join(", ") : say("rails.noentry"), known: known.length, rest: rails.rails.length - known.length - entries })
      : say("rails.none"));
  }

  /** A nested list: what feeds, then what is fed. @param {any} rails */
  fillList(rails) {
    const of = new Map(rails.rails.map((/** @type {any} */ one) => [one.net, one]));
    /** @type {Map<string, any[]>} */
    const fed = new Map();
    /** @type {any[]} */
    const first = [];
    for (const rail of rails.rails) {
      const from = rail.feeders.map((/** @type {any} */ one) => one.from_net).find((/** @type {string} */ net) => net && net !== rail.net && of.has(net));
      if (from) fed.set(from, [...(fed.get(from) ?? []), rail]);
      else first.push(rail);
    }
    const seen = new Set();
    const item = (/** @type {any} */ rail) => {
      if (seen.has(rail.net)) return null;
      seen.add(rail.net);
      const below = (fed.get(rail.net) ?? []).map(item).filter(Boolean);
      const parts = [...new Set(rail.feeders.map((/** @type {any} */ one) => one.ref))].join(", ");
      return el("li", {},
        nameButton(rail.net, () => choose({ kind: "net", id: rail.net }), { "data-net": rail.net }),
        " ", el("span", { class: "volts" }, asVolts(rail.nominal_volts)),
        " ", el("span", { class: "quiet" }, [
          parts ? say("tree.fed", { ref: parts, kind: plain(rail.kind) }) : say(`kind.${rail.kind}`),
          say("tree.loads", { n: rail.loads.length }), say("rails.capacitors", { n: rail.capacitors }),
        ].join(" · ")),
        below.length ? el("ul", {}, below) : null);
    };
    const joined = first.filter((rail) => fed.has(rail.net) || rail.kind === "entry");
    const apart = first.filter((rail) => !joined.includes(rail));
    // Rails that only feed each other in a ring hang on nothing; they come last.
    fill(this.list,
      el("ul", { class: "plain" }, joined.map(item)),
      apart.length ? [el("h3", {}, say("tree.apart")), el("ul", { class: "plain" }, apart.map(item))] : null,
      el("ul", { class: "plain" }, rails.rails.map(item).filter(Boolean)));
    this.list.lastElementChild?.toggleAttribute("hidden", !this.list.lastElementChild.childElementCount);
    this.list.firstElementChild?.toggleAttribute("hidden", !joined.length);
  }
}
