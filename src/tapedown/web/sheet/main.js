/** The sheet: which page is shown, the bar above it, and what goes on by itself. */

import { fill, told, button } from "./dom.js";
import * as engine from "./engine.js";
import { send, standing } from "./outbox.js";
import { showClosed, showPairing, showPhone, showRound, showRounds } from "./rounds.js";
import { get, put } from "./store.js";
import { draftOf, show } from "./visit.js";

const EVERY_MS = 60_000;
/** A phone says that it has a signal a little before the signal carries anything. */
const AFTER_ONLINE_MS = [0, 3_000, 15_000];
const part = (id) => /** @type {HTMLElement} */ (document.getElementById(id));
const page = part("page");
/** What is done when the page is left. */
let leave = async () => {};
/** Said once on the next page. */
let news = "";
let turn = 0;

/** @param {string} hash */
const go = (hash) => {
  location.hash = hash;
};

/** Show what the address says. */
async function route() {
  const mine = (turn += 1);
  await leave();
  leave = async () => {};
  engine.forget();
  const device = await get("facts", "device");
  const place = location.hash || (await get("facts", "place"))?.hash || "#rounds";
  const [kind, round = "", code = ""] = parts(place);
  if (mine !== turn) return;
  scrollTo(0, 0);
  title(
    code || "Field sheet",
    kind === "visit" ? `#round/${encodeURIComponent(round)}` : kind === "rounds" ? "" : "#rounds",
  );
  if (place.startsWith("#pair=") || !device)
    return showPairing(page, place.startsWith("#pair=") ? decodeURIComponent(place.slice(6)) : "", go);
  const pack = round && (await get("packs", round))?.pack;
  if (kind === "phone") await showPhone(page, go);
  else if (kind === "round" && pack) await showRound(page, pack, go, said());
  else if (kind === "visit" && pack) await visit(pack, round, code);
  else await showRounds(page, go);
  await put("facts", { name: "place", hash: place });
  await bar();
}

/** @param {string} hash */
function parts(hash) {
  try {
    return hash.slice(1).split("/").map(decodeURIComponent);
  } catch {
    return ["rounds"]; // an address cut in two
  }
}

/** What is to be said once. */
function said() {
  const now = news;
  news = "";
  return now;
}

/** @param {any} pack @param {string} round @param {string} code */
async function visit(pack, round, code) {
  const back = `#round/${encodeURIComponent(round)}`;
  const { closed } = await standing();
  const begin = async () => {
    leave = show(page, pack, await draftOf(round, code), {
      saved: (error) =>
        fill(
          part("kept"),
          error
            ? told(
                "stop",
                `The phone could not keep what you typed (${error.message}). Write it on paper too, and save a copy under This phone.`,
              )
            : "",
        ),
      left: (words) => {
        news = words;
        go(back);
        send();
      },
    });
  };
  const over =
    closed.some((row) => row.round === round && row.code === code) && !(await get("drafts", `${round}/${code}`));
  if (over) await showClosed(page, pack, code, go, begin);
  else await begin();
}

/** @param {string} words @param {string} back */
function title(words, back) {
  part("title").textContent = words;
  const link = /** @type {HTMLAnchorElement} */ (part("back"));
  link.hidden = !back;
  if (back) link.href = back;
}

/** The bar: what waits, and whether everything needed is on the phone. */
async function bar() {
  const { waiting, photos } = await standing();
  const link = part("out");
  link.textContent = waiting + photos ? `${waiting + photos} to send` : "all sent";
  link.classList.toggle("waiting", waiting + photos > 0);
  const ready = document.getElementById("ready");
  if (ready) ready.textContent = await readiness();
}

/** In one line: can the person drive off now? */
async function readiness() {
  const installed = Boolean((await navigator.serviceWorker?.getRegistration("/sheet/"))?.active);
  const words = {
    ready: "values are worked out here",
    "getting ready": "the engine is getting ready",
    "not here": "values are worked out at the office",
  };
  return installed
    ? `Works with no signal; ${words[/** @type {keyof typeof words} */ (engine.state)]}.`
    : "Not yet whole on this phone: keep the signal a little longer.";
}

