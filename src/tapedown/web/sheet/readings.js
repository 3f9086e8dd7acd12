/** Section 5: the reading sets, each with its gear, its repeats, and what the engine makes of them. */

import { localTime } from "./chain.js";
import { button, chips, el, fill, labelled, told } from "./dom.js";
import * as engine from "./engine.js";
import { control, inWords, more, number, problemAt, tellProblems } from "./forms.js";
import { moves, seenBody } from "./goings_on.js";
import { calibrationOf, expecting, explaining, gearOf, given, levelsNear } from "./pack.js";
import { history, reduction, whatOf } from "./result.js";
import { counted, hasReadings, newSet, readOf, repeatFields, setFaults, sorted, whole } from "./sets.js";

/**
 * @typedef {import("./sets.js").ReadingSet} ReadingSet
 * @typedef {import("./visit.js").Visit} Visit
 */

/** What a value stands for that other wells of the round may be held against. */
const LEVELS = ["static level", "level, state not noted"];
const BELOW_LAND = "depth below land surface";
/** What a finished reading brings to light waits this long: else it would push away the button being pressed. */
const AFTER_PRESS_MS = 400;

/** @param {Visit} visit @returns {any[]} */
export function readings(visit) {
  const { pack, well, draft } = visit;
  const sets = el("div", {});
  const warning = el("div", {});
  const add = (method) => {
    const set = newSet(pack, well, method, draft.nextSet++);
    draft.sets.push(set);
    visit.save();
    sets.append(card(visit, set));
    document.getElementById(`set-${set.id}`)?.scrollIntoView({ block: "start" });
  };
  const usual = (well.usual_methods ?? []).filter((method) => method in pack.forms.methods);
  const others = Object.keys(pack.forms.methods).filter((method) => !usual.includes(method));
  const offer = (method) => button(`+ ${method}`, () => add(method), { class: "wide" });
  sets.append(...draft.sets.map((set) => card(visit, set)));
  const warn = () => fill(warning, hindrances(visit));
  levelsNear(pack, well).then((near) => {
    visit.near = near;
    if (near.length) visit.tell("near");
  });
  visit.hear("said", warn);
  warn();
  return [
    warning,
    sets,
    el("h3", {}, usual.length ? "Read by the usual method" : "Read by"),
    el("div", { class: "choices" }, usual.map(offer)),
    usual.length
      ? more("Another method", [el("div", { class: "choices" }, others.map(offer))])
      : el("div", { class: "choices" }, others.map(offer)),
  ];
}

/** What speaks against a reading or a sounding now. @param {Visit} visit */
function hindrances({ said }) {
  return (said?.forbids ?? []).map(({ fact, advice, level }) =>
    level
      ? told("look", el("strong", {}, `${fact}: `), "a reading taken now is no water level. ", advice)
      : told("stop", el("strong", {}, `${fact}: `), advice),
  );
}

