/** The way to the office: one function that asks, and one kind of refusal that says the mend. */

import { get } from "./store.js";

/** The office could not be reached (status 0) or said no. */
export class OfficeSaysNo extends Error {
  /** @param {number} status @param {string} message @param {string} [hint] */
  constructor(status, message, hint = "") {
    super(hint ? `${message}; ${hint}` : message);
    this.status = status;
  }
}

/**
 * @param {string} path
 * @param {{method?: string, json?: any, bytes?: ArrayBuffer, type?: string, open?: boolean, raw?: boolean}} [how]
 *   open: without this phone's key; raw: the answer as bytes
 * @returns {Promise<any>}
 * @throws {OfficeSaysNo}
 */
export async function ask(path, how = {}) {
  const headers = /** @type {Record<string, string>} */ ({ Accept: "application/json" });
  if (!how.open) headers.Authorization = `Bearer ${(await get("facts", "device"))?.key ?? ""}`;
  if (how.json || how.type) headers["Content-Type"] = how.type ?? "application/json";
  let response;
  let answered;
  try {
    response = await fetch(path, {
      method: how.method ?? "GET",
      headers,
      body: how.json ? JSON.stringify(how.json) : how.bytes,
      cache: "no-store",
      signal: AbortSignal.timeout(60_000),
    });
    answered = how.raw && response.ok ? await response.arrayBuffer() : await response.json().catch(() => null);
  } catch {
    throw new OfficeSaysNo(0, "the office cannot be reached", "what you wrote is kept here and sent later");
  }
  if (!response.ok) {
    const { message = `the office answered ${response.status}`, hint = "" } = answered?.error ?? {};
    throw new OfficeSaysNo(response.status, message, hint);
  }
  if (answered === null) throw new OfficeSaysNo(response.status, "the office gave an answer that cannot be read");
  return answered;
}
