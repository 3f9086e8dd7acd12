/** Photos: made smaller, kept on the phone at once, shown from there. */

import { sha256 } from "./chain.js";
import { moreFields } from "./closing.js";
import { button, el, labelled } from "./dom.js";
import { control } from "./forms.js";
import { get, put } from "./store.js";

const LONGEST_SIDE = 2000;
const KEPT_AS_THEY_ARE = ["image/jpeg", "image/png"];

/**
 * Keep a picture; gives what its entry will say, or null when the phone cannot read it.
 * @param {File} file
 */
export async function keepPhoto(file) {
  let picture;
  try {
    picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  } catch {
    return null;
  }
  const small = Math.max(picture.width, picture.height) <= LONGEST_SIDE && KEPT_AS_THEY_ARE.includes(file.type);
  const bytes = await (small ? file : await smaller(picture)).arrayBuffer();
  picture.close();
  const photo = { sha256: await sha256(bytes), media_type: small ? file.type : "image/jpeg", name: file.name };
  await put("photos", { ...photo, bytes });
  return { ...photo, caption: "" };
}

/** @param {ImageBitmap} picture @returns {Promise<Blob>} */
function smaller(picture) {
  const share = Math.min(1, LONGEST_SIDE / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.round(picture.width * share);
  canvas.height = Math.round(picture.height * share);
  canvas.getContext("2d")?.drawImage(picture, 0, 0, canvas.width, canvas.height);
  return new Promise((done, failed) => {
    canvas.toBlob(
      (blob) => (blob ? done(blob) : failed(new Error("the phone could not make the photo smaller"))),
      "image/jpeg",
      0.85,
    );
  });
}

/**
 * A picture from one of the stores.
 * @param {"photos" | "pictures"} store @param {string} name @param {string} caption
 */
export function figure(store, name, caption) {
  const place = el("figure", {});
  get(store, name).then((kept) => {
    if (!kept) return;
    const image = el("img", { alt: caption || "photo of the well", loading: "lazy" });
    image.src = URL.createObjectURL(new Blob([kept.bytes], { type: kept.media_type }));
    image.onload = () => URL.revokeObjectURL(image.src);
    place.append(image, caption ? el("figcaption", {}, caption) : "");
  });
  return place;
}

/** Section 7: remarks, and photos with what they show. @param {import("./visit.js").Visit} visit */
export function remarks(visit) {
  const { pack, draft } = visit;
  const more = (draft.more ??= {});
  const text = el("textarea", { id: "remarks", rows: "4", value: draft.remarks });
  text.addEventListener("input", () => {
    draft.remarks = text.value;
    visit.save();
  });
  const shown = el("div", { class: "photos" });
  const add = (photo) => {
    const caption = el("input", {
      id: `caption-${photo.sha256.slice(0, 12)}`,
      autocomplete: "off",
      value: photo.caption,
    });
    caption.addEventListener("input", () => {
      photo.caption = caption.value;
      visit.save();
    });
    const place = el(
      "div",
      { class: "photo" },
      figure("photos", photo.sha256, ""),
      labelled("What it shows", caption),
      button("Leave this photo out", () => {
        draft.photos.splice(draft.photos.indexOf(photo), 1);
        visit.save();
        place.remove();
      }),
    );
    shown.append(place);
  };
  draft.photos.forEach(add);
  const problem = el("p", { class: "problem", role: "status" });
  const chooser = (words, how) => {
    const input = el("input", { type: "file", accept: "image/*", multiple: true, ...how });
    input.addEventListener("change", async () => {
      problem.textContent = "";
      for (const file of input.files) {
        const photo = await keepPhoto(file);
        if (!photo) problem.textContent = `${file.name} is no picture this phone can read.`;
        else if (!draft.photos.some((one) => one.sha256 === photo.sha256)) {
          draft.photos.push(photo);
          visit.save();
          add(photo);
        }
      }
      input.value = "";
    });
    return el("label", { class: "wide button" }, words, input);
  };
  return [
    ...moreFields(pack).map((field) => control(field, more, `visit-${field.name}`, () => visit.save())),
    labelled("Remarks", text, "anything the next person should know"),
    shown,
    problem,
    chooser("Take a photo", { capture: "environment" }),
    chooser("Choose a picture", {}),
  ];
}
