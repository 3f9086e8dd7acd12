/**
 * Section 3: what goes on at the well. A quiet well is one press; else the water, a pump, others near by, the hole, or
 * why there is no reading. What follows is said by the engine.
 *
 * @typedef {import("./visit.js").Visit} Visit
 * @typedef {import("./forms.js").Field} Field
 */

import { button, el, fill, labelled, told } from "./dom.js";
import * as engine from "./engine.js";
import { body, clean, control, fault, more, problemAt, tellProblems } from "./forms.js";

const NONE = "none seen";
const CLEAR = "clear";
const TIDE = "tide or stream";
const OVER = "runs over";
const USUAL = "As usual: nothing going on";

/** The group of facts among the fields of a visit; null on a round taken before the sheet asked for them. @param {any} pack */
export const seenField = (pack) => pack.forms.visit.find((one) => one.name === "seen") ?? null;

/** The body of what was noted. @param {any} pack @param {any} draft */
export const seenBody = (pack, draft) => body(seenField(pack)?.fields ?? [], draft.seen);

/** Whether the water moves while it is read. @param {any} draft */
export const moves = ({ seen }) => (seen.water ?? []).some((word) => word === "rises" || word === "falls");

/** What was noted, in a line. @param {any} draft */
export function seenOf({ seen }) {
  const near = (seen.near_by ?? []).map(({ what }) => (what === NONE ? "nothing near by" : `near by ${what}`));
  return [
    seen.quiet && "as usual, nothing going on",
    ...(seen.water ?? []).map((word) => `water ${word}`),
    seen.pump && (seen.pump === "none" ? "no pump" : `pump ${seen.pump}`),
    ...near,
    ...(seen.in_the_hole ?? []),
    seen.no_reading && `no reading: ${clean(seen.no_reading)}`,
    seen.gone && "the well is gone",
  ]
    .filter(Boolean)
    .join(", ");
}

/** Whether it is said that there is nothing to read. @param {Visit} visit */
export function nothingToRead({ draft: { seen }, said }) {
  const water = seen.water ?? [];
  return (
    Boolean(seen.no_reading || seen.gone || water.includes("not reached") || water.includes("not looked for")) ||
    ["no value", "deeper than"].includes(said?.level)
  );
}

/** What is wrong with what was typed, in words. @param {any} pack @param {any} draft @returns {string[]} */
export function seenFaults(pack, draft) {
  const within = (fields, values) =>
    fields.flatMap((field) => {
      const value = values?.[field.name];
      if (field.kind === "form") return (value ?? []).flatMap((one) => within(field.fields ?? [], one));
      return Array.isArray(value) ? [] : [fault(field, value)].filter(Boolean);
    });
  return within(seenField(pack)?.fields ?? [], draft.seen);
}

/** @param {Visit} visit @returns {any[]} */
export function goingsOn(visit) {
  const { pack, draft } = visit;
  const form = seenField(pack);
  if (!form)
    return [
      told("look", "This round was taken before the sheet was renewed. Take it again at Rounds, or write what goes on in the remarks."),
    ];
  return new Section(visit, form.fields ?? []).parts();
}

/** The section's rows of switches, which all look again after every press. */
class Section {
  /** @param {Visit} visit @param {Field[]} fields */
  constructor(visit, fields) {
    this.visit = visit;
    this.seen = visit.draft.seen;
    this.field = (name) => /** @type {Field} */ (fields.find((one) => one.name === name));
    /** @type {(() => void)[]} */
    this.looks = [];
    this.near = el("div", {});
    this.advice = el("div", { role: "status" });
    this.whole = el("div", {});
  }

  parts() {
    const { seen, visit } = this;
    const usual = this.row("as usual", [USUAL], () => Boolean(seen.quiet), () => (seen.quiet = !seen.quiet), "wide");
    const reason = this.reason();
    const something = Object.keys(body([...this.fieldsBeside()], seen)).length > 0;
    this.showNear();
    fill(
      this.whole,
      usual,
      more("Something goes on", [this.water(), this.pump(), this.nearBy(), this.hole()], something && !seen.no_reading),
      more("No reading today", reason, Boolean(seen.no_reading || seen.gone)),
      problemAt(""),
      this.advice,
    );
    visit.hear("engine", () => this.ask());
    this.look();
    this.ask();
    return [this.whole];
  }

  fieldsBeside() {
    return ["water", "pump", "near_by", "in_the_hole"].map(this.field);
  }

  /** @param {string} name @param {string[]} words @param {(word: string) => boolean} isOn @param {(word: string) => void} press */
  row(name, words, isOn, press, kind = "") {
    const row = el("div", { class: `chips ${kind}`, role: "group", "aria-label": name });
    for (const word of words) {
      row.append(
        button(word, () => {
          press(word);
          if (word !== USUAL) this.seen.quiet = false;
          this.changed();
        }),
      );
    }
    this.looks.push(() => {
      for (const one of row.children) one.setAttribute("aria-pressed", String(isOn(one.textContent ?? "")));
    });
    return row;
  }

