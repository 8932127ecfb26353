// Saves a question under a name.

import { make, problemList, problemsOf } from "./api.js";

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!(form instanceof HTMLFormElement) || form.id !== "save-question") return;
  event.preventDefault();
  void save(form);
});

/** @param {HTMLFormElement} form */
async function save(form) {
  const said = form.querySelector("[role=status]");
  const text = (/** @type {string} */ name) => String(new FormData(form).get(name) ?? "").trim();
  const { rows = "", when = "", show = "", client = null, under = null } = form.dataset;
  try {
    const question = { key: text("key"), title: text("title"), rows, when, show: show.split("\n").filter((line) => line.trim() !== ""), client, under };
    // of all studies, whatever page it is asked from
    const answer = await fetch("/api/questions", { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify(question) });
    const body = await answer.json();
    said?.replaceChildren(answer.ok ? make("span", {}, "Saved as ", make("b", {}, body.key), ".") : problemList(body.problems ?? []));
  } catch (refused) {
    said?.replaceChildren(problemList(problemsOf(refused)));
  }
}
