/**
 * What was closed goes to the office from here, as often as it takes. The office answers the same entry twice calmly,
 * so a lost answer costs nothing; what it refuses or keeps aside stays on the phone with the reason.
 *
 * @typedef {import("./chain.js").Entry} Entry
 * @typedef {import("./chain.js").Head} Head
 * @typedef {{id: string, entry: Entry, round: string, code: string, state: "waiting" | "sent" | "aside" | "refused",
 *   why: string}} Row
 */

import { chained, headOf, written } from "./chain.js";
import { OfficeSaysNo, ask } from "./office.js";
import { all, answer, get, remove, together } from "./store.js";

const MOST_ENTRIES = 200;
const MOST_CHARACTERS = 1_000_000;
/** Entries the office has stay here too, should its record be put back from a backup; the oldest go beyond this many. */
const MOST_KEPT = 1000;

/** How the last sending went: "", "sending", "no signal", "pair again" or "the office said no"; said: in words. */
export const line = { state: "", said: "", at: "" };

/** @param {string} state @param {string} said */
function become(state, said) {
  Object.assign(line, { state, said, at: new Date().toISOString() });
  dispatchEvent(new Event("outbox"));
}

/**
 * Close a visit: its entries into the outbox, the chain moved on and the draft gone, or none of it. A draft that is
 * gone was closed already, so closing twice makes nothing twice.
 * @param {{key: string, round: string, code: string}} draft
 * @param {import("./chain.js").Fact[]} facts
 * @returns {Promise<number>} how many entries were made
 */
export async function close(draft, facts) {
  const device = await get("facts", "device");
  for (;;) {
    const head = await get("facts", "chain");
    const entries = await written(facts, head, device.device);
    const kept = await together(["drafts", "outbox", "facts"], async (store) => {
      if (!(await answer(store("drafts").get(draft.key)))) return 0;
      if ((await answer(store("facts").get("chain"))).digest !== head.digest) return -1;
      for (const entry of entries) store("outbox").add(rowOf(entry, draft));
      store("facts").put({ name: "chain", ...headOf(entries) });
      await answer(store("drafts").delete(draft.key));
      return entries.length;
    });
    if (kept >= 0) {
      dispatchEvent(new Event("outbox"));
      return kept;
    }
  }
}

/** @param {Entry} entry @param {{round: string, code: string}} draft @returns {Row} */
function rowOf(entry, { round, code }) {
  return { id: entry.id, entry, round, code, state: "waiting", why: "" };
}

/** Rows in the order they were written. @returns {Promise<Row[]>} */
export async function rows() {
  return (await all("outbox")).sort((a, b) =>
    a.entry.written_at === b.entry.written_at
      ? a.entry.sequence - b.entry.sequence
      : a.entry.written_at < b.entry.written_at
        ? -1
        : 1,
  );
}

/** Photos of closed visits that the office has not got. @param {Row[]} closed */
async function photosOwed(closed) {
  const named = new Set(closed.filter((r) => r.entry.kind === "document").map((r) => JSON.parse(r.entry.body).sha256));
  return (await all("photos")).filter((photo) => named.has(photo.sha256));
}

/** How many entries and photos wait, and the rows that need a person. */
export async function standing() {
  const closed = await rows();
  const waiting = closed.filter((row) => row.state === "waiting").length;
  return { closed, waiting, photos: (await photosOwed(closed)).length, told: closed.filter((row) => row.why) };
}

/** Asked to send while sending: the signal may have come back in the middle, so it is tried once more. */
let askedAgain = false;

/** Send everything that waits. */
export async function send() {
  await navigator.locks.request("tapedown-sending", { ifAvailable: true }, async (lock) => {
    askedAgain = !lock;
    if (!lock) return;
    do {
      askedAgain = false;
      await sendOnce();
    } while (askedAgain);
  });
}

async function sendOnce() {
  const { waiting, photos } = await standing();
  if (!waiting && !photos) return;
  become("sending", "sending");
  try {
    await sendEntries();
    await sendPhotos();
    await letGo();
    become("", "everything is at the office");
  } catch (error) {
    if (!(error instanceof OfficeSaysNo)) throw error;
    const state = error.status === 0 ? "no signal" : error.status === 401 ? "pair again" : "the office said no";
    become(state, error.message);
  }
}

