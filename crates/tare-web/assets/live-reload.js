// Pages marked `<main data-live="reload">` are read again when something was recorded or computed, in place. Somebody who is
// writing is not interrupted: a bar offers the new state instead.

import { make } from "./api.js";

const AFTER_NEWS = 250;

/** The page as it would be read now. @returns {Promise<Document|null>} */
async function readAgain() {
  try {
    const answer = await fetch(location.href, { headers: { accept: "text/html" } });
    if (!answer.ok || new URL(answer.url).origin !== location.origin) return null;
    return new DOMParser().parseFromString(await answer.text(), "text/html");
  } catch {
    // the line is down: live.js says so, and news come again with the connection
    return null;
  }
}

/** @param {HTMLElement} main */
function isWriting(main) {
  const at = document.activeElement;
  if (at instanceof HTMLElement && main.contains(at) && (at.matches("input, select, textarea") || at.isContentEditable))
    return true;
  return [...main.querySelectorAll("input, textarea, select")].some((field) => {
    if (field instanceof HTMLSelectElement)
      return [...field.options].some((o) => o.selected !== o.defaultSelected) && field.selectedIndex > 0;
    if (!(field instanceof HTMLInputElement || field instanceof HTMLTextAreaElement)) return false;
    return field instanceof HTMLInputElement && /^(checkbox|radio)$/.test(field.type)
      ? field.checked !== field.defaultChecked
      : field.value !== field.defaultValue;
  });
}

/** What makes an element the same one in the page read anew. @param {Element} element @param {number} place */
const nameOf = (element, place) => element.id || `${element.querySelector("summary")?.textContent?.trim() ?? ""}#${place}`;

/** @param {HTMLElement} main @param {HTMLElement} fresh */
function swap(main, fresh) {
  if (main.innerHTML === fresh.innerHTML) return;
  /** @type {Map<string, boolean>} */
  const open = new Map();
  main.querySelectorAll("details").forEach((d, i) => open.set(nameOf(d, i), d.open));
  const focused =
    document.activeElement instanceof HTMLElement && main.contains(document.activeElement) ? document.activeElement : null;
  const again = focused?.id
    ? `#${CSS.escape(focused.id)}`
    : focused?.getAttribute("href")
      ? `a[href="${CSS.escape(focused.getAttribute("href") ?? "")}"]`
      : null;
  const summary = focused?.matches("summary") ? [...main.querySelectorAll("summary")].indexOf(focused) : -1;
  const inside = [...main.querySelectorAll("[id]")]
    .filter((e) => e.scrollTop > 0 || e.scrollLeft > 0)
    .map((e) => ({ id: e.id, top: e.scrollTop, left: e.scrollLeft }));
  const { scrollX: x, scrollY: y } = window;

  main.replaceChildren(...[...fresh.childNodes].map((n) => document.adoptNode(n)));

  main.querySelectorAll("details").forEach((d, i) => {
    const was = open.get(nameOf(d, i));
    if (was !== undefined) d.open = was;
  });
  for (const { id, top, left } of inside) document.getElementById(id)?.scrollTo({ top, left, behavior: "instant" });
  scrollTo({ left: x, top: y, behavior: "instant" });
  const target = summary >= 0 ? main.querySelectorAll("summary")[summary] : again ? main.querySelector(again) : null;
  if (target instanceof HTMLElement) target.focus({ preventScroll: true });
  // scripts of the page that hold elements of main look them up again
  main.dispatchEvent(new CustomEvent("tare:swapped", { bubbles: true }));
}

export function reloadOnNews() {
  const found = document.querySelector("main[data-live=reload]");
  if (!(found instanceof HTMLElement)) return;
  const main = found;
  let timer = 0;
  let round = 0;
  /** @type {HTMLElement|null} */
  let bar = null;

  const show = async (/** @type {boolean} */ surely, /** @type {string} */ who) => {
    const mine = (round += 1);
    const page = await readAgain();
    const fresh = page?.querySelector("main[data-live=reload]");
    if (!page || !(fresh instanceof HTMLElement) || mine !== round) return;
    if (!surely && isWriting(main)) {
      if (main.textContent !== fresh.textContent) offer(who);
      return;
    }
    bar?.remove();
    bar = null;
    document.title = page.title;
    document.body.dataset.head = page.body.dataset.head ?? document.body.dataset.head ?? "";
    swap(main, fresh);
  };

  const offer = (/** @type {string} */ who) => {
    if (!bar) {
      bar = make("div", { class: "changed-bar", role: "status", "data-test": "live-bar" });
      main.before(bar);
    }
    bar.replaceChildren(
      who === ""
        ? make("span", {}, "new figures are there; what you write or chose here is kept until you look")
        : make("span", {}, "changed by ", make("bdi", {}, who), "; what you are writing here is not recorded yet"),
      make("button", { type: "button", "data-test": "live-show", onclick: () => show(true, who) }, who === "" ? "show them, and drop what I wrote" : "show, and drop what I wrote"),
    );
  };

  let who = "somebody";
  const soon = () => {
    clearTimeout(timer);
    timer = setTimeout(() => show(false, who), AFTER_NEWS);
  };
  document.addEventListener("tare:entry", (e) => {
    who = /** @type {CustomEvent} */ (e).detail?.author || "somebody";
    soon();
  });
  // what was computed beside the page, which nobody changed
  document.addEventListener("tare:beside", () => void show(false, ""));
  document.addEventListener("tare:computed", soon);
  document.addEventListener("tare:ranges", soon);
  document.addEventListener("tare:online", (e) => {
    if (/** @type {CustomEvent} */ (e).detail?.missed) soon();
  });
}