  /** A field to fill in that is shown while `when` holds. @param {string} name @param {() => boolean} when */
  beside(name, when) {
    const made = control(this.field(name), this.seen, `seen-${name}`, () => this.changed());
    this.looks.push(() => (made.hidden = !when()));
    return made;
  }

  water() {
    const { seen } = this;
    const has = (word) => (seen.water ?? []).includes(word);
    const press = (word) => {
      const kept = (seen.water ?? []).filter((one) => word === OVER || (one === OVER && word !== "not reached"));
      seen.water = has(word) ? seen.water.filter((one) => one !== word) : [...kept, word];
    };
    return group("The water", [
      this.row("the water", this.field("water").choices ?? [], has, press),
      this.beside("depth_reached", () => has("not reached")),
    ]);
  }

  pump() {
    const { seen } = this;
    const press = (word) => (seen.pump = seen.pump === word ? "" : word);
    return group("A pump in this well", [
      this.row("a pump in this well", this.field("pump").choices ?? [], (word) => seen.pump === word, press),
      this.beside("pump_since", () => Boolean(seen.pump) && seen.pump !== "none"),
    ]);
  }

  hole() {
    const { seen } = this;
    const has = (word) => (seen.in_the_hole ?? []).includes(word);
    const press = (word) => {
      const kept = (seen.in_the_hole ?? []).filter((one) => one !== word && one !== CLEAR);
      seen.in_the_hole = has(word) ? kept : word === CLEAR ? [CLEAR] : [...kept, word];
    };
    return group("In the hole", [
      this.row("in the hole", this.field("in_the_hole").choices ?? [], has, press),
      this.beside("oil_thickness", () => has("oil")),
      this.beside("hung_up_at", () => has("tape hung up")),
    ]);
  }

  nearBy() {
    const { seen } = this;
    const what = this.field("near_by").fields?.find((one) => one.name === "what");
    const has = (word) => (seen.near_by ?? []).some((one) => one.what === word);
    const press = (word) => {
      const kept = (seen.near_by ?? []).filter((one) => one.what !== word && one.what !== NONE);
      seen.near_by = has(word) ? kept : word === NONE ? [{ what: NONE }] : [...kept, { what: word }];
      this.showNear();
    };
    return group("Other wells or works near by", [this.row("near by", what?.choices ?? [], has, press), this.near]);
  }

  /** One group for everything that goes on near by, with which, how far, since when. */
  showNear() {
    const fields = (this.field("near_by").fields ?? []).filter((one) => one.name !== "what");
    const listed = (this.seen.near_by ?? []).filter((one) => one.what !== NONE);
    const again = (one) =>
      button(`+ another ${one.what}`, () => {
        this.seen.near_by = [...this.seen.near_by, { what: one.what }];
        this.showNear();
        this.changed();
      });
    fill(
      this.near,
      listed.map((one, place) =>
        el(
          "div",
          { class: "group" },
          el("strong", {}, one.what),
          fields
            .filter(({ name }) => name !== (one.what === TIDE ? "since" : "state"))
            .map((field) => control(field, one, `seen-near-${place}-${field.name}`, () => this.changed())),
          one.what === TIDE ? "" : again(one),
        ),
      ),
    );
  }

  reason() {
    const { seen, visit } = this;
    const input = el("input", { id: "seen-no_reading", autocomplete: "off", value: seen.no_reading ?? "" });
    input.addEventListener("input", () => {
      seen.no_reading = input.value;
      this.changed();
    });
    const press = (word) => (seen.no_reading = input.value = seen.no_reading === word ? "" : word);
    return [
      this.row("why there is no reading", visit.pack.reasons ?? [], (word) => seen.no_reading === word, press),
      labelled("Why, in your words", input, "a photo helps: section 7"),
      this.row("is the well still there", ["the well is gone"], () => Boolean(seen.gone), () => (seen.gone = !seen.gone)),
    ];
  }

  changed() {
    this.visit.save();
    this.look();
    this.ask();
    this.visit.tell("seen");
  }

  look() {
    for (const look of this.looks) look();
  }

  /** What follows from it: the engine says it, when it is there. */
  ask() {
    const { visit, advice, whole } = this;
    const { pack, draft } = visit;
    if (engine.state !== "ready") return;
    const { length_unit, settings } = pack.network;
    const given = { length_unit, settings, when: visit.when(), seen: seenBody(pack, draft) };
    engine.reduce("seen", given, ({ seen, problems }) => {
      visit.said = { ...seen, problems: (problems ?? []).map(({ place, message }) => `${place}: ${message}`) };
      tellProblems(whole, problems ?? []);
      fill(
        advice,
        (seen?.findings ?? []).map(({ weight, message, hint }) =>
          told(weight === "note" ? "plain" : "look", el("strong", {}, `${message}: `), hint),
        ),
      );
      visit.tell("said");
    });
  }
}

/** @param {string} title @param {any[]} inside */
const group = (title, inside) => el("div", { class: "field" }, el("span", { class: "label" }, title), inside);
