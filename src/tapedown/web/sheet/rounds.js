/** Before and between the wells: this phone, its rounds, the wells of a round in order, and what waits to be sent. */

import { button, el, fill, labelled, told } from "./dom.js";
import { more } from "./forms.js";
import { line, send, standing } from "./outbox.js";
import { pair, rounds, take, wellOf } from "./pack.js";
import { canAsk, distance, watchPosition } from "./place.js";
import { all, copyOfEverything, get } from "./store.js";

/** @typedef {(hash: string) => void} Go */

/** Make the phone known. @param {HTMLElement} page @param {string} code @param {Go} go */
export function showPairing(page, code, go) {
  const codeInput = el("input", {
    id: "pair-code",
    autocomplete: "off",
    autocapitalize: "characters",
    spellcheck: "false",
    value: code,
  });
  const label = el("input", { id: "pair-label", autocomplete: "off", placeholder: "phone of R. Alder" });
  const problem = el("div", { role: "status" });
  const join = async (event) => {
    event.preventDefault();
    fill(problem, el("p", {}, "Asking the office…"));
    try {
      await pair(codeInput.value.trim().toUpperCase(), label.value.trim());
      go("#rounds");
    } catch (error) {
      fill(problem, told("stop", /** @type {Error} */ (error).message));
    }
  };
  fill(
    page,
    el("h1", {}, "Make this phone known to the office"),
    el(
      "p",
      {},
      "In the office, open the page Pair and point this phone's camera at the square, or write the code shown there.",
    ),
    el(
      "form",
      { class: "sheet", onsubmit: join },
      labelled("Code", codeInput),
      labelled("What this phone is called", label),
      el("button", { class: "wide strong", type: "submit" }, "Pair"),
      problem,
    ),
  );
}

/** Rounds to choose from. @param {HTMLElement} page @param {Go} go */
export async function showRounds(page, go) {
  const device = await get("facts", "device");
  const place = el("div", {}, el("p", {}, "Looking for rounds…"));
  const problem = el("div", { role: "status" });
  fill(page, el("h1", {}, device.network.name), problem, place);
  const { list, why } = await rounds();
  const card = (round) => {
    const open = () => go(`#round/${encodeURIComponent(round.id)}`);
    const fetchIt = async (event) => {
      const pressed = /** @type {HTMLButtonElement} */ (event.target);
      pressed.disabled = true;
      pressed.textContent = "Taking it…";
      try {
        const missed = await take(round.id);
        if (missed)
          fill(
            problem,
            told("look", `${missed} photo${missed > 1 ? "s" : ""} did not come; take the round again for them.`),
          );
        open();
      } catch (error) {
        fill(problem, told("stop", /** @type {Error} */ (error).message));
        pressed.disabled = false;
        pressed.textContent = "Take this round";
      }
    };
    return el(
      "section",
      { class: "card" },
      el("h2", {}, round.name),
      el("p", {}, `${round.day}: ${round.wells.join(", ")}`),
      round.taken
        ? [
            button("Open", open, { class: "wide strong" }),
            el(
              "p",
              { class: "help" },
              `On this phone, as the office had it on ${round.made_at.slice(0, 16).replace("T", " ")} UTC.`,
            ),
            button("Take it again", fetchIt, { class: "wide" }),
          ]
        : button("Take this round", fetchIt, { class: "wide strong" }),
    );
  };
  fill(
    place,
    why ? told("plain", `Rounds of the office cannot be seen now: ${why}.`) : "",
    list.length ? list.map(card) : el("p", {}, "No round yet. Plan one in the office under Rounds; then take it here."),
    button("This phone, and what waits to be sent", () => go("#phone"), { class: "wide" }),
  );
}

/** States of the wells of a round. @param {string} round */
async function states(round) {
  const drafts = new Set((await all("drafts")).filter((draft) => draft.round === round).map((draft) => draft.code));
  const { closed } = await standing();
  return (code) => {
    const mine = closed.filter((row) => row.round === round && row.code === code);
    const sent = mine.every((row) => row.state === "sent" || row.state === "aside");
    if (drafts.has(code)) return "begun";
    return !mine.length ? "not begun" : sent ? "sent" : "closed";
  };
}

