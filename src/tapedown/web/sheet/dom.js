/** Elements made by script: whatever was typed or fetched goes in as text, never as markup. */

/** @typedef {HTMLElement | Text | string | number | null | undefined | false | any[]} Child */

const PROPERTIES = new Set(["value", "checked", "selected", "disabled", "hidden", "open"]);

/**
 * One element. Names that begin with "on" are listeners, a few are properties, the rest are attributes.
 * @param {string} tag
 * @param {Record<string, any>} [given]
 * @param {...(Child | Child[])} children
 * @returns {any}
 */
export function el(tag, given = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(given)) {
    if (value === undefined || value === null || value === false) continue;
    if (name.startsWith("on")) made.addEventListener(name.slice(2), value);
    else if (PROPERTIES.has(name)) made[name] = value;
    else made.setAttribute(name, value === true ? "" : value);
  }
  made.append(...shown(children));
  return made;
}

/** @param {HTMLElement} place @param {...(Child | Child[])} children */
export function fill(place, ...children) {
  place.replaceChildren(...shown(children));
}

/** @param {any[]} children */
function shown(children) {
  return children.flat(2).filter((child) => child !== null && child !== undefined && child !== false && child !== "");
}

/** @param {string} text @param {() => any} pressed @param {Record<string, any>} [more] */
export function button(text, pressed, more = {}) {
  return el("button", { type: "button", onclick: pressed, ...more }, text);
}

/**
 * A row of big switches; several may be on, or one at a time.
 * @param {string} name what is chosen, for who cannot see the row
 * @param {string[]} words
 * @param {(word: string) => boolean} isOn
 * @param {(word: string) => void} pressed
 */
export function chips(name, words, isOn, pressed) {
  const row = el("div", { class: "chips", role: "group", "aria-label": name });
  for (const word of words) {
    const chip = button(word, () => {
      pressed(word);
      for (const one of row.children) one.setAttribute("aria-pressed", String(isOn(one.textContent)));
    });
    chip.setAttribute("aria-pressed", String(isOn(word)));
    row.append(chip);
  }
  return row;
}

/** @param {string} kind "plain", "look", "stop" or "good" @param {...(Child | Child[])} children */
export function told(kind, ...children) {
  return el("p", { class: `told ${kind}` }, ...children);
}

/** @param {string} label @param {HTMLElement} control with an id @param {string} [help] */
export function labelled(label, control, help = "") {
  const hint = help ? el("span", { class: "help", id: `${control.id}-help` }, help) : null;
  if (hint) control.setAttribute("aria-describedby", hint.id);
  return el("div", { class: "field" }, el("label", { for: control.id }, label), hint, control);
}