/** One set. @param {Visit} visit @param {ReadingSet} set */
function card(visit, set) {
  const { pack, well } = visit;
  const form = pack.forms.methods[set.method];
  const { gear, first, later, repeats } = sorted(form);
  const made = el("section", { class: "set", id: `set-${set.id}`, "aria-label": set.method });
  const live = el("div", { class: "live", role: "status" });
  const known = el("div", {});
  const what = whatOf(set.method);
  const why = { set };
  let latest = /** @type {any} */ (null);
  let explained = /** @type {any} */ (null);
  let expected = /** @type {any} */ (pack.pack_version < 2 ? well.expected?.[what] : undefined);
  const shown = () =>
    fill(
      known,
      set.seen
        ? history(well, set.method, { value: latest, expected, explained }, pack.network.length_unit)
        : el("p", { class: "blind" }, "The last readings of this well are shown when your first reading is written."),
    );
  const tell = (problems) => {
    const typed = setFaults(pack, set).filter((one) => !one.unfinished);
    const found = problems.map((one) => ({ ...one, place: placeHere(pack, set, one.place) }));
    tellProblems(made, [...typed, ...found.filter((one) => !typed.some(({ place }) => place === one.place))]);
  };
  const receive = (answer) => {
    latest = answer.value ?? null;
    if (answer.expected !== undefined && pack.pack_version >= 2) expected = answer.expected;
    keepLevel(visit, set, latest);
    tell(answer.problems ?? []);
    const stopped = answer.fault && `The engine stopped on this set (${answer.fault}); the readings are kept.`;
    fill(live, latest ? reduction(latest) : stopped ? told("look", stopped) : "");
    shown();
    if (set.seen && latest && expected && pack.pack_version >= 2) askWhy();
  };
  const now = () => ({ method: set.method, read: readOf(pack, set), when: visit.when(), seen: seenBody(pack, visit.draft) });
  const expectingNow = (read) => expecting(pack, well, { what, when: read.when, seen: visit.near ?? [] });
  const askWhy = () => {
    const read = now();
    engine.reduce(why, explaining(pack, well, read, expectingNow(read)), (answer) => {
      explained = answer.explained ?? null;
      shown();
    });
  };
  const ask = () => {
    if (!visit.draft.sets.includes(set)) return;
    tell([]);
    explained = null;
    engine.forget(why);
    const any = counted(pack, set).length > 0;
    if (!any) fill(live);
    else if (engine.state !== "ready") fill(live, el("p", { class: "blind" }, engineWords()));
    const read = now();
    if (any) engine.reduce(set, { ...given(pack, well, read), expecting: expectingNow(read) }, receive);
    else engine.forget(set);
  };
  const changed = () => {
    visit.save();
    ask();
  };
  const written = () => {
    if (set.seen || !counted(pack, set).length) return;
    set.seen = true;
    visit.draft.firstReadAt ||= localTime();
    changed();
    shown();
  };
  const rows = el("div", {});
  const renew = () => fill(rows, repeatRows(visit, set, changed, written));
  const field = (one) => {
    const made = control(one, set.read, `set-${set.id}-${one.name}`, changed);
    if (one.asked !== "moving") return made;
    const show = () => (made.hidden = !moves(visit.draft)); // only water that moves is read at equal times
    visit.hear("seen", show);
    show();
    return made;
  };
  visit.hear("engine", ask);
  visit.hear("near", ask);
  visit.hear("seen", ask);
  made.append(
    el("h3", {}, set.method),
    el("p", { class: "help" }, form.help),
    ...gear.map((one) => gearChoice(visit, set, one, changed)),
    ...first.map(field),
    ...(repeats.length > 1 ? [gaugeKind(repeats, set, () => (renew(), changed()))] : []),
    problemAt(""),
    rows,
    live,
    known,
    more("More about this set", [...later.map(field), removal(visit, set, made)]),
  );
  renew();
  shown();
  ask();
  return made;
}

/** Keep the level with the set, for wells of this round that move together. @param {Visit} visit @param {ReadingSet} set @param {any} value */
function keepLevel(visit, set, value) {
  const below = LEVELS.includes(value?.use) && value.stages.find(({ result }) => result.name === BELOW_LAND);
  const level_m = below ? below.result.value_m : null;
  if (level_m === (set.level_m ?? null)) return;
  set.level_m = level_m;
  visit.save();
}

const engineWords = () =>
  engine.state === "not here"
    ? "The engine is not on this phone: readings are kept as typed and worked out at the office."
    : "Kept. The engine is getting ready; the value comes by itself.";

/**
 * The engine counts the readings it got; the sheet counts all rows, crossed out ones too.
 * @param {any} pack @param {ReadingSet} set @param {string} place
 */
function placeHere(pack, set, place) {
  const [, number = ""] = /^readings(?:_as_water)?\[(\d+)\]/.exec(place) ?? [];
  return number ? `repeat ${counted(pack, set)[Number(number) - 1]?.place}` : place;
}

/** Two ways a gauge may be marked. @param {any[]} repeats @param {ReadingSet} set @param {() => void} changed */
function gaugeKind(repeats, set, changed) {
  /** @type {string[]} */
  const words = repeats.map((one) => (one.kind === "length" ? "gauge shows water" : "gauge shows pressure"));
  return chips(
    "how the gauge is marked",
    words,
    (word) => set.into === repeats[words.indexOf(word)].name,
    (word) => {
      set.into = repeats[words.indexOf(word)].name;
      changed();
    },
  );
}

/**
 * Gear by serial number: the usual one chosen, any other can be written.
 * @param {Visit} visit @param {ReadingSet} set @param {any} field @param {() => void} changed
 */