/** The wells of a round in order. @param {HTMLElement} page @param {any} pack @param {Go} go @param {string} news */
export async function showRound(page, pack, go, news) {
  const { round } = pack;
  const state = await states(round.id);
  const rows = round.wells.map((code) => {
    const well = wellOf(pack, code);
    return el(
      "li",
      {},
      el(
        "a",
        {
          class: `well ${state(code).replace(" ", "-")}`,
          href: `#visit/${encodeURIComponent(round.id)}/${encodeURIComponent(code)}`,
        },
        el("span", { class: "code" }, code),
        el("span", { class: "name" }, well?.name ?? ""),
        el("span", { class: "state" }, state(code)),
        distance(well),
      ),
    );
  });
  const ask = button(
    "Show how far they are",
    () => {
      watchPosition();
      ask.remove();
    },
    { class: "wide" },
  );
  const placed = pack.wells.some((well) => well.latitude);
  fill(
    page,
    el("h1", {}, round.name),
    news ? told("good", news) : "",
    el("p", { class: "ready", id: "ready" }),
    el("ol", { class: "wells" }, rows),
    placed && canAsk() ? ask : "",
    round.load?.length
      ? more("To take along", [
          el(
            "ul",
            {},
            round.load.map((one) => el("li", {}, el("strong", {}, one.what), one.why ? `: ${one.why}` : "")),
          ),
        ])
      : "",
    pack.cautions?.length
      ? more("Cautions for the day", [
          el(
            "ul",
            {},
            pack.cautions.map((one) => el("li", {}, one)),
          ),
        ])
      : "",
    button("All rounds", () => go("#rounds"), { class: "wide" }),
  );
}

/**
 * A well whose visit of this round is closed.
 * @param {HTMLElement} page @param {any} pack @param {string} code @param {Go} go @param {() => void} again
 */
export async function showClosed(page, pack, code, go, again) {
  const { closed } = await standing();
  const mine = closed.filter((row) => row.round === pack.round.id && row.code === code);
  fill(
    page,
    el("h1", {}, code),
    el("p", {}, "The visit of this round is closed."),
    el(
      "ul",
      {},
      mine.map((row) =>
        el("li", {}, `${row.entry.kind}, ${row.entry.measured_at.slice(0, 16).replace("T", " ")}: ${row.state}`),
      ),
    ),
    button("Back to the wells", () => go(`#round/${encodeURIComponent(pack.round.id)}`), { class: "wide strong" }),
    button("Begin another visit", again, { class: "wide" }),
  );
}

/**
 * This phone: what waits, what the office said, and a copy for emergencies.
 * @param {HTMLElement} page @param {Go} go
 */
export async function showPhone(page, go) {
  const device = await get("facts", "device");
  const { closed, waiting, photos, told: rows } = await standing();
  const count = (state) => closed.filter((row) => row.state === state).length;
  const problems = rows.map((row) =>
    told(
      row.state === "refused" ? "stop" : "look",
      el("strong", {}, `${row.entry.kind} of ${row.code}, ${row.state === "aside" ? "kept aside" : row.state}: `),
      row.why,
    ),
  );
  fill(
    page,
    el("h1", {}, "This phone"),
    el(
      "p",
      {},
      device
        ? `${device.label || device.device} (${device.device}), paired with ${device.network.name}`
        : "Not paired.",
    ),
    el(
      "dl",
      { class: "counts" },
      [
        ["waiting", waiting],
        ["sent", count("sent")],
        ["kept aside", count("aside")],
        ["refused", count("refused")],
        ["photos waiting", photos],
      ].map(([name, number]) => el("div", {}, el("dt", {}, name), el("dd", {}, String(number)))),
    ),
    line.said ? told(line.state && line.state !== "sending" ? "look" : "plain", line.said) : "",
    problems,
    button("Send now", () => send(), { class: "wide strong", disabled: !waiting && !photos }),
    button("Save a copy of everything written here", saveCopy, { class: "wide" }),
    el(
      "p",
      { class: "help" },
      "A file with every draft, entry and photo on this phone: for when the phone must be given up before it could send.",
    ),
    button("Rounds", () => go("#rounds"), { class: "wide" }),
    button("Pair again", () => go("#pair="), { class: "wide" }),
  );
}

async function saveCopy() {
  const copy = await copyOfEverything();
  const file = URL.createObjectURL(new Blob([JSON.stringify(copy, null, 1)], { type: "application/json" }));
  el("a", { href: file, download: `field-sheet-${copy.made_at.slice(0, 16).replace(":", "")}.json` }).click();
  setTimeout(() => URL.revokeObjectURL(file), 60_000);
}
