/**
 * Fields from the pack's forms: how each is asked on the sheet, what is wrong with what was typed, and what goes into the body.
 *
 * @typedef {{name: string, kind: string, help: string, required?: boolean, several?: boolean, choices?: string[],
 *   unit?: string, fields?: Field[], asked?: string, gear?: string[]}} Field
 *   asked: "first", "moving", "", "seldom"; gear: types of gear it names; both missing in packs of an earlier version
 */

import { chips, el, fill, labelled } from "./dom.js";

const NUMBER = /^([+\-−]?)(\d+(?:[.,]\d*)?|[.,]\d+)\s*(\D.*)?$/;
/** Units offered beside the usual one: a gauge shows what it shows. */
const OTHER_UNITS = /** @type {Record<string, string[]>} */ ({
  duration: ["h", "min", "d"],
  pressure: ["psi", "kPa", "bar"],
  temperature: ["degF", "degC"],
});
/** Numbers that may lie on either side of nothing: the two sides in words, plus first. */
const SIDES = /** @type {Record<string, string[]>} */ ({
  gauge_above_point: ["above", "below"],
  temperature: ["above zero", "below zero"],
  temp_gradient: ["warmer down the hole", "colder down the hole"],
});
const WORDS = ["text", "choice", "flag", "when", "since", "form"];
/** How long ago, where nobody can give a time; and every way to write since when (values/forms.py). */
const SINCE = ["lately", "long ago", "not known"];
const SINCE_TEXT = /^(\d{1,2}:\d\d|\d{4}-\d\d-\d\d([T ]\d\d:\d\d.*)?|\d+([.,]\d*)? ?(s|min|h|d|yr))$/;

/** @param {Field} field */
export const isNumber = (field) => !WORDS.includes(field.kind);

/** @param {string} name */
export const inWords = (name) => name.replaceAll("_", " ").replace(/\bu\b/, "uncertainty");

/** Text the record takes: whole characters, no control characters, no blanks around it. @param {any} text */
export function clean(text) {
  const whole = [...String(text)].filter((c) => !/^[\uD800-\uDFFF]$/.test(c));
  return whole
    .filter((c) => c >= " " || c === "\n" || c === "\t")
    .join("")
    .trim();
}

/** A number as typed in its parts, or null. @param {string} text @param {string} unit */
function parts(text, unit) {
  const [, sign = "", digits = "", typed = ""] = NUMBER.exec(String(text).trim()) ?? [];
  return digits ? { sign: sign === "−" ? "-" : sign, digits, unit: typed.trim() || unit } : null;
}

/**
 * What is wrong with one value as typed, "" when nothing is.
 * @param {Field} field @param {any} value @returns {string}
 */
export function fault(field, value) {
  if (field.kind === "since" && value && !SINCE.includes(value) && !SINCE_TEXT.test(String(value).trim()))
    return `“${value}” tells no time; write it like 09:40, 40 min or 3 d`;
  if (!isNumber(field) || value === undefined || value === "") return "";
  const read = parts(value, field.unit ?? "");
  if (!read) return `“${value}” is not a number; write it like 84.30`;
  const units = [field.unit ?? "", ...(OTHER_UNITS[field.kind] ?? []), ...(field.kind === "length" ? ["ft", "m"] : [])];
  return units.includes(read.unit) ? "" : `“${read.unit}” is no unit known here; write the number alone`;
}

/**
 * One value as its body has it: text; numbers with their unit. undefined when nothing was given.
 * @param {Field} field @param {any} value @returns {any}
 */
export function plain(field, value) {
  if (field.several && Array.isArray(value)) {
    const given = value.map((one) => plain({ ...field, several: false }, one)).filter((one) => one !== undefined);
    return given.length ? given : undefined;
  }
  if (field.kind === "form") {
    const group = body(field.fields ?? [], value ?? {});
    return Object.keys(group).length ? group : undefined;
  }
  if (field.kind === "flag") return value ? true : undefined;
  const text = clean(value ?? "");
  if (!text || !isNumber(field)) return text || undefined;
  const read = parts(text, field.unit ?? "");
  if (!read) return text;
  const digits = read.digits.replace(",", ".");
  return `${read.sign}${digits.startsWith(".") ? "0" : ""}${digits} ${read.unit}`.trim();
}

/** The body of a group: only what was given. @param {Field[]} fields @param {Record<string, any>} values */
export function body(fields, values) {
  const given = fields.map((field) => [field.name, plain(field, values[field.name])]);
  return Object.fromEntries(given.filter(([, value]) => value !== undefined));
}

/**
 * Faults of a group with their places; unfinished: nothing wrong was typed, but something is still to be written.
 * @param {Field[]} fields @param {Record<string, any>} values @param {string} [at]
 * @returns {{place: string, message: string, unfinished: boolean}[]}
 */
export function faults(fields, values, at = "") {
  return fields.flatMap((field) => {
    const place = at + field.name;
    const value = values[field.name];
    if (field.kind === "form" && !field.several) return faults(field.fields ?? [], value ?? {}, `${place}.`);
    if (Array.isArray(value)) return [];
    const wrong = fault(field, value);
    const message = wrong || (field.required && !value ? `${inWords(field.name)} is missing: ${field.help}` : "");
    return message ? [{ place, message, unfinished: !wrong }] : [];
  });
}

/**
 * A field to fill in.
 * @param {Field} field
 * @param {Record<string, any>} holder where what is typed is kept, under the field's name
 * @param {string} id
 * @param {() => void} changed after every keystroke
 * @param {string} [at] the group it stands in, as "hanging."
 * @returns {HTMLElement}
 */
