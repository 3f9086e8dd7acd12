// Pan and zoom the figure of a series: the server draws each view anew, cut down to what a screen can show.
"use strict";
(() => {
  const box = document.getElementById("series");
  if (!box) return;
  const narrow = matchMedia("(max-width: 40rem)").matches;
  const [WIDTH, LEFT, RIGHT] = narrow ? [372, 46, 8] : [1000, 62, 12];
  const picture = () => box.querySelector(narrow ? ".figure-narrow" : ".figure-wide");
  const first = Number(box.dataset.first), last = Number(box.dataset.last);
  let from = Number(box.dataset.from), to = Number(box.dataset.to);
  let asked = 0, waiting = null, drag = null, pinch = null;
  const asOf = box.dataset.asOf ? `&as_of=${encodeURIComponent(box.dataset.asOf)}` : "";
  const pointers = new Map();

  const timeAt = (clientX) => {
    const seen = picture().getBoundingClientRect();
    const x = ((clientX - seen.left) / seen.width) * WIDTH;
    return from + ((x - LEFT) / (WIDTH - LEFT - RIGHT)) * (to - from);
  };

  const draw = async () => {
    const turn = ++asked;
    const query = `from_s=${Math.round(from)}&to_s=${Math.round(to)}${asOf}`;
    const answer = await fetch(`${box.dataset.path}/figure.svg?${query}${narrow ? "&narrow=true" : ""}`);
    if (!answer.ok || turn !== asked) return;
    const parsed = new DOMParser().parseFromString(await answer.text(), "image/svg+xml");
    if (turn !== asked || parsed.documentElement.nodeName !== "svg") return;
    box.replaceChildren(document.importNode(parsed.documentElement, true));
    history.replaceState(null, "", `${box.dataset.path}?${query}`);
  };

  const show = (low, high) => {
    const span = Math.min(Math.max(high - low, 60), last - first);
    from = Math.min(Math.max(low, first), last - span);
    to = from + span;
    clearTimeout(waiting);
    waiting = setTimeout(draw, 30);
  };

  const zoom = (about, factor) => show(about - (about - from) * factor, about + (to - about) * factor);

  box.addEventListener("wheel", (event) => {
    event.preventDefault();
    zoom(timeAt(event.clientX), event.deltaY > 0 ? 1.25 : 0.8);
  }, { passive: false });

  box.addEventListener("pointerdown", (event) => {
    pointers.set(event.pointerId, event.clientX);
    if (pointers.size === 2) {
      const [a, b] = [...pointers.values()];
      pinch = { apart: Math.abs(a - b) || 1, about: timeAt((a + b) / 2), from, to };
      drag = null;
    } else {
      drag = { x: event.clientX, from, to, moved: false };
    }
  });

  box.addEventListener("pointermove", (event) => {
    if (!pointers.has(event.pointerId)) return;
    pointers.set(event.pointerId, event.clientX);
    if (pinch && pointers.size === 2) {
      const [a, b] = [...pointers.values()];
      const factor = pinch.apart / (Math.abs(a - b) || 1);
      show(pinch.about - (pinch.about - pinch.from) * factor, pinch.about + (pinch.to - pinch.about) * factor);
    } else if (drag) {
      const seen = picture().getBoundingClientRect();
      const by = ((drag.x - event.clientX) / seen.width) * (WIDTH / (WIDTH - LEFT - RIGHT)) * (drag.to - drag.from);
      if (Math.abs(drag.x - event.clientX) > 4) drag.moved = true;
      if (drag.moved) show(drag.from + by, drag.to + by);
    }
  });

  const ended = (event) => {
    pointers.delete(event.pointerId);
    if (pointers.size < 2) pinch = null;
    if (event.type === "pointerup" && drag && !drag.moved && !event.target.closest("a")) {
      const at = timeAt(event.clientX);
      if (at >= from && at <= to) location.assign(`${box.dataset.path}/at?at_s=${Math.round(at)}${asOf}`);
    }
    if (pointers.size === 0) drag = null;
  };
  box.addEventListener("pointerup", ended);
  box.addEventListener("pointercancel", ended);
  box.addEventListener("pointerleave", ended);
  box.addEventListener("dragstart", (event) => event.preventDefault());

  for (const link of document.querySelectorAll("[data-move]")) {
    link.addEventListener("click", (event) => {
      event.preventDefault();
      const span = to - from, middle = (from + to) / 2;
      const moves = {
        earlier: [from - span / 2, to - span / 2], later: [from + span / 2, to + span / 2],
        nearer: [middle - span / 4, middle + span / 4], further: [middle - span, middle + span],
        whole: [first, last],
      };
      show(...moves[link.dataset.move]);
    });
  }
})();
