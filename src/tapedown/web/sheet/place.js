/** Where the phone is, when the person allows it: only to say how far a well is. Kept nowhere. */

import { el } from "./dom.js";

const EARTH_M = 6_371_000;
/** @type {GeolocationCoordinates | null} */
let here = null;
let asked = false;
let why = "";

export const canAsk = () => "geolocation" in navigator && !asked;

/** Ask for the position; every new one makes a "position" event. */
export function watchPosition() {
  asked = true;
  const told = (at, reason) => {
    here = at;
    why = reason;
    dispatchEvent(new Event("position"));
  };
  navigator.geolocation.watchPosition(
    ({ coords }) => told(coords, ""),
    (error) => told(null, error.code === 1 ? "the phone does not allow its position" : "no position yet"),
    { enableHighAccuracy: true, maximumAge: 10_000 },
  );
}

/** How far a well is, kept up to date while it is on the page. @param {any} well */
export function distance(well) {
  const made = el("span", { class: "away" }, distanceTo(well));
  const show = () => {
    if (made.isConnected) made.textContent = distanceTo(well);
    else removeEventListener("position", show);
  };
  addEventListener("position", show);
  return made;
}

/** How far a well is, in words; "" when that cannot be said. @param {any} well */
function distanceTo(well) {
  const [latitude, longitude] = [Number.parseFloat(well.latitude), Number.parseFloat(well.longitude)];
  if (Number.isNaN(latitude) || Number.isNaN(longitude) || !asked) return "";
  if (!here) return why;
  const rad = Math.PI / 180;
  const a =
    Math.sin(((latitude - here.latitude) * rad) / 2) ** 2 +
    Math.cos(latitude * rad) * Math.cos(here.latitude * rad) * Math.sin(((longitude - here.longitude) * rad) / 2) ** 2;
  const away_m = 2 * EARTH_M * Math.asin(Math.sqrt(a));
  const doubt_m = Math.round(here.accuracy);
  return away_m < 1000 ? `${Math.round(away_m)} m away (± ${doubt_m} m)` : `${(away_m / 1000).toFixed(1)} km away`;
}
