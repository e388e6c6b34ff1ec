// SPDX-License-Identifier: GPL-3.0-or-later
// The one place that talks to the service.

const ROOT = "/api/v1";

/** What the service refused, in its words. */
export class Refused extends Error {
  /** @param {any} problem */
  constructor(problem) {
    super(problem.detail);
    this.problem = problem;
    this.status = problem.status;
    this.code = problem.code;
  }

  /** All it said, on one line. */
  get line() {
    const { file, line, column, detail, expected, hint } = this.problem;
    const place = file ? [file, line, column].filter((one) => one !== null).join(":") : "";
    return [place && `${place}:`, detail, expected && `(${expected})`, hint && `– ${hint}`]
      .filter(Boolean).join(" ");
  }
}

/** @param {string} path @param {RequestInit} [how] */
async function call(path, how = {}) {
  let response;
  try {
    response = await fetch(ROOT + path, { cache: "no-store", ...how });
  } catch {
    throw new Refused({ status: 0, code: "gone", detail: "", hint: null });
  }
  if (response.status === 204) return { body: null, response };
  const body = await response.json().catch(() => null);
  if (!response.ok) {
    throw new Refused(body ?? { status: response.status, code: "own-fault", detail: response.statusText });
  }
  return { body, response };
}

/** @param {string} path @param {Record<string, string|number|boolean|undefined>} [query] */
export async function ask(path, query = {}) {
  return (await call(path + asked(query))).body;
}

/** @param {Record<string, any>} query */
function asked(query) {
  const told = Object.entries(query).filter(([, value]) => value !== undefined && value !== "");
  return told.length ? `?${new URLSearchParams(told.map(([k, v]) => [k, String(v)]))}` : "";
}

/** @param {string} path */
export async function remove(path) {
  return (await call(path, { method: "DELETE" })).body;
}

/** Put a file in; the job or the board. @param {File} file */
export async function putIn(file) {
  const how = { method: "POST", body: file, headers: { "Content-Type": "application/octet-stream" } };
  return (await call(`/boards${asked({ name: file.name, wait: 0.4 })}`, how)).body;
}

/** @param {string} path @param {any} body */
export async function send(path, body) {
  const how = { method: "POST", body: JSON.stringify(body), headers: { "Content-Type": "application/json" } };
  return (await call(path, how)).body;
}

/** @param {string} sha @param {string} side @param {number} revision @param {File} file */
export async function putPicture(sha, side, revision, file) {
  const how = { method: "POST", body: file, headers: { "Content-Type": "application/octet-stream" } };
  return (await call(`/boards/${sha}/pictures/${side}${asked({ revision, name: file.name })}`, how)).body;
}

/** A file as it is. @param {string} path @returns {Promise<Blob>} */
export async function blobOf(path) {
  const response = await fetch(ROOT + path, { cache: "no-store" });
  if (!response.ok) throw new Refused(await response.json());
  return response.blob();
}

/** An assembly with its board files, as one form. @param {File[]} files */
export async function putSeveralIn(files) {
  const form = new FormData();
  for (const file of files) form.append("file", file, file.name);
  return (await call(`/boards${asked({ wait: 0.4 })}`, { method: "POST", body: form })).body;
}

export async function putSampleIn() {
  return (await call("/boards/sample?wait=0.4", { method: "POST" })).body;
}

/** The notes with the mark of their state. @param {string} sha */
export async function notesOf(sha) {
  const { body, response } = await call(`/boards/${sha}/notes`);
  return { notes: body, tag: response.headers.get("ETag") ?? "" };
}

/** @param {string} sha @param {any} notes @param {string} tag */
export async function changeNotes(sha, notes, tag) {
  const how = {
    method: "PUT",
    body: JSON.stringify(notes),
    headers: { "Content-Type": "application/json", "If-Match": tag },
  };
  const { body, response } = await call(`/boards/${sha}/notes`, how);
  return { notes: body, tag: response.headers.get("ETag") ?? "" };
}
