// SPDX-License-Identifier: GPL-3.0-or-later
// Plan: what may come off, where may current go in? The answer as a sentence, then tables, then marks.

import { asAmount, asMillimetres, asPercent, asVolts, byName } from "../../core/figures.js";
import { byVerdict, grouped } from "../../core/verdicts.js";
import { el, fill, nameButton, table } from "../dom.js";
import { choose } from "../state.js";
import { say } from "../words.js";
import { PictureBox } from "./picture_box.js";

const SITES_SHOWN = 8;

export class PlanView {
  /** @param {any} page */
  constructor(page) {
    this.page = page;
    this.box = new PictureBox({ pick: (part) => choose({ kind: "part", id: part }) });
    this.answer = el("div", { class: "answer" });
    this.detail = el("div", {});
    this.side = el("aside", { "aria-label": say("plan.aside") }, this.box.root);
    this.below = el("div", {});
    this.root = el("div", { class: "two" },
      el("div", { class: "main" }, el("h1", { tabindex: -1 }, say("plan.title")), this.answer, this.below, this.detail), this.side);
  }

  /** @param {any} desk @param {import("../state.js").Selection} now @param {any} chosenPanel */
  async show(desk, now, chosenPanel) {
    this.side.append(chosenPanel.root);
    this.below.append(chosenPanel.closeUp.root);
    const [top, bottom, parts] = await Promise.all([desk.drawing("top"), desk.drawing("bottom"), desk.parts()]);
    this.box.load([top, bottom], desk.row.file);
    this.box.lay(desk);
    if (!now.short) {
      fill(this.answer, el("p", {}, say("plan.ask")));
      fill(this.detail);
      this.marks = [];
    } else {
      const [lift, inject, path] = await Promise.all([
        desk.answer("/lift", { short: now.short, goal: now.goal }),
        desk.answer("/inject", { net: now.short }),
        desk.answer("/path", { net_a: now.short, net_b: now.to || undefined }),
      ]);
      if (this.lift !== lift || this.path !== path) {
        [this.lift, this.path] = [lift, path];
        this.tell(lift, inject, path, now);
        this.marks = marksOf(lift, inject, path);
      }
    }
    for (const one of this.detail.querySelectorAll("[data-ref]")) {
      one.classList.toggle("chosen-row", now.kind === "part" && one.getAttribute("data-ref") === now.id);
    }
    const part = now.kind === "part" ? parts.get(now.id) : null;
    this.box.show({ net: now.kind === "net" ? now.id : now.short, part: part ? now.id : "", marks: this.marks ?? [] }, part?.side ?? (this.sideOf !== now.short ? this.best(now.short) : undefined));
    this.sideOf = now.short;
  }

  /** The side on which the first point to feed at lies. @param {string} short */
  best(short) {
    return short ? this.marks?.find((/** @type {any} */ one) => one.kind === "inject")?.side : undefined;
  }

  /** @param {any} lift @param {any} inject @param {any} path @param {import("../state.js").Selection} now */
  tell(lift, inject, path, now) {
    const verdicts = byVerdict(lift.parts);
    const off = verdicts.get("lift") ?? [];
    const wired = verdicts.get("lift-and-jumper") ?? [];
    const point = inject.points[0];
    fill(this.answer,
      lift.unclear ? el("p", { class: "veto" }, lift.unclear.text) : null,
      el("p", {}, off.length ? say("plan.off", { n: off.length, net: lift.net }) : say("plan.noneoff", { net: lift.net }),
        " ", wired.length ? say("plan.wired", { n: wired.length }) : "", " ",
        say("plan.rest", { unsure: (verdicts.get("unsure") ?? []).length, keep: (verdicts.get("keep") ?? []).length, replace: (verdicts.get("replace") ?? []).length })),
      el("p", {}, feedSentence(inject, point)),
      el("p", {}, path.sites.length ? say(now.to ? "plan.sitesto" : "plan.sites", { n: path.sites.length, first: siteName(path.sites[0]), to: now.to }) : say("plan.nosites")));
    fill(this.detail,
      liftPart(lift, verdicts), injectPart(inject), pathPart(path, now), keepPart(lift));
  }
}

/** @param {any} inject @param {any} point */
function feedSentence(inject, point) {
  if (inject.verdict === "no") return say("plan.nofeed", { why: inject.why.text });
  if (!point) return say("plan.nopoint");
  const most = inject.max_volts === null ? say("plan.noceiling", { first: asVolts(inject.first_volts) }) : say("plan.ceiling", { volts: asVolts(inject.max_volts) });
  return say(inject.verdict === "ok" ? "plan.feed" : "plan.feedunsure", { at: `${point.ref}.${point.pin}`, first: asVolts(inject.first_volts), amps: asAmount(inject.max_amps, "A"), most });
}

