/**
 * The sections of a visit that ask little: the well, its cautions, the measuring point, the cleaning.
 *
 * @typedef {import("./visit.js").Visit} Visit
 */

import { localTime } from "./chain.js";
import { button, chips, el, labelled, told } from "./dom.js";
import { pointOn, wellOf } from "./pack.js";
import { figure } from "./photos.js";
import { distance } from "./place.js";

const CLEANED = ["wiped", "washed", "disinfected", "rinsed", "dried", "not cleaned"];

/** @param {Visit} visit */
export function rightWell(visit) {
  const { well, draft } = visit;
  const confirm = () => {
    draft.right = localTime();
    visit.save();
    visit.goTo(2);
    document.getElementById("section-1")?.removeAttribute("open");
  };
  const blind = `${well.again?.why}. What was read here before is not shown.`;
  return [
    well.again ? told("look", el("strong", {}, "To be measured again, blind: "), blind) : "",
    el("p", {}, well.place),
    el("p", {}, "Painted on it: ", el("span", { class: "code" }, well.code)),
    well.use ? el("p", {}, `Use: ${well.use}`) : "",
    distance(well),
    (well.photos ?? []).map((photo) => figure("pictures", photo.sha256, photo.caption)),
    el("p", { class: "help" }, "Not found, or no way in? Say so under What goes on."),
    button("This is the well", confirm, { class: "wide strong next", id: "right-well" }),
  ];
}

/** @param {Visit} visit */
export function cautions({ pack, well }) {
  const [first = "Local codes, the site's safety plan and licensed practice come first.", ...usual] =
    pack.cautions ?? [];
  const facts = [
    ["Hazards", well.hazards],
    ["Permission", well.permission],
    ["Keys", well.keys],
  ].filter(([, text]) => text);
  const here = (well.cautions ?? []).filter((line) => line !== well.hazards);
  return [
    facts.map(([name, text]) => told(name === "Hazards" ? "stop" : "plain", el("strong", {}, `${name}: `), text)),
    here.map((line) => told("look", line)),
    told("look", el("strong", {}, first)),
    el(
      "ul",
      {},
      usual.map((line) => el("li", {}, line)),
    ),
  ];
}

/** @param {Visit} visit */
export function measuringPoint(visit) {
  const { well, draft } = visit;
  const point = pointOn(well, localTime().slice(0, 10));
  const change = el("textarea", { id: "point-change", rows: "3", value: draft.point.change });
  change.addEventListener("input", () => {
    draft.point.change = change.value;
    visit.save();
  });
  const changeRow = labelled("What changed", change, "what you see now, and how far it has moved if you can tell");
  const show = () => (changeRow.hidden = draft.point.state !== "changed");
  show();
  const height =
    point && (point.side === "level" ? "level with land surface" : `${point.height} ${point.side} land surface`);
  return [
    point
      ? [
          el("p", { class: "lead" }, `${point.name}: ${point.description}`),
          el("p", { class: "figure" }, height),
          point.from ? el("p", { class: "help" }, `in force since ${point.from.slice(0, 10)}`) : "",
        ]
      : told("look", "No measuring point is on record. Press changed, and describe the spot you measure from."),
    chips(
      "the measuring point is",
      ["as described", "changed"],
      (word) => draft.point.state === word,
      (word) => {
        draft.point.state = draft.point.state === word ? "" : word;
        visit.save();
        show();
      },
    ),
    changeRow,
  ];
}

/** @param {Visit} visit */
export function cleaning(visit) {
  const { pack, well, draft } = visit;
  const later = pack.round.wells.slice(pack.round.wells.indexOf(well.code) + 1).map((code) => wellOf(pack, code));
  const cleaner = later.filter((one) => one && (one.dirtier ?? 0) < (well.dirtier ?? 0)).map((one) => one.code);
  const done = chips(
    "what was done",
    CLEANED,
    (word) => draft.cleaning.done.includes(word),
    (word) => {
      const { done: now } = draft.cleaning;
      draft.cleaning.done = now.includes(word) ? now.filter((one) => one !== word) : [...now, word];
      visit.save();
    },
  );
  const tool = el("input", { id: "cleaning-with", autocomplete: "off", value: draft.cleaning.with });
  tool.addEventListener("input", () => {
    draft.cleaning.with = tool.value;
    visit.save();
  });
  return [
    cleaner.length
      ? told(
          "look",
          `${cleaner.join(", ")} ${cleaner.length > 1 ? "come" : "comes"} later and ${cleaner.length > 1 ? "are" : "is"} cleaner than this well: clean with care, or use other gear there.`,
        )
      : el(
          "p",
          { class: "help" },
          "Cleaner wells first, dirtier wells last; clean tape and weight before the next one.",
        ),
    done,
    labelled("With what", tool, "agent, strength, clean water"),
  ];
}
