// SPDX-License-Identifier: GPL-3.0-or-later
// One selection for all views. It lives in the address, so that Back works and a link can be kept.

import { formatAddress, parseAddress } from "../core/address.js";

/** @typedef {import("../core/address.js").Selection} Selection */

/** @type {Set<(now: Selection) => void>} */
const listeners = new Set();

/** What is chosen now. @returns {Selection} */
export function chosen() {
  return parseAddress(location.hash);
}

/** Choose something else; views hear of it. @param {Partial<Selection>} changes */
export function choose(changes) {
  const address = formatAddress({ ...chosen(), ...changes });
  if (address !== location.hash) {
    history.pushState(null, "", address);
    tell();
  }
}

/** An address that chooses something else. @param {Partial<Selection>} changes */
export function addressOf(changes) {
  return formatAddress({ ...chosen(), ...changes });
}

/** @param {(now: Selection) => void} listener */
export function listen(listener) {
  listeners.add(listener);
}

function tell() {
  const now = chosen();
  for (const one of listeners) one(now);
}

window.addEventListener("popstate", tell);