/** @param {any} lift @param {Map<string, any[]>} verdicts */
function liftPart(lift, verdicts) {
  const rows = [...verdicts].flatMap(([verdict, same]) =>
    grouped(same, (one) => JSON.stringify([ofIt(one), one.loses, one.frees, one.floats, one.jumper !== null, one.open_to_test])).map((alike) => {
      const [one] = alike;
      const names = alike.map((/** @type {any} */ row) => row).sort((/** @type {any} */ a, /** @type {any} */ b) => byName(a.ref, b.ref));
      const more = [
        one.loses.length ? say("plan.loses", { what: some(one.loses) }) : "",
        one.frees.length ? say("plan.frees", { what: some(one.frees) }) : "",
        one.floats?.length ? say("plan.floats", { what: some(one.floats.map((/** @type {any} */ f) => (f.pull_to ? say("plan.pullto", { net: f.net, to: f.pull_to }) : f.net))) }) : "",
        one.jumper ? say("plan.jumper", { from: one.jumper.from, to: one.jumper.to, mm: one.jumper.wire_mm }) : "",
        one.open_to_test ? say("plan.opentotest") : "",
      ].filter(Boolean);
      return el("tr", { class: `verdict ${verdict}` },
        el("th", { scope: "row" }, el("span", { class: "sign", "aria-hidden": "true" }, say(`verdict.${verdict}.sign`)), say(`verdict.${verdict}`)),
        el("td", {}, names.flatMap((/** @type {any} */ row) => [nameButton(row.ref, () => choose({ kind: "part", id: row.ref }), { "data-ref": row.ref }), " "])),
        el("td", {}, alike.length > 1 ? ofIt(one) : one.why.text, more.map((text) => el("div", { class: "quiet" }, text))));
    }));
  return el("section", { "aria-labelledby": "lift-title" }, el("h2", { id: "lift-title" }, say("plan.lift", { net: lift.net })),
    rows.length ? table(say("plan.lift.caption", { net: lift.net, goal: lift.goal }), ["verdict", "parts", "why"].map((key) => say(`plan.${key}`)), rows) : el("p", {}, say("plan.nobody")),
    cautions(lift.cautions));
}

/** @param {any} inject */
function injectPart(inject) {
  const limits = el("dl", { class: "limits" },
    limit("first", asVolts(inject.first_volts)), limit("stop", asVolts(inject.stop_volts)),
    limit("max", inject.max_volts === null ? say("plan.unknown") : asVolts(inject.max_volts)),
    limit("amps", asAmount(inject.max_amps, "A")), limit("watts", asAmount(inject.max_watts, "W")), limit("seconds", asAmount(inject.max_seconds, "s")));
  const points = inject.points.map((/** @type {any} */ one, /** @type {number} */ i) => el("tr", {},
    el("td", { class: "number" }, i + 1),
    el("th", { scope: "row" }, nameButton(`${one.ref}.${one.pin}`, () => choose({ kind: "part", id: one.ref }), { "data-ref": one.ref })),
    el("td", {}, say(`side.${one.side}`)), el("td", {}, one.why.text)));
  const also = inject.also_powered.map((/** @type {any} */ one) => el("li", {},
    nameButton(one.net, () => choose({ kind: "net", id: one.net })), " ",
    say("plan.through", { part: one.through, from: one.from_net, volts: asVolts(one.nominal_volts) }), one.counts ? "" : ` ${say("plan.doesntcount")}`));
  return el("section", { "aria-labelledby": "inject-title", class: "inject" }, el("h2", { id: "inject-title" }, say("plan.inject", { net: inject.net })),
    el("p", { class: `verdictline ${inject.verdict}` }, el("strong", {}, say(`inject.${inject.verdict}`)), " ", inject.why.text),
    inject.vetoes.length ? el("div", { class: "vetoes" }, el("h3", {}, say("plan.vetoes")), el("ul", {}, inject.vetoes.map((/** @type {any} */ one) => el("li", {}, one.text)))) : null,
    limits, el("p", {}, el("strong", {}, say("plan.because")), " ", inject.max_volts_because.text),
    points.length ? table(say("plan.points"), [say("plan.no"), say("plan.at"), say("plan.side"), say("plan.why")], points) : el("p", {}, say("plan.nopoint")),
    also.length ? el("details", {}, el("summary", {}, say("plan.also", { n: also.length })), el("ul", { class: "plain" }, also)) : null,
    inject.warnings.length ? el("ul", {}, inject.warnings.map((/** @type {any} */ one) => el("li", {}, one.text))) : null,
    cautions(inject.cautions));
}

/** @param {string} key @param {string} value */
function limit(key, value) {
  return el("div", {}, el("dt", {}, say(`limit.${key}`)), el("dd", {}, value));
}