/** Register the worker that keeps the sheet on the phone; a new version waits until every sheet is closed. */
async function install() {
  if (!("serviceWorker" in navigator)) return;
  try {
    const { version } = await (await fetch("/sheet/version.json", { cache: "no-store" })).json();
    await navigator.serviceWorker.register(`/sheet/sw.js?v=${encodeURIComponent(version)}`, { scope: "/sheet/" });
  } catch {
    // no signal: the version on the phone stays
  }
  const registration = await navigator.serviceWorker.ready;
  const tell = () =>
    registration.waiting &&
    fill(part("version"), told("plain", "A new version is ready; it starts when all sheets are closed."));
  const watch = () => registration.installing?.addEventListener("statechange", tell);
  tell();
  watch();
  registration.addEventListener("updatefound", watch);
  await bar();
}

/** Dark or light: as the phone has it, or as chosen here. */
function theme() {
  const pressed = part("theme");
  const dark = matchMedia("(prefers-color-scheme: dark)");
  const isDark = () => (document.documentElement.dataset.theme ?? (dark.matches ? "dark" : "light")) === "dark";
  const name = () => {
    pressed.textContent = isDark() ? "light" : "dark";
    pressed.setAttribute("aria-label", `switch to ${pressed.textContent}`);
  };
  const chosen = localStorage.getItem("theme");
  if (chosen) document.documentElement.dataset.theme = chosen;
  pressed.addEventListener("click", () => {
    const next = isDark() ? "light" : "dark";
    document.documentElement.dataset.theme = next;
    localStorage.setItem("theme", next);
    name();
  });
  dark.addEventListener("change", name);
  name();
}

/** One sheet at a time writes on this phone: two would write over each other. */
function alone(begin) {
  const wait = { ifAvailable: true };
  const hold = (how) =>
    navigator.locks
      .request("tapedown-sheet", how, (lock) => {
        if (!lock) return elsewhere(() => hold({ steal: true }));
        begin();
        return new Promise(() => {});
      })
      .catch(() => elsewhere(() => location.reload()));
  hold(wait);
}

/** @param {() => void} takeOver */
async function elsewhere(takeOver) {
  await leave();
  leave = async () => {};
  removeEventListener("hashchange", route);
  fill(
    page,
    told("look", "The sheet is open in another tab of this phone. Go on there, or here."),
    button("Go on here", takeOver, { class: "wide strong" }),
  );
}

function begin() {
  addEventListener("hashchange", route);
  addEventListener("outbox", async () => {
    await bar();
    if (location.hash === "#phone") await showPhone(page, go);
  });
  const trySending = () => document.visibilityState === "visible" && send();
  for (const moment of ["focus", "pageshow"]) addEventListener(moment, trySending);
  addEventListener("online", () => AFTER_ONLINE_MS.forEach((wait) => setTimeout(trySending, wait)));
  document.addEventListener("visibilitychange", trySending);
  setInterval(trySending, EVERY_MS);
  route().then(() => {
    engine.start(() => {
      dispatchEvent(new Event("engine"));
      bar();
    });
    trySending();
  }); // first the form, then everything that can wait
}

/** Nothing fails in silence. @param {any} reason */
function failed(reason) {
  fill(
    part("kept"),
    told(
      "stop",
      `Something went wrong on this phone: ${reason?.message ?? reason}. What you wrote before is kept; reload the page.`,
    ),
  );
}

addEventListener("error", (event) => failed(event.error ?? event.message));
addEventListener("unhandledrejection", (event) => failed(event.reason));
theme();
if (isSecureContext) {
  alone(begin);
  install();
} else {
  fill(
    page,
    told(
      "stop",
      "The sheet needs an address that begins with https (or this very machine): only then does a browser keep it for work with no signal. Ask in the office how it is served.",
    ),
  );
}
