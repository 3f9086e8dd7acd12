/**
 * One visit in the order of the work: numbered sections down one page, each kept on the phone as it is written.
 *
 * @typedef {{pack: any, well: any, draft: any, keeper: DraftKeeper, save: () => void, when: () => string,
 *   near?: any[], said?: any, goTo: (section: number) => void, left: (said: string) => void, tell: (event: string) => void,
 *   hear: (event: string, told: () => void) => void}} Visit
 * said: what follows from what goes on, as the engine has it. near: levels found in this round at wells that move together with this one.
 * Events: "seen" when what goes on changes, "said" when it is known what follows, "engine" when its state does, "near" when near is there, "opened 8" when that
 * section is opened.
 */

import { localTime, uuid7, withOffset } from "./chain.js";
import { cleaningOf, closing, pointOf } from "./closing.js";
import { button, el, fill } from "./dom.js";
import { goingsOn, seenOf } from "./goings_on.js";
import { wellOf } from "./pack.js";
import { remarks } from "./photos.js";
import { readings } from "./readings.js";
import { cautions, cleaning, measuringPoint, rightWell } from "./sections.js";
import { DraftKeeper, get } from "./store.js";

/** The draft of a visit, begun when there is none. @param {string} round @param {string} code */
export async function draftOf(round, code) {
  const key = `${round}/${code}`;
  const who = await get("facts", "who");
  const begun = await get("drafts", key);
  return (
    (begun && today(begun)) ?? {
      key,
      round,
      code,
      begunAt: localTime(),
      visitId: uuid7(),
      right: "",
      warned: "",
      seen: {},
      point: { state: "", change: "" },
      sets: [],
      nextSet: 1,
      firstReadAt: "",
      cleaning: { done: [], with: "" },
      remarks: "",
      photos: [],
      by: who?.by ?? "",
      others: who?.others ?? "",
      when: "",
      open: [1],
      focus: "",
      scroll: 0,
    }
  );
}

/** A draft of an earlier version of the sheet: what was pressed there stands in the remarks. @param {any} draft */
function today(draft) {
  if (draft.seen) return draft;
  const { conditions = [], depth_reached = "", hours_since_pumping = "", ...rest } = draft;
  const noted = [
    conditions.join(", "),
    depth_reached && `tape reached ${depth_reached}`,
    hours_since_pumping && `pump stopped ${hours_since_pumping} before`,
  ].filter(Boolean);
  const remarks = [rest.remarks, noted.length ? `noted before the sheet was renewed: ${noted.join("; ")}` : ""];
  return { ...rest, seen: {}, remarks: remarks.filter(Boolean).join("; ") };
}

const SECTIONS = [
  { title: "Right well?", build: rightWell, says: ({ draft }) => draft.right && `confirmed ${draft.right.slice(11)}` },
  { title: "Cautions", build: cautions, says: ({ draft }) => draft.warned && `read ${draft.warned.slice(11)}` },
  { title: "What goes on", build: goingsOn, says: ({ draft }) => seenOf(draft) },
  { title: "Measuring point", build: measuringPoint, says: ({ draft }) => pointOf(draft) },
  { title: "Readings", build: readings, says: ({ draft }) => draft.sets.map((set) => set.method).join(", ") },
  { title: "Cleaning", build: cleaning, says: ({ draft }) => cleaningOf(draft) },
  {
    title: "Remarks and photos",
    build: remarks,
    says: ({ draft }) =>
      [draft.remarks, draft.photos.length && `${draft.photos.length} photo${draft.photos.length > 1 ? "s" : ""}`]
        .filter(Boolean)
        .join("; "),
  },
  { title: "Close", build: closing, says: () => "" },
];

/**
 * Show the visit. Gives what is to be done when the page is left.
 * @param {HTMLElement} page @param {any} pack @param {any} draft
 * @param {{saved: (error: Error | null) => void, left: (said: string) => void}} hears
 */
export function show(page, pack, draft, hears) {
  const keeper = new DraftKeeper(draft, hears.saved);
  const events = new EventTarget();
  const visit = /** @type {Visit} */ ({
    pack,
    well: wellOf(pack, draft.code),
    draft,
    keeper,
    when: () => withOffset(draft.when || draft.firstReadAt || localTime()),
    save: () => {
      draft.begun = true;
      keeper.save();
      summarise();
    },
    goTo: (number) => goTo(number),
    left: hears.left,
    tell: (event) => events.dispatchEvent(new Event(event)),
    hear: (event, listener) => events.addEventListener(event, listener),
  });
  const sections = SECTIONS.map(({ title, build }, place) => {
    const number = place + 1;
    const onward =
      place > 0 &&
      number < SECTIONS.length &&
      button(`Next: ${SECTIONS[number].title}`, () => goTo(number + 1, number), { class: "wide next" });
    const section = el(
      "details",
      { class: "section", id: `section-${number}`, open: draft.open.includes(number) },
      el(
        "summary",
        { id: `section-${number}-top` },
        el("span", { class: "mark" }, String(number)),
        el("h2", {}, title),
        el("span", { class: "says" }),
      ),
      el("div", { class: "inside" }, build(visit), onward),
    );
    section.addEventListener("toggle", () => opened(number, section.open));
    return section;
  });
  const summarise = () =>
    SECTIONS.forEach(({ says }, place) => {
      const words = says(visit);
      sections[place].querySelector(".says").textContent = words || "";
      sections[place].classList.toggle("done", Boolean(words));
    });
  const opened = (number, open) => {
    if (draft.open.includes(number) === open) return;
    draft.open = open ? [...draft.open, number] : draft.open.filter((one) => one !== number);
    if (open) visit.tell(`opened ${number}`);
    if (draft.begun) keeper.save();
  };
  const goTo = (number, from = 0) => {
    if (from) sections[from - 1].open = false;
    if (from === 2) draft.warned ||= localTime();
    const next = sections[number - 1];
    next.open = true;
    opened(number, true);
    next.querySelector("summary").focus({ preventScroll: true });
    next.scrollIntoView({ block: "start" });
    visit.save();
  };
  fill(page, el("h1", {}, `${draft.code} ${visit.well.name}`), el("div", { class: "tape" }, sections));
  summarise();
  return watch(page, visit);
}

/** Keep where the person is, and go back there. @param {HTMLElement} page @param {Visit} visit */
function watch(page, { draft, keeper, tell }) {
  const ending = new AbortController();
  const { signal } = ending;
  let timer = 0;
  const keep = () => draft.begun && keeper.save(); // who only looks at a well has not begun a visit
  document.getElementById(draft.focus)?.focus({ preventScroll: true });
  scrollTo(0, draft.scroll);
  page.addEventListener(
    "focusin",
    (event) => {
      draft.focus = /** @type {HTMLElement} */ (event.target).id;
      keep();
    },
    { signal },
  );
  addEventListener(
    "scroll",
    () => {
      clearTimeout(timer);
      timer = setTimeout(() => {
        draft.scroll = Math.round(scrollY);
        keep();
      }, 200);
    },
    { signal },
  );
  addEventListener("engine", () => tell("engine"), { signal });
  return () => {
    clearTimeout(timer);
    ending.abort();
    return keeper.end();
  };
}