function gearChoice({ pack }, set, field, changed) {
  const id = `set-${set.id}-${field.name}`;
  const pieces = pack.gear.filter((piece) => !field.gear || field.gear.includes(piece.type));
  const note = el("p", { class: "help", role: "status" });
  const other = el("input", {
    id: `${id}-other`,
    "aria-label": `serial number of the ${field.name}`,
    autocomplete: "off",
    placeholder: "serial number",
  });
  const select = el(
    "select",
    { id },
    el("option", { value: "" }, "not noted"),
    pieces.map((piece) =>
      el("option", { value: piece.serial }, `${piece.serial}${piece.description ? `, ${piece.description}` : ""}`),
    ),
    el("option", { value: "other" }, "another: write its number"),
  );
  const serial = set.read[field.name] ?? "";
  const listed = !serial || pieces.some((piece) => piece.serial === serial);
  select.value = listed ? serial : "other";
  other.value = listed ? "" : serial;
  const show = () => {
    other.hidden = select.value !== "other";
    const piece = gearOf(pack, set.read[field.name] ?? "");
    const { words, overdue } = calibrationOf(piece);
    const interval = piece?.weight_interval ? `weight interval on record ${piece.weight_interval}` : "";
    note.className = overdue ? "told look" : "help";
    note.textContent = piece ? [piece.type === "weight" ? "" : words, interval].filter(Boolean).join("; ") : "";
  };
  const pick = () => {
    set.read[field.name] = select.value === "other" ? other.value : select.value;
    show();
    changed();
  };
  select.addEventListener("change", pick);
  other.addEventListener("input", pick);
  show();
  const row = labelled(inWords(field.name), select);
  row.append(other, note, problemAt(field.name));
  return row;
}

/**
 * The repeats, each kept as typed; one that was wrong is crossed out, not rubbed out.
 * @param {Visit} visit @param {ReadingSet} set @param {() => void} changed @param {() => void} written
 */
function repeatRows({ pack }, set, changed, written) {
  const rows = el("ol", { class: "repeats" });
  const append = (repeat, place) => {
    const { each } = repeatFields(pack, set);
    const row = el("li", { class: repeat.out ? "repeat out" : "repeat" });
    const inputs = each.map((field) => {
      const label = `${field.name === "value" ? "Reading" : inWords(field.name)} ${place + 1}`;
      const id = `set-${set.id}-repeat-${place}-${field.name}`;
      const made = number(field, repeat, id, label, changed);
      made.input.addEventListener("change", () => setTimeout(written, AFTER_PRESS_MS));
      made.input.addEventListener("keydown", (event) => event.key === "Enter" && onward(made.input));
      return el(
        "div",
        { class: "read" },
        el("label", { for: id }, label, field.kind === "length" ? `, ${field.unit}` : ""),
        made.input,
        field.kind === "length" ? "" : made.beside,
      );
    });
    const cross = button(
      repeat.out ? "put back" : "cross out",
      () => {
        repeat.out = !repeat.out;
        row.className = repeat.out ? "repeat out" : "repeat";
        cross.textContent = repeat.out ? "put back" : "cross out";
        changed();
      },
      { "aria-label": `cross out or put back reading ${place + 1}`, class: "cross" },
    );
    row.append(...inputs, cross, problemAt(`repeat ${place}`));
    rows.append(row);
    return inputs[0].querySelector("input");
  };
  const another = () => {
    const { each } = repeatFields(pack, set);
    written();
    const empty = set.repeats.findIndex((repeat) => !repeat.out && !whole(each, repeat));
    if (empty >= 0) return rows.children[empty].querySelector("input")?.focus();
    set.repeats.push({});
    changed();
    append(set.repeats.at(-1), set.repeats.length - 1).focus();
  };
  const onward = (from) => {
    const inputs = [...rows.querySelectorAll("input")];
    const next = inputs[inputs.indexOf(from) + 1];
    if (next) next.focus();
    else another();
  };
  set.repeats.forEach(append);
  return el("div", {}, rows, button("Another reading", another, { class: "wide strong", id: `set-${set.id}-another` }));
}

/**
 * A set without a reading may go; one with readings stays, its readings crossed out.
 * @param {Visit} visit @param {ReadingSet} set @param {HTMLElement} made
 */
function removal(visit, set, made) {
  const said = el("p", { class: "help", role: "status" });
  const go = button(`Remove this ${set.method}`, () => {
    if (hasReadings(visit.pack, set)) {
      said.textContent = "It has readings. Cross them out one by one: what was read stays readable.";
      return;
    }
    visit.draft.sets.splice(visit.draft.sets.indexOf(set), 1);
    visit.save();
    made.remove();
  });
  return el("div", {}, go, said);
}
