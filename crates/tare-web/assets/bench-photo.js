// Taking a photo: the camera of the device, a preview, and the pictures a part has.

import { h } from "./dom.js";

/**
 * A key that opens the camera.
 *
 * @param {object} given
 * @param {string} given.label
 * @param {(file: File) => void} given.take
 * @param {string} [given.test]
 */
export function cameraKey({ label, take, test }) {
  const input = h("input", { type: "file", accept: "image/*", capture: "environment", data: { test } });
  input.addEventListener("change", () => {
    for (const file of input.files) take(file);
    // the same picture may be taken twice
    input.value = "";
  });
  return h("label", { class: "camera" }, input, h("span", {}, label));
}

/** Pictures picked for a part that is not there yet. @param {{test?: string}} given */
export function photoField({ test }) {
  /** @type {{file: File, address: string}[]} */
  let taken = [];
  const place = h("div", { class: "pictures" });
  const show = () =>
    place.replaceChildren(
      ...taken.map((t, i) =>
        h("figure", {}, picture(t.address, `photo ${i + 1}, not saved yet`), h("button", { type: "button", class: "key-button", onclick: () => drop(t) }, "leave out")),
      ),
    );
  /** @param {typeof taken[0]} one */
  function drop(one) {
    URL.revokeObjectURL(one.address);
    taken = taken.filter((t) => t !== one);
    show();
  }
  const element = h("div", { class: "field" }, cameraKey({ label: "Take photo", test, take: (file) => (taken.push({ file, address: URL.createObjectURL(file) }), show()) }), place);
  return {
    element,
    get files() {
      return taken.map((t) => t.file);
    },
    clear() {
      for (const t of taken) URL.revokeObjectURL(t.address);
      taken = [];
      show();
    },
  };
}

/** Addresses of queued pictures; made once, or each drawing of a list would hold the picture once more. */
const addresses = new WeakMap();
/** @param {Blob} blob */
export function addressOf(blob) {
  if (!addresses.has(blob)) addresses.set(blob, URL.createObjectURL(blob));
  return addresses.get(blob);
}

/** @param {string} address @param {string} alt */
export function picture(address, alt) {
  const image = h("img", { src: address, alt, loading: "lazy" });
  // some cameras write a form the browser cannot draw; the picture itself is kept
  image.addEventListener("error", () => image.replaceWith(h("span", { class: "blank-picture" }, alt)));
  return image;
}

/** The pictures of a part. @param {import("./bench-record.js").Bench} bench @param {string} id */
export function pictures(bench, id) {
  const { heard, queued } = bench.photos(id);
  return h(
    "div",
    { class: "pictures" },
    heard
      .filter((p) => p.fields.digest)
      .map((p) =>
        h("a", { href: `/s/${encodeURIComponent(bench.study)}/photo?of=@${p.id}` }, picture(`/photos/${encodeURIComponent(p.fields.digest)}?w=160`, p.fields.name ?? "photo")),
      ),
    queued.map((p) => h("figure", {}, picture(addressOf(p.blob), `${p.name}, not saved yet`), h("figcaption", {}, "not saved yet"))),
  );
}
