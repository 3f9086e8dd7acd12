/** Packs: everything needed at the wells of a round, taken while there is signal and read without it. */

import { FIRST } from "./chain.js";
import { ask } from "./office.js";
import { all, answer, get, put, together } from "./store.js";

/** Make this phone known to the office. @param {string} code @param {string} label */
export async function pair(code, label) {
  const { device, key, network } = await ask("/sheet/pair", { method: "POST", json: { code, label }, open: true });
  await together(["facts"], async (store) => {
    store("facts").put({ name: "device", device, key, network, label });
    return answer(store("facts").put({ name: "chain", sequence: 0, digest: FIRST, written_at: "" }));
  });
  await navigator.storage?.persist?.();
}

/** The rounds to choose from: those of the office when it can be reached, and those taken. */
export async function rounds() {
  const taken = (await all("packs")).map(({ id, pack }) => ({ ...pack.round, id, made_at: pack.made_at, taken: true }));
  try {
    const { rounds: open } = await ask("/sheet/rounds.json");
    const news = open.filter((round) => !taken.some((one) => one.id === round.id));
    return { list: [...taken, ...news], why: "" };
  } catch (error) {
    return { list: taken, why: /** @type {Error} */ (error).message };
  }
}

/** Take a round with its photos. Photos that do not come are left for the next time. @param {string} id */
export async function take(id) {
  const pack = await ask(`/sheet/packs/${encodeURIComponent(id)}.json`);
  await put("packs", { id, pack, taken_at: new Date().toISOString() });
  let missed = 0;
  for (const { sha256, media_type } of pack.wells.flatMap((well) => well.photos ?? [])) {
    if (await get("pictures", sha256)) continue;
    try {
      await put("pictures", { sha256, media_type, bytes: await ask(`/sheet/blobs/${sha256}`, { raw: true }) });
    } catch {
      missed += 1;
    }
  }
  return missed;
}

/** @param {any} pack @param {string} code */
export const wellOf = (pack, code) => pack.wells.find((well) => well.code === code);

/**
 * The measuring point in force on a day, by name when one is named.
 * @param {any} well @param {string} day @param {string} [name]
 */
export function pointOn(well, day, name = "") {
  const named = (well.points ?? []).filter((point) => !name || point.name === name);
  return named.filter((point) => (point.from ?? "") <= day).at(-1) ?? null;
}

/** @param {any} pack @param {string} serial */
export const gearOf = (pack, serial) => pack.gear.find((piece) => piece.serial === serial);

/**
 * Whether a field takes a serial number of gear. Packs before version 4 say it in words only.
 * @param {import("./forms.js").Field} field
 */
export const namesGear = ({ gear, help }) => (gear ? gear.length > 0 : help.startsWith("serial number of"));

/** Serial numbers a set names. @param {any} pack @param {{method: string, read: Record<string, any>}} set */
const serialsOf = (pack, set) =>
  pack.forms.methods[set.method].fields.filter(namesGear).map(({ name }) => set.read[name]).filter(Boolean);

/** What is known of a piece's calibration, in words, and whether it is overdue. @param {any} piece */
export function calibrationOf(piece) {
  const last = piece?.calibrations?.at(-1);
  const when = last ? `calibrated ${last.on.slice(0, 10)}` : "no calibration on record";
  return { words: piece?.overdue ? `${when}: check overdue` : when, overdue: Boolean(piece?.overdue) };
}

/** A body without what the pack adds to it. @param {any} given @param {...string} added */
export function bodyOf(given, ...added) {
  if (!given) return null;
  return Object.fromEntries(Object.entries(given).filter(([name]) => !added.includes(name)));
}

/**
 * Everything the engine needs beside the readings of a set.
 * @param {any} pack @param {any} well
 * @param {{method: string, read: Record<string, any>, when: string, seen: any}} set
 * @param {boolean} [whole] with all gear of the pack, not only the pieces named
 */
export function given(pack, well, set, whole = false) {
  const serials = serialsOf(pack, set);
  const gear = pack.gear.filter((piece) => whole || serials.includes(piece.serial));
  const dated = gear.map((piece) =>
    piece.calibrations?.filter((c) => c.on.slice(0, 10) <= set.when.slice(0, 10)).at(-1),
  );
  const around = {
    point: bodyOf(pointOn(well, set.when.slice(0, 10), set.read.point), "from"),
    position: well.position,
    construction: well.construction,
  };
  return {
    length_unit: pack.network.length_unit,
    settings: pack.network.settings,
    vertical_datum: pack.network.vertical_datum,
    when: set.when,
    seen: set.seen,
    gear: gear.map((piece) => bodyOf(piece, "calibrations", "overdue")),
    calibrations: dated.filter(Boolean),
    ...Object.fromEntries(Object.entries(around).filter(([, body]) => body)),
    method: set.method,
    ...set.read,
  };
}

/**
 * What the engine needs to say what the well should show that day. A pack of the first version has the range itself.
 * @param {any} pack @param {any} well @param {{what: string, when: string, seen: any[]}} asked
 */
export function expecting(pack, well, { what, when, seen }) {
  if (pack.pack_version < 2 || !well.expected) return null;
  return { what, day: when.slice(0, 10), length_unit: pack.network.length_unit, expected: well.expected, seen };
}

/** Other wells that a reading is held against: the nearest ones are the ones that are mistaken. */
const NEAREST = 5;
/** Wells closer than this, m, are easily taken for one another; as in work/expected/explaining.py. */
const EASILY_MISTAKEN_M = 50;
const M_PER_DEGREE = 111_195;

/** How far two wells lie apart, m, well enough to tell which is nearer. @param {any} a @param {any} b */
function apart(a, b) {
  const places = [a.latitude, a.longitude, b.latitude, b.longitude];
  if (places.some((one) => one === null || one === undefined)) return 1e6;
  const [lat, lon, lat2, lon2] = places.map(Number);
  return M_PER_DEGREE * Math.hypot(lat2 - lat, (lon2 - lon) * Math.cos((lat * Math.PI) / 180));
}

/**
 * What the engine needs to say why a reading may be unlike its well: the other points of it, the other wells.
 * @param {any} pack @param {any} well @param {any} set as for `given` @param {any} asked as `expecting` made it
 */
export function explaining(pack, well, set, asked) {
  const day = set.when.slice(0, 10);
  const now = pointOn(well, day, set.read.point);
  const points = (well.points ?? []).filter((point) => point !== now).map((point) => bodyOf(point, "from"));
  const others = pack.wells
    .filter((other) => other.code !== well.code && other.expected)
    .sort((a, b) => apart(well, a) - apart(well, b))
    .slice(0, NEAREST)
    .map((other) => ({
      code: other.code,
      expected: other.expected,
      point: bodyOf(pointOn(other, day), "from"),
      nearness: 1 / (1 + apart(well, other) / EASILY_MISTAKEN_M),
    }));
  return { ...given(pack, well, set, true), explaining: { expecting: asked, points, others } };
}

/** Where a level found in this round is kept. @param {string} round @param {string} code */
export const levelName = (round, code) => `level ${round}/${code}`;

/**
 * Levels found in this round at wells that move together with this one, each with what was expected there.
 * @param {any} pack @param {any} well
 */
export async function levelsNear(pack, well) {
  const codes = (well.expected?.level?.neighbours ?? []).map((one) => one.code);
  const kept = await Promise.all(codes.map((code) => get("facts", levelName(pack.round.id, code))));
  return kept
    .filter(Boolean)
    .map(({ code, day, depth_m }) => ({ code, day, depth_m, expected: wellOf(pack, code)?.expected }))
    .filter((one) => one.expected);
}
