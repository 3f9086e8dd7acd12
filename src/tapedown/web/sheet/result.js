/** What the engine makes of a set, and what is known of the well, in words a person at the well can use. */

import { el, told } from "./dom.js";
import { more } from "./forms.js";

const FOOT_M = 0.3048;
const WEIGHTS = /** @type {Record<string, string>} */ ({
  stop: "Do not use as it stands",
  look: "Look again",
  note: "Worth knowing",
});

/** A length in the network's unit. @param {number} length_m @param {string} unit @param {number} decimals */
const say = (length_m, unit, decimals) => `${(length_m / (unit === "ft" ? FOOT_M : 1)).toFixed(decimals)} ${unit}`;

/** An uncertainty: two digits of it are enough. @param {number} u_m @param {string} unit */
function sayUncertainty(u_m, unit) {
  const u = u_m / (unit === "ft" ? FOOT_M : 1);
  return `${u.toFixed(u > 0 ? Math.max(0, Math.min(4, 1 - Math.floor(Math.log10(u)))) : 2)} ${unit}`;
}

/**
 * Whether a value lies where it is expected.
 * @param {any} value @param {any} expected the range for the day; null for none, undefined while it is worked out
 * @param {string} unit @param {boolean} explained whether what to do is said elsewhere
 */
function againstExpected(value, expected, unit, explained) {
  if (expected === undefined) return told("plain", "What this well should show comes with the value.");
  if (!expected) return told("plain", "Nothing was read here before, so no range is expected.");
  const ends = `${say(expected.low_m, unit, 2)} to ${say(expected.high_m, unit, 2)} below land surface`;
  const rests = el("span", { class: "next" }, `It rests on: ${expected.how}.`);
  const main = value && mainResult(value);
  if (main?.name !== "depth below land surface") return told("plain", `Expected in 19 readings of 20: ${ends}. `, rests);
  const inside = main.value_m >= expected.low_m && main.value_m <= expected.high_m;
  return inside
    ? told("good", `Within the expected range, 19 readings in 20: ${ends}. `, rests)
    : told(
        "look",
        el("strong", {}, "Outside the expected range. "),
        `19 readings in 20 lie at ${ends}. ${explained ? "" : "Take one more reading; read the foot mark aloud. "}`,
        rests,
      );
}

/** Why a reading may be unlike its well, and the one thing to do now. @param {any} explained */
function explanations(explained) {
  if (!explained?.surprising) return [];
  const rows = explained.ranked.map((one) =>
    el(
      "li",
      {},
      el("strong", {}, one.name),
      `, ${one.likely} (${one.percent}): ${one.words}.`,
      one.corrected ? ` Then it is ${one.corrected} below land surface.` : "",
    ),
  );
  return [
    told(
      "look",
      el("strong", {}, "Unlike this well. "),
      "What may have happened, the likeliest first; the reading stays as it was written:",
      el("ol", { class: "why" }, rows),
      el("span", { class: "next" }, el("strong", {}, "Do now: "), explained.action),
    ),
  ];
}

/** What a method finds. @param {string} method */
export const whatOf = (method) => (method === "weighted tape" ? "bottom" : "level");

/** @param {any} value */
const mainResult = (value) => value.stages.map((stage) => stage.result).find((r) => r.name === value.main);

/** The value in large figures; a bound as a bound. @param {any} value @param {any} main */
function headline(value, main) {
  const figure = `${value.reported} ${value.unit}`;
  const bound = { "deeper than": `deeper than ${figure}`, "no value": `no value: the tape reached ${figure}` }[
    value.use
  ];
  if (bound) return el("p", { class: "value" }, el("span", { class: "figure" }, bound));
  return el(
    "p",
    { class: "value" },
    el("span", { class: "figure" }, figure),
    ` ± ${sayUncertainty(main.expanded_m, value.unit)}`,
  );
}

/** A reduction: the value, how the repeats agree, what to look at, and every step behind it. @param {any} value */
export function reduction(value) {
  const main = mainResult(value);
  const findings = value.findings.map((found) =>
    told(
      found.weight === "note" ? "plain" : found.weight,
      el("strong", {}, `${WEIGHTS[found.weight]}: `),
      found.message,
      found.hint ? el("span", { class: "next" }, `What to do: ${found.hint}`) : "",
    ),
  );
  if (!main) return [told("plain", value.use), ...findings];
  const others = value.stages.map((stage) => stage.result).filter((one) => one !== main);
  return [
    headline(value, main),
    el("p", {}, `${main.name}, ${value.use}`, main.value_m < 0 ? ": the water stands above it" : ""),
    el("p", {}, value.agreement),
    ...findings,
    more("How it was worked out", [
      ...others.map((one) =>
        el("p", {}, `${one.name}: ${say(one.value_m, value.unit, 3)} ± ${sayUncertainty(one.expanded_m, value.unit)}`),
      ),
      ...value.stages.map((stage) => steps(stage, value.unit)),
      ...value.one_sided.map((one) => el("p", {}, `Only one way: ${one.what} (${one.source})`)),
      el("p", {}, `Digits: to ${value.digits.step} ${value.digits.unit}, ${value.digits.reason}`),
    ]),
  ];
}

/** @param {any} stage @param {string} unit */
function steps(stage, unit) {
  const lines = stage.steps.map((step) =>
    el(
      "li",
      {},
      el("span", { class: "amount" }, `${step.amount_m < 0 ? "−" : "+"} ${say(Math.abs(step.amount_m), unit, 4)}`),
      ` ${step.what}`,
      step.note ? `: ${step.note}` : "",
    ),
  );
  const end = el(
    "li",
    { class: "sum" },
    el("span", { class: "amount" }, `= ${say(stage.result.value_m, unit, 4)}`),
    ` ${stage.result.name}`,
  );
  return el("ol", { class: "steps" }, lines, end);
}

/**
 * What is known of the well from before: shown only when the first reading stands.
 * @param {any} well @param {string} method
 * @param {{value: any, expected: any, explained: any}} found the reduction, or null; the range for the day
 *   (`againstExpected`); why it may be unlike the well, null while nothing is said @param {string} unit
 */
export function history(well, method, { value, expected, explained }, unit) {
  if (well.again) return [told("plain", "A blind repeat: what was read here before stays in the office.")];
  const bottom = whatOf(method) === "bottom";
  const last = (well.last ?? []).filter((one) => (one.what === "weighted tape") === bottom);
  const rows = last.map((one) =>
    el(
      "li",
      {},
      el("span", { class: "amount" }, one.text),
      ` ${one.when.slice(0, 10)}, ${one.what}, ${one.quality}`,
      one.noted?.length ? `, ${one.noted.join(", ")}` : "",
    ),
  );
  return [
    againstExpected(value, expected, unit, Boolean(explained?.surprising)),
    ...explanations(explained),
    more("Last readings", [rows.length ? el("ol", { class: "steps" }, rows) : el("p", {}, "None on record.")], true),
  ];
}