export function control(field, holder, id, changed, at = "") {
  const label = inWords(field.name);
  const change = (value) => {
    holder[field.name] = value;
    changed();
  };
  if (field.kind === "form") {
    const group = (holder[field.name] ??= {});
    return el(
      "div",
      { class: "group" },
      (field.fields ?? []).map((f) => control(f, group, `${id}-${f.name}`, changed, `${at}${field.name}.`)),
    );
  }
  if (field.kind === "choice" || field.kind === "flag") {
    const words = field.choices?.length ? field.choices : ["yes"];
    const is = (word) => (field.kind === "flag" ? Boolean(holder[field.name]) : holder[field.name] === word);
    const press = (word) => change(is(word) ? "" : field.kind === "flag" ? true : word);
    return el(
      "div",
      { class: "field" },
      el("span", { class: "label" }, label),
      el("span", { class: "help" }, field.help),
      chips(label, words, is, press),
      problemAt(at + field.name),
    );
  }
  if (field.kind === "since") return since(field, holder, id, change, at);
  const made = isNumber(field) ? number(field, holder, id, label, changed) : text(field, holder, id, change);
  const row = labelled(label, made.input, field.help.replace(/; minus when \w+/, "")); // a switch asks for the side
  row.append(...made.beside, problemAt(at + field.name));
  return row;
}

/** Since when: a time or how long, or one of the words for what nobody can time. */
function since(field, holder, id, change, at) {
  const input = el("input", { id, autocomplete: "off", value: holder[field.name] ?? "" });
  const row = labelled(inWords(field.name), input, "09:40, 40 min, 3 d, or");
  const words = chips(
    `${inWords(field.name)}, in words`,
    SINCE,
    (word) => holder[field.name] === word,
    (word) => {
      input.value = holder[field.name] === word ? "" : word;
      change(input.value);
    },
  );
  input.addEventListener("input", () => {
    change(input.value);
    for (const one of words.children) one.setAttribute("aria-pressed", String(one.textContent === input.value));
  });
  row.append(words, problemAt(at + field.name));
  return row;
}

/**
 * @param {Field} field
 * @param {Record<string, any>} holder @param {string} id @param {(value: string) => void} change
 */
function text(field, holder, id, change) {
  const long = ["remarks", "why_chosen"].includes(field.name);
  const input = el(long ? "textarea" : "input", {
    id,
    rows: long ? "2" : null,
    autocomplete: "off",
    value: holder[field.name] ?? "",
  });
  input.addEventListener("input", () => change(input.value));
  return { input, beside: [] };
}

/**
 * A number, the keypad it needs, its unit, and a switch for its side where it may lie on either side of nothing.
 * @param {Field} field @param {Record<string, any>} holder @param {string} id @param {string} label @param {() => void} changed
 */
export function number(field, holder, id, label, changed) {
  const sides = SIDES[field.name] ?? SIDES[field.kind];
  const units = OTHER_UNITS[field.kind];
  const start = parts(holder[field.name] ?? "", field.unit ?? "");
  const now = { side: sides && start?.sign === "-" ? sides[1] : sides?.[0], unit: start?.unit ?? field.unit ?? "" };
  const typed = start && (sides || units) ? `${sides ? "" : start.sign}${start.digits}` : (holder[field.name] ?? "");
  const input = el("input", {
    id,
    value: typed,
    inputmode: "decimal",
    autocomplete: "off",
    enterkeyhint: "next",
    class: "number",
  });
  const keep = () => {
    const sign = sides && now.side === sides[1] && input.value ? "-" : "";
    holder[field.name] =
      input.value && `${sign}${input.value}${units && now.unit !== field.unit ? ` ${now.unit}` : ""}`;
    changed();
  };
  input.addEventListener("input", keep);
  const beside = [];
  if (units) {
    const known = [...new Set([now.unit, ...units])];
    const select = el(
      "select",
      { id: `${id}-unit`, "aria-label": `unit of ${label}`, class: "unit" },
      known.map((unit) => el("option", { value: unit, selected: unit === now.unit }, said(unit))),
    );
    select.addEventListener("change", () => {
      now.unit = select.value;
      keep();
    });
    beside.push(select);
  } else if (field.unit) {
    beside.push(el("span", { class: "unit" }, said(field.unit)));
  }
  if (sides)
    beside.push(
      chips(
        `${label}: which side`,
        sides,
        (side) => side === now.side,
        (side) => ((now.side = side), keep()),
      ),
    );
  return { input, beside };
}

/** A unit as people read it. @param {string} unit */
export const said = (unit) => unit.replace("deg", "°");

/** Where what is wrong with a field is told. @param {string} place */
export function problemAt(place) {
  return el("div", { class: "problem", "data-place": place, role: "status" });
}

/**
 * Tell problems where they belong; those without a place of their own come first of all.
 * @param {HTMLElement} within @param {{place: string, message: string, mend?: string}[]} problems
 */
export function tellProblems(within, problems) {
  const slots = /** @type {NodeListOf<HTMLElement>} */ (within.querySelectorAll(".problem"));
  const placed = new Set();
  for (const slot of slots) {
    const mine = problems.filter(
      (one) =>
        one.place === slot.dataset.place ||
        (slot.dataset.place === "" && !placed.has(one) && ![...slots].some((s) => s.dataset.place === one.place)),
    );
    mine.forEach((one) => placed.add(one));
    fill(
      slot,
      mine.map((one) => el("p", {}, one.message, one.mend ? ` — ${one.mend}` : "")),
    );
  }
}

/** A thing that opens. @param {string} title @param {HTMLElement[]} inside @param {boolean} [open] */
export function more(title, inside, open = false) {
  return el("details", { class: "more", open }, el("summary", {}, title), ...inside);
}
