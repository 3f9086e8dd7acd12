// Follows a piece of long work and moves on to its outcome.
"use strict";

const EVERY_MS = 500;
const words = document.getElementById("working-words");
const bar = document.getElementById("working-bar");

async function look() {
  try {
    const answer = await fetch(`${location.pathname}.json`, { cache: "no-store" });
    const now = await answer.json();
    if (!answer.ok || now.finished) return location.reload();
    words.textContent = now.words;
    if (now.of) {
      bar.max = now.of;
      bar.value = now.done;
    } else {
      bar.removeAttribute("value");
    }
  } catch {
    words.textContent = "the office does not answer; trying again";
  }
  setTimeout(look, EVERY_MS);
}

setTimeout(look, EVERY_MS);
