/**
 * Entries as the record takes them: an id, one spelling of the body, a digest, and the place in this device's chain.
 * Byte for byte what tapedown.values.entries makes.
 *
 * @typedef {{id: string, kind: string, about: string, measured_at: string, written_at: string, by: string, body: string,
 *   strikes: string | null, reason: string, device: string, sequence: number, previous: string, digest: string}} Entry
 * @typedef {{kind: string, about: string, measured_at: string, by: string, body: Record<string, any>, id?: string}} Fact
 * @typedef {{sequence: number, digest: string, written_at: string}} Head
 */

/** What the first entry of a device names as the digest before it. */
export const FIRST = "0".repeat(64);

const ORDER = [
  "id",
  "kind",
  "about",
  "measured_at",
  "written_at",
  "by",
  "body",
  "strikes",
  "reason",
  "device",
  "sequence",
  "previous",
];

/** A UUID of version 7: the time first, then chance. */
export function uuid7(at = Date.now()) {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  for (let place = 0; place < 6; place += 1) bytes[place] = Math.floor(at / 2 ** (8 * (5 - place))) % 256;
  bytes[6] = 0x70 | (bytes[6] & 0x0f);
  bytes[8] = 0x80 | (bytes[8] & 0x3f);
  return hex(bytes).replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

/** Canonical JSON: keys sorted at every depth, no spaces. @param {any} value @returns {string} */
export function canonical(value) {
  if (Array.isArray(value)) return `[${value.map(canonical).join(",")}]`;
  if (value === null || typeof value !== "object") return JSON.stringify(value);
  const pairs = Object.keys(value)
    .sort()
    .map((key) => `${JSON.stringify(key)}:${canonical(value[key])}`);
  return `{${pairs.join(",")}}`;
}

/** SHA-256 in lower-case hexadecimal. @param {string | ArrayBuffer} what */
export async function sha256(what) {
  const bytes = typeof what === "string" ? new TextEncoder().encode(what) : what;
  return hex(new Uint8Array(await crypto.subtle.digest("SHA-256", bytes)));
}

/** @param {Uint8Array} bytes */
function hex(bytes) {
  return Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
}

/** Now as entries carry it, never before the entry before it. @param {string} last */
function writtenAt(last) {
  const now = new Date().toISOString().replace("Z", "000Z");
  return now < last ? last : now;
}

/**
 * Facts as entries that follow `head`.
 * @param {Fact[]} facts @param {Head} head @param {string} device
 * @returns {Promise<Entry[]>}
 */
export async function written(facts, head, device) {
  const at = writtenAt(head.written_at);
  const entries = facts.map((fact) => ({
    id: fact.id ?? uuid7(),
    kind: fact.kind,
    about: fact.about,
    measured_at: fact.measured_at,
    written_at: at,
    by: fact.by,
    body: canonical(fact.body),
    strikes: null,
    reason: "",
  }));
  return chained(entries, head, device);
}

/**
 * The same entries with their places after `head`: for entries that no record holds yet.
 * @param {any[]} entries @param {{sequence: number, digest: string}} head @param {string} device
 * @returns {Promise<Entry[]>}
 */
export async function chained(entries, head, device) {
  const placed = [];
  let { sequence, digest } = head;
  for (const entry of entries) {
    const next = { ...entry, device, sequence: (sequence += 1), previous: digest };
    digest = await sha256(JSON.stringify(ORDER.map((name) => next[name])));
    placed.push({ ...next, digest });
  }
  return placed;
}

/** @param {Entry[]} entries at least one @returns {Head} */
export function headOf(entries) {
  const { sequence, digest, written_at } = entries[entries.length - 1];
  return { sequence, digest, written_at };
}

/** Local time as a form field has it. @param {Date} [moment] */
export function localTime(moment = new Date()) {
  return new Date(moment.getTime() - moment.getTimezoneOffset() * 60_000).toISOString().slice(0, 16);
}

/** A local time with the offset this device has then: 2026-05-14T10:20+01:00. @param {string} local */
export function withOffset(local) {
  const minutes = -new Date(local).getTimezoneOffset();
  const two = (number) => String(Math.trunc(number)).padStart(2, "0");
  return `${local}${minutes < 0 ? "-" : "+"}${two(Math.abs(minutes) / 60)}:${two(Math.abs(minutes) % 60)}`;
}
