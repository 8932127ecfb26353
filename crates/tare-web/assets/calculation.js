// The text of a calculation: what is wrong with it and what its checks give, while it is written.

import { make, post, problemList, problemsOf } from "./api.js";

const form = /** @type {HTMLFormElement} */ (document.getElementById("calculation"));
const text = /** @type {HTMLTextAreaElement} */ (document.getElementById("text"));
const checks = /** @type {HTMLElement} */ (document.getElementById("checks"));
/** Longer than between two strokes of a key, shorter than a look aside. */
const PAUSE = 350;
let waiting = 0;
let asked = 0;

text.addEventListener("input", () => {
  clearTimeout(waiting);
  waiting = window.setTimeout(() => void look(false), PAUSE);
});
form.addEventListener("submit", (event) => {
  event.preventDefault();
  void look(true);
});
void look(false);

/** @param {boolean} keep */
async function look(keep) {
  const mine = ++asked;
  try {
    const found = await post("calculation", { key: form.dataset.key, text: text.value, keep });
    if (mine === asked) show(found, keep);
  } catch (refused) {
    if (mine === asked) checks.replaceChildren(problemList(problemsOf(refused)));
  }
}

/** @param {any} found @param {boolean} kept */
function show(found, kept) {
  const rows = found.checks.map((/** @type {any} */ check) =>
    make("tr", {}, make("th", { scope: "row" }, check.name), make("td", {}, check.expected), make("td", {}, check.got), make("td", {}, check.ok ? "agrees" : "differs")),
  );
  const head = make("thead", {}, make("tr", {}, ...["Check", "Published", "Computed", ""].map((title) => make("th", { scope: "col" }, title))));
  checks.replaceChildren(
    make("p", { class: "note" }, kept && found.kept ? "Kept in the own library. " : "", `${found.problems.length} messages, ${rows.length} checks`),
    problemList(found.problems.map((/** @type {any} */ p) => ({ ...p, says: p.place ? `${p.place}: ${p.says}` : p.says }))),
    rows.length > 0 ? make("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": "Checks" }, make("table", { class: "grid" }, head, make("tbody", {}, ...rows))) : "",
  );
}
