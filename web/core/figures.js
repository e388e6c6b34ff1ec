// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers as people at a bench write them.

/** @param {number|null} volts */
export function asVolts(volts) {
  return volts === null ? "? V" : `${round(volts)} V`;
}

/** @param {number} amount @param {string} unit */
export function asAmount(amount, unit) {
  return `${round(amount)} ${unit}`;
}

/** @param {number|null} mm */
export function asMillimetres(mm) {
  return mm === null ? "–" : `${mm.toFixed(2)} mm`;
}

/** @param {number} share 0 to 1 */
export function asPercent(share) {
  return `${Math.round(share * 100)} %`;
}

/** @param {number} value */
function round(value) {
  return String(Number(value.toPrecision(4)));
}

/** Names as people count them: C2 before C10. @param {string} a @param {string} b */
export function byName(a, b) {
  return a.localeCompare(b, "en", { numeric: true });
}

/** The last step of a path-like net name. @param {string} name */
export function shortName(name) {
  const last = name.split("/").filter(Boolean).pop();
  return last ?? name;
}
