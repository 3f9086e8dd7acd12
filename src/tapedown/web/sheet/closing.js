/** Section 8: what the visit says as a whole, what is missing, and the entries it becomes. */

import { localTime } from "./chain.js";
import { button, chips, el, fill, labelled, told } from "./dom.js";
import { body, clean, inWords, plain } from "./forms.js";
import { nothingToRead, seenBody, seenFaults, seenField, seenOf } from "./goings_on.js";
import { close } from "./outbox.js";
import { levelName } from "./pack.js";
import { put, remove } from "./store.js";
import { counted, hasReadings, inLine, readOf, repeatFields, setFaults } from "./sets.js";

/** @typedef {import("./visit.js").Visit} Visit */
/** @typedef {{section: number, text: string, hinders?: boolean}} Gap */

/** How the gear was cleaned, in one line. @param {any} draft */
export function cleaningOf({ cleaning }) {
  return [cleaning.done.join(", "), cleaning.with && `with ${clean(cleaning.with)}`].filter(Boolean).join(" ");
}

/** What the measuring point looked like, in one line. @param {any} draft */
export function pointOf({ point }) {
  return point.state === "changed" ? `changed: ${clean(point.change)}` : point.state;
}

/** Fields of a visit that have a place of their own on the sheet. */
const PLACED = ["people", "seen", "point_checked", "cleaning", "remarks"];

/** The other fields of a visit: they are asked for as they are, beside the remarks. @param {any} pack */
export const moreFields = (pack) => pack.forms.visit.filter((field) => !PLACED.includes(field.name));

/** The body of the visit's entry. @param {Visit} visit */
function visitBody({ pack, draft }) {
  const others = clean(draft.others)
    .split(",")
    .map((name) => name.trim())
    .filter(Boolean);
  const withdrawn = draft.sets.filter((set) => hasReadings(pack, set) && !counted(pack, set).length);
  const out = withdrawn.map((set) => `${set.method} ${readOf(pack, set).remarks}`);
  return body(pack.forms.visit, {
    ...draft.more,
    people: [clean(draft.by), ...others],
    seen: draft.seen,
    point_checked: pointOf(draft),
    cleaning: cleaningOf(draft),
    remarks: [clean(draft.remarks), ...out].filter(Boolean).join("; "),
  });
}

/** The facts the visit becomes: the visit, its reading sets, its photos. @param {Visit} visit */
function factsOf(visit) {
  const { pack, draft } = visit;
  const id = draft.visitId;
  const common = { about: `well/${draft.code}`, measured_at: visit.when(), by: clean(draft.by) };
  const sets = draft.sets.filter((set) => counted(pack, set).length);
  return [
    { ...common, kind: "visit", id, body: visitBody(visit) },
    ...sets.map((set) => ({
      ...common,
      kind: "readings",
      body: { method: set.method, read: readOf(pack, set), visit: id },
    })),
    ...draft.photos.map(({ sha256, media_type, name, caption }) => ({
      ...common,
      kind: "document",
      body: body(DOCUMENT, { sha256, media_type, name, caption }),
    })),
  ];
}
const DOCUMENT = ["sha256", "media_type", "name", "caption"].map((name) => ({ name, kind: "text", help: "" }));

/** What is missing, and what hinders closing. @param {Visit} visit @returns {Gap[]} */
export function gaps(visit) {
  const { pack, draft } = visit;
  const gap = (section, is, text, hinders = false) => (is ? [{ section, text, hinders }] : []);
  const asked = [...seenFaults(pack, draft), ...(visit.said?.problems ?? [])].flatMap((text) => gap(3, text, text, true));
  const unlike = (visit.said?.findings ?? []).filter(({ weight }) => weight !== "note");
  const any = draft.sets.some((set) => counted(pack, set).length);
  return [
    ...gap(1, !draft.right, "the well was not confirmed"),
    ...gap(3, seenField(pack) && !Object.keys(seenBody(pack, draft)).length, "what goes on was not noted"),
    ...asked,
    ...unlike.map(({ message }) => ({ section: 3, text: message })),
    ...gap(4, !draft.point.state, "the measuring point was not looked at"),
    ...gap(4, draft.point.state === "changed" && !draft.point.change, "what changed at the measuring point"),
    ...gap(5, !any && !nothingToRead(visit), "no reading, and not why"),
    ...draft.sets.flatMap((set) => setGaps(pack, set)),
    ...gap(6, any && !cleaningOf(draft), "how the gear was cleaned"),
    ...gap(8, !clean(draft.by), "who writes", true),
    ...gap(8, draft.when && Number.isNaN(Date.parse(draft.when)), "the time cannot be read", true),
  ];
}

/** @param {any} pack @param {any} set @returns {Gap[]} */
function setGaps(pack, set) {
  const say = (text, hinders = false) => ({ section: 5, text: `${set.method}: ${text}`, hinders });
  if (!hasReadings(pack, set)) return [say("no reading, so it is left out")];
  const faults = setFaults(pack, set).map(({ message }) => say(message, true));
  const crossedOut = !faults.length && !counted(pack, set).length;
  return crossedOut ? [say("every reading is crossed out; it goes into the remarks")] : faults;
}

