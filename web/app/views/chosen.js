// SPDX-License-Identifier: GPL-3.0-or-later
// What is chosen, in words: a part or a net, why the program thinks so, and a way to correct it.

import { asPercent, asVolts, byName } from "../../core/figures.js";
import { grouped } from "../../core/verdicts.js";
import { choose } from "../state.js";
import { el, fill, nameButton } from "../dom.js";
import { plain, say } from "../words.js";
import { CloseUp } from "./close_up.js";
import { correctionForm } from "./correction.js";

export class ChosenPanel {
  /** @param {{news: (text: string) => void, changed: () => void, words: any}} told */
  constructor(told) {
    this.told = told;
    this.body = el("div", {});
    this.closeUp = new CloseUp((kind, id) => choose({ kind, id }));
    this.root = el("section", { class: "chosen", "aria-label": say("chosen.title") }, this.body);
  }

  /** @param {any} desk @param {import("../state.js").Selection} now */
  async show(desk, now) {
    this.asked = now;
    this.closeUp.root.hidden = !now.id;
    if (!now.id) {
      fill(this.body, el("p", { class: "quiet" }, say("chosen.nothing")));
      return;
    }
    const made = now.kind === "part" ? await this.part(desk, now.id) : await this.net(desk, now.id, now);
    if (this.asked !== now) return; // something else was chosen meanwhile
    fill(this.body, made);
    this.closeUp.show(desk, now.kind, now.id);
  }

  /** @param {any} desk @param {string} id */
  async part(desk, id) {
    const [parts, top, bottom, { notes }] = await Promise.all([desk.parts(), desk.drawing("top"), desk.drawing("bottom"), desk.notes()]);
    const part = parts.get(id);
    if (!part) return missing(id);
    const noted = notes.parts.find((/** @type {any} */ one) => one.ref === id);
    const size = [part.value, part.package].filter(Boolean).join(" · ");
    return [
      el("h2", {}, id, " ", el("span", { class: "kind" }, plain(part.role))),
      el("p", {}, size),
      el("p", { class: "quiet" }, [
        say(`side.${part.side}`),
        part.x_mm === null ? "" : say("chosen.place", { x: part.x_mm.toFixed(2), y: part.y_mm.toFixed(2) }),
        part.fitted ? "" : say("chosen.notfitted"),
      ].filter(Boolean).join(" · ")),
      reasons(part.reasons, part.confidence, part.source),
      pinTable(id, part, [top, bottom]),
      correctionForm(this.told, desk, { kind: "part", id, now: part, noted }),
    ];
  }

  /** @param {any} desk @param {string} id @param {import("../state.js").Selection} now */
  async net(desk, id, now) {
    const [rail, { notes }] = await Promise.all([desk.rail(id), desk.notes()]);
    const noted = notes.nets.find((/** @type {any} */ one) => one.net === id);
    const feeders = rail.rail?.feeders ?? [];
    const fed = feeders.map((/** @type {any} */ one) => el("li", {},
      nameButton(one.ref, () => choose({ kind: "part", id: one.ref })), ` ${plain(one.kind)} `,
      one.from_net ? [say("chosen.from"), " ", nameButton(one.from_net, () => choose({ kind: "net", id: one.from_net }))] : say("chosen.fromunknown")));
    return [
      el("h2", {}, id, " ", el("span", { class: "kind" }, plain(rail.kind))),
      el("p", {}, [asVolts(rail.nominal_volts), rail.rail ? say(`kind.${rail.rail.kind}`) : say("chosen.norail")].join(" · ")),
      fed.length ? el("div", {}, el("h3", {}, say("chosen.fedby")), el("ul", { class: "plain" }, fed)) : null,
      now.short === id ? null : el("p", {}, el("button", { type: "button", class: "act", onclick: () => choose({ view: "plan", short: id }) }, say("chosen.plan", { net: id }))),
      rail.rail ? reasons(rail.rail.reasons, rail.rail.confidence, "") : null,
      members(rail),
      correctionForm(this.told, desk, { kind: "net", id, now: rail, noted }),
    ];
  }
}

/** @param {string} id */
function missing(id) {
  return [el("p", { class: "veto" }, say("chosen.missing", { id }))];
}

/** @param {any[]} found @param {number} confidence @param {string} source */
function reasons(found, confidence, source) {
  const sure = source === "user" ? say("chosen.yourword") : say("chosen.sure", { share: asPercent(confidence) });
  return el("details", { class: "why", open: true }, el("summary", {}, say("chosen.why"), " ", el("span", { class: "quiet" }, sure)),
    el("ul", {}, found.map((one) => el("li", {}, one.text))));
}

/** @param {string} id @param {any} part @param {any[]} sides */
function pinTable(id, part, sides) {
  /** @type {Map<string, string>} */
  const pins = new Map();
  for (const side of sides) {
    const number = side.part_ids.indexOf(id);
    side.pads.part.forEach((/** @type {number} */ of, /** @type {number} */ i) => {
      if (of === number && side.pads.pin[i]) pins.set(side.pads.pin[i], side.pads.net[i] < 0 ? "" : side.nets[side.pads.net[i]]);
    });
  }
  const nets = pins.size ? null : part.nets;
  const rows = nets ? nets.map((/** @type {string} */ net) => [net, ["–"]])
    : grouped([...pins].sort((a, b) => byName(a[0], b[0])), ([, net]) => net).map((same) => [same[0][1], same.map(([pin]) => pin)]);
  return el("details", { class: "pins", open: rows.length <= 12 },
    el("summary", {}, say("chosen.pins", { n: pins.size || part.nets.length })),
    el("dl", { class: "pinlist" }, rows.flatMap((/** @type {any} */ [net, names]) => [
      el("dt", {}, names.join(" ")),
      el("dd", {}, net ? nameButton(net, () => choose({ kind: "net", id: net })) : say("net.none")),
    ])));
}

/** @param {any} rail */
function members(rail) {
  const order = ["source", "series", "sense", "load", "shunt"];
  const blocks = order.map((connection) => {
    const same = rail.parts.filter((/** @type {any} */ one) => one.connection === connection);
    if (!same.length) return null;
    const rows = grouped(same, (one) => one.role).map((alike) => el("li", {},
      el("span", { class: "count" }, say("chosen.count", { n: alike.length, what: plain(alike[0].role) })), " ",
      alike.sort((a, b) => byName(a.ref, b.ref)).flatMap((one) => [nameButton(one.ref, () => choose({ kind: "part", id: one.ref })), " "])));
    return el("div", {}, el("h3", {}, say(`connection.${connection}`, { n: same.length })), el("ul", { class: "plain" }, rows));
  });
  return el("details", { class: "members", open: rail.parts.length <= 40 }, el("summary", {}, say("chosen.members", { n: rail.parts.length })), blocks);
}

