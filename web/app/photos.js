// SPDX-License-Identifier: GPL-3.0-or-later
// Photographs as bitmaps: a small one for the whole, a large one for near. Each is fetched once.

import { blobOf } from "./api.js";

const MOST_PIXELS = 40e6;
const SMALL_PX = 1600;

/** @typedef {{small: ImageBitmap, large: ImageBitmap, width: number, height: number}} Photo */

/** @type {Map<string, Promise<Photo>>} */
const kept = new Map();

/** @param {string} sha of the board @param {any} picture of the answer of /trace @returns {Promise<Photo>} */
export function photoOf(sha, picture) {
  const there = kept.get(picture.sha256);
  if (there) return there;
  const asked = load(sha, picture);
  kept.set(picture.sha256, asked);
  asked.catch(() => kept.delete(picture.sha256));
  while (kept.size > 4) {
    const oldest = kept.keys().next().value;
    if (oldest === undefined) break;
    kept.delete(oldest);
  }
  return asked;
}

/** @param {string} sha @param {any} picture */
async function load(sha, picture) {
  const blob = await blobOf(`/boards/${sha}/pictures/${picture.side}`);
  const { width_px: width, height_px: height } = picture;
  const large = await scaled(blob, width, height, Math.min(1, Math.sqrt(MOST_PIXELS / (width * height))));
  const small = await scaled(large, width, height, Math.min(1, SMALL_PX / Math.max(width, height)));
  return { small, large, width, height };
}

/** @param {Blob|ImageBitmap} from @param {number} width @param {number} height @param {number} by */
function scaled(from, width, height, by) {
  if (by >= 1) return from instanceof Blob ? createImageBitmap(from) : Promise.resolve(from);
  return createImageBitmap(from, {
    resizeWidth: Math.max(1, Math.round(width * by)), resizeHeight: Math.max(1, Math.round(height * by)), resizeQuality: "medium",
  });
}
