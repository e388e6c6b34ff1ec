// SPDX-License-Identifier: GPL-3.0-or-later
// The only place from which the page takes code of others; what and whose: vendor.lock.json.
export { default as cytoscape } from "./cytoscape/cytoscape.esm.min.mjs";