async function sendEntries() {
  const { device } = await get("facts", "device");
  let head = await ask("/sheet/head.json");
  for (;;) {
    const owed = (await rows()).filter((row) => isOwed(row, device, head));
    if (!owed.length) return;
    if (owed.some((row) => row.entry.device !== device)) {
      await placeAgain(owed, head, device);
      continue;
    }
    const batch = firstOf(owed);
    const { receipts, head: after } = await ask("/sheet/entries", {
      method: "POST",
      json: { entries: batch.map((row) => row.entry) },
    });
    head = after;
    const refused = await note(batch, receipts);
    if (refused) await mend(refused, owed, head, device);
  }
}

/**
 * Waiting, or sent once but lost at the office (a record put back from a backup).
 * @param {Row} row @param {string} device @param {Head} head
 */
function isOwed({ state, entry }, device, head) {
  return state === "waiting" || (state !== "refused" && entry.device === device && entry.sequence > head.sequence);
}

/** @param {Row[]} owed */
function firstOf(owed) {
  let characters = 0;
  return owed.slice(0, MOST_ENTRIES).filter((row, place) => {
    characters += JSON.stringify(row.entry).length;
    return place === 0 || characters < MOST_CHARACTERS;
  });
}

/**
 * Keep what the office said of a batch; gives the first row it refused.
 * @param {Row[]} batch @param {{id: string, outcome: string, why: string}[]} receipts
 */
async function note(batch, receipts) {
  const states = /** @type {Record<string, Row["state"]>} */ ({
    entered: "sent",
    "already there": "sent",
    "kept aside": "aside",
  });
  const said = new Map(receipts.map((receipt) => [receipt.id, receipt]));
  if (batch.some((row) => !said.has(row.id))) throw new OfficeSaysNo(200, "the office did not answer for every entry");
  const taken = batch.filter((row) => said.get(row.id)?.outcome !== "refused");
  await keep(
    taken.map((row) => ({ ...row, state: states[said.get(row.id)?.outcome ?? ""], why: said.get(row.id)?.why ?? "" })),
  );
  const refused = batch.find((row) => !taken.includes(row));
  return refused ? { row: refused, why: said.get(refused.id)?.why ?? "" } : null;
}

/**
 * A refused entry that stood in the wrong place of the chain is placed again; any other is kept here with the reason,
 * and those behind it move up.
 * @param {{row: Row, why: string}} refused @param {Row[]} owed @param {Head} head @param {string} device
 */
async function mend({ row, why }, owed, head, device) {
  const inPlace = row.entry.sequence === head.sequence + 1 && row.entry.previous === head.digest;
  if (inPlace) await keep([{ ...row, state: "refused", why }]);
  const ids = owed.map((one) => one.id);
  const left = (await rows()).filter(
    (one) => one.state === "waiting" || (ids.includes(one.id) && isOwed(one, device, head)),
  );
  await placeAgain(left, head, device);
}

/**
 * Entries no record holds yet get new places after `head`.
 * @param {Row[]} owed @param {{sequence: number, digest: string}} head @param {string} device
 */
async function placeAgain(owed, head, device) {
  const chain = await get("facts", "chain");
  const entries = await chained(
    owed.map((row) => row.entry),
    head,
    device,
  );
  await together(["outbox", "facts"], async (store) => {
    if ((await answer(store("facts").get("chain"))).digest !== chain.digest) return; // closed a visit meanwhile: next time
    owed.forEach((row, place) => store("outbox").put({ ...row, entry: entries[place], state: "waiting" }));
    const end = entries.length ? headOf(entries) : { ...chain, sequence: head.sequence, digest: head.digest };
    await answer(store("facts").put({ name: "chain", ...end }));
  });
}

/** @param {Row[]} changed */
async function keep(changed) {
  await together(["outbox"], async (store) => {
    for (const row of changed) store("outbox").put(row);
  });
}

async function letGo() {
  const sent = (await rows()).filter((row) => row.state === "sent");
  await together(["outbox"], async (store) => {
    for (const { id } of sent.slice(0, -MOST_KEPT)) store("outbox").delete(id);
  });
}

async function sendPhotos() {
  let refused = /** @type {OfficeSaysNo | null} */ (null);
  for (const { sha256, media_type, bytes } of await photosOwed(await rows())) {
    try {
      await ask(`/sheet/blobs/${sha256}`, { method: "PUT", bytes, type: media_type });
      await remove("photos", sha256);
    } catch (error) {
      if (!(error instanceof OfficeSaysNo) || error.status === 0 || error.status === 401) throw error;
      refused ??= error; // the other photos still go
    }
  }
  if (refused) throw refused;
}