/** @param {Visit} visit @returns {any[]} */
export function closing(visit) {
  const { pack, draft } = visit;
  const summary = el("div", {});
  const by = el("input", { id: "by", autocomplete: "name", value: draft.by });
  const others = el("input", { id: "others", autocomplete: "off", value: draft.others });
  const time = el("input", {
    id: "when",
    type: "datetime-local",
    value: draft.when || draft.firstReadAt || localTime(),
  });
  const done = button("Close visit", () => finish(), { id: "close-visit", class: "wide strong" });
  const keep = () => {
    draft.by = by.value;
    draft.others = others.value;
    visit.save();
    show();
  };
  for (const input of [by, others]) input.addEventListener("input", keep);
  time.addEventListener("input", () => {
    draft.when = time.value;
    keep();
  });
  const show = () => {
    if (!draft.when && document.activeElement !== time) time.value = draft.firstReadAt || localTime();
    const open = gaps(visit);
    const hinders = open.some((gap) => gap.hinders);
    fill(
      summary,
      lines(visit),
      open.length
        ? el("h3", {}, hinders ? "To put right before closing" : "Missing")
        : told("good", "Nothing is missing."),
      el(
        "ul",
        { class: "gaps" },
        open
          .sort((a, b) => Number(b.hinders ?? false) - Number(a.hinders ?? false))
          .map((gap) =>
            el(
              "li",
              {},
              button(`${gap.section}: ${gap.text}`, () => visit.goTo(gap.section), {
                class: gap.hinders ? "gap stop" : "gap",
              }),
            ),
          ),
      ),
    );
    done.textContent = open.length && !hinders ? `Close visit as it is (${open.length} missing)` : "Close visit";
  };
  const finish = async () => {
    show();
    const open = gaps(visit);
    if (open.some((gap) => gap.hinders)) return summary.scrollIntoView({ block: "start" });
    done.disabled = true;
    visit.save();
    try {
      await visit.keeper.end();
      await put("facts", { name: "who", by: clean(draft.by), others: clean(draft.others) });
      await keepLevel(visit);
      const entries = await close(draft, factsOf(visit));
      visit.left(
        entries
          ? `The visit to ${draft.code} is closed: ${entries} ${entries > 1 ? "entries" : "entry"} kept on this phone.`
          : `The visit to ${draft.code} was closed before.`,
      );
    } catch (error) {
      visit.keeper.ended = false;
      done.disabled = false;
      fill(
        summary,
        told(
          "stop",
          `The phone could not close the visit: ${/** @type {Error} */ (error).message}. Everything typed is still here; try again.`,
        ),
      );
    }
  };
  visit.hear("opened 8", show);
  show();
  const people = chips(
    "who writes",
    pack.people,
    (name) => name === by.value,
    (name) => {
      by.value = name;
      keep();
    },
  );
  return [
    el("div", { class: "field" }, el("span", { class: "label" }, "Who writes"), people),
    labelled("or write the name", by),
    labelled("Who else was there", others, "names with commas between"),
    labelled("Time of the readings", time, "the time of the first reading; change it if it is wrong"),
    summary,
    done,
    el(
      "p",
      { class: "help" },
      "A closed visit cannot be changed on the phone; the office corrects it, and the old words stay readable.",
    ),
    dropping(visit),
  ];
}

/** The level found, for wells of this round that move together with this one. @param {Visit} visit */
async function keepLevel({ pack, draft, when }) {
  const found = draft.sets.filter((set) => counted(pack, set).length && Number.isFinite(set.level_m)).at(-1);
  if (!found) return;
  const level = { code: draft.code, day: when().slice(0, 10), depth_m: found.level_m };
  await put("facts", { name: levelName(draft.round, draft.code), ...level });
}

/** A visit begun by mistake may go while nothing was read at it. @param {Visit} visit */
function dropping(visit) {
  const { pack, draft } = visit;
  const said = el("p", { class: "help", role: "status" });
  let sure = false;
  const drop = button(
    "Begun by mistake: drop this visit",
    async () => {
      if (draft.photos.length || draft.sets.some((set) => hasReadings(pack, set))) {
        said.textContent =
          "It has readings or photos, so it is closed, not dropped. Say in the remarks what was wrong.";
      } else if (!sure) {
        sure = true;
        said.textContent = "Press again: what was noted here will be gone.";
      } else {
        await visit.keeper.end();
        await remove("drafts", draft.key);
        visit.left("");
      }
    },
    { class: "wide" },
  );
  return el("div", {}, drop, said);
}

/** The visit in a few lines. @param {Visit} visit */
function lines({ pack, draft }) {
  const sets = draft.sets.map((set) => {
    const { each } = repeatFields(pack, set);
    const listed = set.repeats.map((r) => (r.out ? el("s", {}, inLine(each, r)) : inLine(each, r)));
    return [set.method, listed.flatMap((one, place) => (place ? ["; ", one] : [one]))];
  });
  const rows = [
    ["what goes on", seenOf(draft)],
    ["measuring point", pointOf(draft)],
    ...sets,
    ["cleaning", cleaningOf(draft)],
    ...moreFields(pack).map((field) => [inWords(field.name), plain(field, draft.more?.[field.name]) ?? ""]),
    ["remarks", draft.remarks],
    ["photos", draft.photos.length || ""],
  ];
  return el(
    "dl",
    {},
    rows.map(([name, value]) => [el("dt", {}, name), el("dd", {}, value || "–")]),
  );
}