/** @param {any} path @param {import("../state.js").Selection} now */
function pathPart(path, now) {
  const row = (/** @type {any} */ one, /** @type {number} */ i) => el("tr", {},
    el("td", { class: "number" }, i + 1),
    el("th", { scope: "row" }, one.refs.length ? one.refs.slice(0, 4).flatMap((/** @type {string} */ ref) => [nameButton(ref, () => choose({ kind: "part", id: ref }), { "data-ref": ref }), " "]) : say(`site.${one.kind}`)),
    el("td", {}, say(`site.${one.kind}`)), el("td", { class: "number" }, asMillimetres(one.gap_mm)),
    el("td", {}, one.b.net), el("td", { class: "number" }, asPercent(one.likelihood)), el("td", {}, one.why.text));
  const heads = ["no", "at", "kind", "gap", "other", "rank", "why"].map((key) => say(`plan.${key}`));
  const shown = path.sites.slice(0, SITES_SHOWN);
  const rest = path.sites.slice(SITES_SHOWN);
  const label = now.to ? say("plan.path.to", { net: path.net_a, to: now.to }) : say("plan.path", { net: path.net_a });
  return el("section", { "aria-labelledby": "path-title" }, el("h2", { id: "path-title" }, label),
    path.copper_fault ? el("p", { class: "veto" }, say("plan.nocopper", { why: path.copper_fault })) : null,
    shown.length ? table(label, heads, shown.map(row)) : el("p", {}, say("plan.nosites")),
    rest.length ? lazily(say("plan.moresites", { n: rest.length }), () => table(say("plan.moresites", { n: rest.length }), heads, rest.map((/** @type {any} */ one, /** @type {number} */ i) => row(one, i + SITES_SHOWN)))) : null);
}

/** @param {any} lift */
function keepPart(lift) {
  const rows = lift.keeps.map((/** @type {any} */ one) => el("tr", {},
    el("th", { scope: "row" }, nameButton(one.ref, () => choose({ kind: "part", id: one.ref }), { "data-ref": one.ref })),
    el("td", {}, one.function), el("td", {}, say(`keep.${one.kind}`)), el("td", {}, one.why.text)));
  return el("section", { "aria-labelledby": "keep-title" }, el("h2", { id: "keep-title" }, say("plan.keep")),
    rows.length ? table(say("plan.keep"), [say("plan.part"), say("plan.function"), say("plan.kind"), say("plan.why")], rows) : el("p", {}, say("plan.nokeep")));
}

/** The reason without the part's own name, so that equal ones are seen to be equal. @param {any} one */
function ofIt(one) {
  const text = one.why.text.split(" ").map((/** @type {string} */ word) => (word === one.ref ? say("plan.it") : word)).join(" ");
  return text === one.why.text ? text : say("plan.each", { text });
}

/** A list that may be long. @param {string[]} names */
function some(names) {
  const most = 6;
  return names.length <= most + 1 ? names.join(", ") : say("plan.andmore", { shown: names.slice(0, most).join(", "), n: names.length - most });
}

/** @param {any[]} found */
function cautions(found) {
  return found.length ? el("ul", { class: "cautions", "aria-label": say("plan.cautions") }, found.map((one) => el("li", {}, one.text))) : null;
}

/** Content that is made when it is opened. @param {string} title @param {() => Node} make */
function lazily(title, make) {
  const made = el("details", { ontoggle: () => {
    if (made.hasAttribute("open") && made.childElementCount === 1) made.append(make());
  } }, el("summary", {}, title));
  return made;
}

/** @param {any} one */
function siteName(one) {
  return one.refs.length ? one.refs.slice(0, 2).join(" / ") : say(`site.${one.kind}`);
}

/** Marks on the picture; their numbers are those of the tables. @param {any} lift @param {any} inject @param {any} path */
function marksOf(lift, inject, path) {
  const placed = (/** @type {any} */ one) => one.x_mm !== null && one.x_mm !== undefined;
  return [
    ...lift.parts.filter(placed).filter((/** @type {any} */ one) => one.verdict === "lift" || one.verdict === "keep" || one.verdict === "lift-and-jumper")
      .map((/** @type {any} */ one) => ({ x: one.x_mm, y: one.y_mm, side: one.side, kind: one.verdict === "keep" ? "keep" : "lift", label: "" })),
    ...inject.points.filter(placed).slice(0, 3).map((/** @type {any} */ one, /** @type {number} */ i) => ({ x: one.x_mm, y: one.y_mm, side: one.side, kind: "inject", label: String(i + 1) })),
    ...path.sites.filter(placed).slice(0, SITES_SHOWN).flatMap((/** @type {any} */ one, /** @type {number} */ i) =>
      (one.side === "top" || one.side === "bottom" ? [one.side] : ["top", "bottom"]).map((side) => ({ x: one.x_mm, y: one.y_mm, side, kind: "site", label: String(i + 1) }))),
  ];
}
