/**
 * Reading sets as they are kept while the visit is written, and as they go into an entry. Nothing here touches the page.
 *
 * @typedef {import("./forms.js").Field} Field
 * @typedef {Record<string, any>} Repeat one lowering: {value} or {hold, cut}; out: crossed out, but kept
 * @typedef {{id: number, method: string, into: string, read: Record<string, any>, repeats: Repeat[], seen: boolean,
 *   level_m?: number | null}} ReadingSet
 *   into: the field the repeats belong to; seen: the first reading was written, so the history may be shown; level_m: the
 *   level it gives, m below land surface, null for none
 */

import { body, fault, faults, inWords, plain } from "./forms.js";
import { gearOf, namesGear } from "./pack.js";

/** The fields of a method, sorted by when they are asked. @param {{fields: Field[]}} form */
export function sorted(form) {
  const repeats = form.fields.filter((field) => field.several);
  const single = form.fields.filter((field) => !field.several);
  const gear = single.filter(namesGear);
  const rest = single.filter((field) => !namesGear(field));
  const first = rest.filter((field) => field.required || ["first", "moving"].includes(field.asked ?? ""));
  return { repeats, gear, first, later: rest.filter((field) => !first.includes(field)) };
}

/**
 * A new set with the usual gear of the well in hand.
 * @param {any} pack @param {any} well @param {string} method @param {number} id @returns {ReadingSet}
 */
export function newSet(pack, well, method, id) {
  const usual = Object.entries(well.usual_gear?.[method] ?? {}).filter(([, serial]) => gearOf(pack, serial));
  const { repeats } = sorted(pack.forms.methods[method]);
  return { id, method, into: repeats[0].name, read: Object.fromEntries(usual), repeats: [{}], seen: false };
}

/** The field the repeats belong to, and what is written for each repeat. @param {any} pack @param {ReadingSet} set */
export function repeatFields(pack, set) {
  const field = pack.forms.methods[set.method].fields.find((one) => one.name === set.into);
  return { field, each: field.kind === "form" ? field.fields : [{ ...field, name: "value", several: false }] };
}

/** @param {Field[]} each @param {Repeat} repeat */
const begun = (each, repeat) => each.some((field) => repeat[field.name]);

/** @param {Field[]} each @param {Repeat} repeat */
export const whole = (each, repeat) => each.every((field) => repeat[field.name] && !fault(field, repeat[field.name]));

/** Repeats that count, each with its place among all. @param {any} pack @param {ReadingSet} set */
export function counted(pack, set) {
  const { each } = repeatFields(pack, set);
  return set.repeats
    .map((repeat, place) => ({ repeat, place }))
    .filter(({ repeat }) => !repeat.out && whole(each, repeat));
}

/** Whether anything was read in this set, crossed out or not. @param {any} pack @param {ReadingSet} set */
export const hasReadings = (pack, set) => set.repeats.some((repeat) => begun(repeatFields(pack, set).each, repeat));

/**
 * What was read as a body has it; what was crossed out stands in the remarks.
 * @param {any} pack @param {ReadingSet} set
 */
export function readOf(pack, set) {
  const { field, each } = repeatFields(pack, set);
  const { gear, first, later } = sorted(pack.forms.methods[set.method]);
  const one = (repeat) => (field.kind === "form" ? body(each, repeat) : plain(each[0], repeat.value));
  const out = set.repeats.filter((repeat) => repeat.out && begun(each, repeat)).map((repeat) => inLine(each, repeat));
  const remarks = [set.read.remarks, out.length ? `crossed out: ${out.join("; ")}` : ""].filter(Boolean).join("; ");
  const read = body([...gear, ...first, ...later], { ...set.read, remarks });
  const readings = counted(pack, set).map(({ repeat }) => one(repeat));
  return readings.length ? { ...read, [set.into]: readings } : read;
}

/** @param {Field[]} each @param {Repeat} repeat */
export function inLine(each, repeat) {
  return each
    .map((f) => `${f.name === "value" ? "" : `${inWords(f.name)} `}${plain(f, repeat[f.name]) ?? "–"}`)
    .join(", ");
}

/** What hinders this set from being read back as it was meant. @param {any} pack @param {ReadingSet} set */
export function setFaults(pack, set) {
  const { each } = repeatFields(pack, set);
  const { first, later, gear } = sorted(pack.forms.methods[set.method]);
  const halves = set.repeats.flatMap((repeat, place) => {
    if (repeat.out || !begun(each, repeat)) return [];
    const open = each.filter((field) => !repeat[field.name]).map((f) => inWords(f.name));
    const wrong = each.map((field) => fault(field, repeat[field.name])).find(Boolean);
    const message = wrong ?? (open.length ? `reading ${place + 1} has no ${open.join(" and ")}` : "");
    return message ? [{ place: `repeat ${place}`, message, unfinished: !wrong }] : [];
  });
  return [...faults([...gear, ...first, ...later], set.read), ...halves];
}
