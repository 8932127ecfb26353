// Ideas: several chosen and computed together, taken, kept or dropped; and a new one, read while it is written.

import { make, plain, post, problemList, problemsOf, study, Refused } from "./api.js";

/** Longer than between two strokes of a key, shorter than a look aside. */
const PAUSE = 400;

/** @returns {HTMLFormElement|null} */
const list = () => document.querySelector("form#ideas");

/** The ideas chosen: label and name. @returns {{label: string, name: string}[]} */
const chosen = () =>
  [...document.querySelectorAll("form#ideas input[name=idea]:checked, form#ideas input[name=one]")].map((e) => {
    const input = /** @type {HTMLInputElement} */ (e);
    return { label: input.value, name: input.dataset.name ?? input.value };
  });

const bar = () => document.getElementById("chosen");
const panel = () => document.getElementById("chosen-panel");

/** Shows what can be done with so many. */
function look() {
  const place = bar();
  if (!place) return;
  const many = chosen().length;
  const one = list()?.dataset.one !== undefined;
  place.hidden = many === 0;
  const said = document.getElementById("chosen-many");
  if (said) said.textContent = one ? "" : `${many} chosen`;
  place.classList.toggle("of-one", one);
  const none = place.querySelector("[data-do=none]");
  const together = place.querySelector("[data-do=together]");
  if (none instanceof HTMLElement) none.hidden = one;
  if (together instanceof HTMLElement) together.hidden = one;
}

document.addEventListener("change", (event) => {
  if (!(event.target instanceof HTMLInputElement) || event.target.name !== "idea") return;
  panel()?.replaceChildren();
  look();
});

document.addEventListener("tare:swapped", look);

document.addEventListener("click", (event) => {
  const button = event.target instanceof Element ? event.target.closest("button") : null;
  if (!button) return;
  if (button.dataset.stopSet !== undefined) void stopSet(button);
  const what = button.dataset.do;
  if (what === "together") void together(button);
  if (what === "drop") ask(button, "Why", "says", "Drop", (says) => done("ideas-drop", { says }));
  if (what === "take") ask(button, "Name of the variant", "name", "Make the variant", take);
  if (what === "keep") void done("ideas-keep", {});
  if (what === "none") {
    for (const input of document.querySelectorAll("form#ideas input[name=idea]:checked")) /** @type {HTMLInputElement} */ (input).checked = false;
    panel()?.replaceChildren();
    look();
  }
});

const labels = () => chosen().map((one) => one.label);

/** @param {...(Node|string|null)} inside */
function show(...inside) {
  const place = panel();
  if (!place) return;
  place.replaceChildren(...inside.filter((one) => one !== null));
}

/** @param {unknown} refused */
const refuse = (refused) => show(make("div", { class: "said", role: "alert" }, problemList(problemsOf(refused))));

/**
 * Asks for the one thing that is missing, and goes on with it.
 * @param {HTMLElement} button
 * @param {string} title
 * @param {string} name
 * @param {string} word
 * @param {(text: string) => Promise<void>} then
 */
function ask(button, title, name, word, then) {
  const input = make("input", { name, required: true, autocomplete: "off", "data-test": `idea-${name}`, id: "chosen-input" });
  const go = () => {
    if (input.value.trim() === "") {
      input.setAttribute("aria-invalid", "true");
      input.focus();
      return;
    }
    void then(input.value.trim());
  };
  input.addEventListener("keydown", (event) => {
    // the list around it is a form: Enter is for this field
    if (event.key === "Enter") {
      event.preventDefault();
      go();
    }
    if (event.key === "Escape") {
      show();
      button.focus();
    }
  });
  show(
    make(
      "div",
      { class: "chosen-ask" },
      make("label", { for: "chosen-input" }, title),
      input,
      make("button", { type: "button", class: "main", "data-test": "chosen-go", onclick: go }, word),
    ),
    named(),
  );
  input.focus();
}

/** The ideas meant, by name. */
const named = () => make("p", { class: "note" }, ...chosen().flatMap(({ name, label }, at) => [at > 0 ? "; " : "", make("bdi", {}, name), ` (${label})`]));

/** @param {string} path @param {Record<string, unknown>} more */
async function done(path, more) {
  try {
    await post(path, { ideas: labels(), ...more });
    location.assign(list()?.dataset.one === undefined ? location.href.split("#")[0] ?? location.href : `${study.base}/ideas`);
  } catch (refused) {
    refuse(refused);
  }
}

/** @param {string} name */
async function take(name) {
  try {
    const made = await post("ideas-take", { ideas: labels(), name });
    const page = `/s/${encodeURIComponent(made.study)}`;
    const beside = `${study.base}/compare?with=${encodeURIComponent(study.name)}&with=${encodeURIComponent(made.study)}`;
    for (const input of document.querySelectorAll("form#ideas input[name=idea]:checked")) /** @type {HTMLInputElement} */ (input).checked = false;
    show();
    look();
    document.getElementById("taken")?.remove();
    // before the page's own content, which is read again in a moment: this study says now that they are taken
    document.querySelector("main")?.before(
      make(
        "div",
        { class: "changed-bar", role: "status", id: "taken", "data-test": "taken" },
        make(
          "span",
          {},
          "The variant ",
          make("a", { href: page }, make("bdi", {}, made.study)),
          ` is made, with ${made.edits} edits. `,
          make("a", { href: beside }, "Compare it with this study"),
        ),
      ),
    );
  } catch (refused) {
    refuse(refused);
  }
}

/** A number as the table writes it. @param {number} n @param {number} decimals */
const fixed = (n, decimals) => {
  const text = Math.abs(n).toFixed(decimals);
  return n < 0 && /[1-9]/.test(text) ? `\u2212${text}` : text;
};
/** A figure as the page writes numbers: a minus as wide as a plus, thin spaces between thousands of long numbers. @param {string} text */
const minus = (text) => text.replaceAll("-", "\u2212").replace(/^(\u2212?)(\d{5,})/, (_, sign, digits) => sign + plain(digits));
/** @param {number} n */
const share = (n) => (n > 0.9995 ? "100 %" : n > 0.995 ? "> 99 %" : n < 0.0005 ? "0 %" : n < 0.005 ? "< 1 %" : `${(n * 100).toFixed(0)} %`);
/** @param {number} n */
const change = (n) => `${n > 0.05 ? "+" : ""}${fixed(n, Number.isInteger(Math.round(n * 10) / 10) ? 0 : 1)}`;

/** @param {HTMLButtonElement} button */
async function together(button) {
  const asked = labels().join();
  button.disabled = true;
  show(make("p", { class: "note", role: "status" }, "computing \u2026"));
  try {
    const found = await post("ideas-together", { ideas: labels() });
    if (asked === labels().join()) show(...outcome(found));
  } catch (refused) {
    refuse(refused);
  } finally {
    button.disabled = false;
  }
}

/** @param {any} found @returns {(Node|string)[]} */
function outcome(found) {
  const { whole, each, sum, as_one: asOne, difference } = found;
  const worth = whole.worth;
  if (!worth)
    return [
      make("p", { role: "alert", class: "said", "data-test": "together-result" }, "These ideas cannot be carried out together: ", whole.problems.join("; ")),
    ];
  const unit = (/** @type {string} */ text) => text.split(" ").slice(1).join(" ");
  const short = (/** @type {any} */ row) => (unit(row.low) === unit(row.high) ? row.low.split(" ")[0] : row.low);
  const range = (/** @type {any} */ row) => `${minus(short(row))} to ${minus(row.high)}`;
  const pay = worth.payback ? (worth.stake.value <= 0 ? "at once" : worth.payback.value < 0.05 ? "< 0.1 a" : `${worth.payback.value.toFixed(1)} a`) : "never";
  const figure = (/** @type {string} */ title, /** @type {string} */ text, /** @type {string} */ beside = "") =>
    make("div", {}, make("dt", {}, title), make("dd", {}, make("b", {}, minus(text)), beside ? " " : "", beside ? make("small", {}, beside) : ""));
  const facts = make(
    "dl",
    { class: "fields", "data-test": "together-result" },
    figure("Net saving of a product as one, mean", asOne ?? worth.net_saving.stated.text, `${range(worth.net_saving)}, a gain in ${share(worth.chance)} of draws`),
    figure("Sum of the means of each alone", sum ?? "not known", difference ? (/^-?0[.]00/.test(difference) ? "as one the same" : `as one ${minus(difference.replace("-", ""))} ${difference.startsWith("-") ? "less" : "more"}`) : ""),
    figure("Saved in a year", worth.yearly.text, "at the stated values"),
    figure("Laid out", worth.stake.text, `pays back in ${pay}`),
    worth.seconds ? figure("Manual time of a product", worth.seconds.stated.text, range(worth.seconds)) : "",
    worth.operators !== null ? figure("Operators on all lines", change(worth.operators)) : "",
    figure("Pieces, joints", `${change(worth.parts)}, ${change(worth.joints)}`),
    worth.mass ? figure("Mass of a product", worth.mass.stated.text) : "",
  );
  const rows = each.map((/** @type {any} */ row) =>
    make(
      "tr",
      {},
      make("th", { scope: "row" }, make("bdi", {}, row.name), make("small", {}, row.label)),
      make("td", { class: "k-num" }, row.worth ? fixed(row.worth.net_saving.middle, 2) : "does not fit"),
      make("td", { class: "k-num" }, row.worth ? minus(row.worth.yearly.text) : ""),
    ),
  );
  const head = make("thead", {}, make("tr", {}, ...["Each alone", "Net saving", "In a year"].map((t, at) => make("th", { scope: "col", class: at > 0 ? "k-num" : null }, t))));
  const said = whole.problems.length > 0 ? make("div", {}, make("p", { class: "note" }, "Together the study would say:"), make("ul", { class: "plain" }, ...whole.problems.map((/** @type {string} */ p) => make("li", {}, make("bdi", {}, p))))) : "";
  return [
    facts,
    make("div", { class: "scroll", tabindex: 0, role: "region", "aria-label": "Each alone" }, make("table", { class: "grid slim" }, head, make("tbody", {}, ...rows))),
    said,
    make("p", { class: "note" }, "Gains do not add up where ideas touch: the set is carried out and drawn as a whole. Nothing was recorded."),
  ];
}

/** @param {HTMLButtonElement} button */
async function stopSet(button) {
  const most = button.dataset.stopSet ? Number(button.dataset.stopSet) : null;
  button.disabled = true;
  try {
    await post("ideas-stop", { most });
    location.assign(`${study.base}/ideas`);
  } catch (refused) {
    button.after(problemList(problemsOf(refused)));
  }
}

// A new idea

/** The lines of the edits as they stand in the field. @param {HTMLFormElement} form */
function written(form) {
  const data = new FormData(form);
  const text = (/** @type {string} */ name) => String(data.get(name) ?? "").trim();
  return {
    name: text("name"),
    says: text("says"),
    edits: String(data.get("edits") ?? "").split(/\r?\n/),
    one_off: text("one_off") || null,
    risk: text("risk") || null,
    source: text("source"),
  };
}

/** @param {HTMLFormElement} form @param {any[]} problems @param {string[]} edits */
function say(form, problems, edits) {
  const place = form.querySelector(".edits-said");
  if (!place) return;
  const at = problems.filter((p) => p.line);
  const field = form.querySelector("textarea");
  if (at.length > 0) field?.setAttribute("aria-invalid", "true");
  else field?.removeAttribute("aria-invalid");
  const line = (/** @type {any} */ p) =>
    make("li", {}, p.line ? make("b", {}, `line ${p.line} `) : "", p.says, ...(p.hints ?? []).map((/** @type {string} */ hint) => make("small", {}, hint)));
  place.replaceChildren(
    problems.length > 0 ? make("ul", { class: "said plain" }, ...problems.map(line)) : "",
    problems.length === 0 && edits.length > 0 ? make("ol", { class: "plain reads" }, ...edits.map((text) => make("li", {}, make("bdi", {}, text)))) : "",
  );
}

let waiting = 0;
let round = 0;
document.addEventListener("input", (event) => {
  const form = event.target instanceof HTMLElement ? event.target.closest("form#new-idea") : null;
  if (!(form instanceof HTMLFormElement)) return;
  clearTimeout(waiting);
  waiting = window.setTimeout(() => void read(form), PAUSE);
});

/** @param {HTMLFormElement} form */
async function read(form) {
  const mine = ++round;
  const idea = written(form);
  if (idea.edits.every((line) => line.trim() === "") && !idea.one_off) return say(form, [], []);
  try {
    const found = await post("ideas", { ...idea, name: idea.name || "new", check: true });
    if (mine === round) say(form, found.problems, found.edits);
  } catch (refused) {
    if (mine === round) say(form, problemsOf(refused), []);
  }
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form === list()) event.preventDefault();
  if (!(form instanceof HTMLFormElement) || form.id !== "new-idea") return;
  event.preventDefault();
  void (async () => {
    round += 1;
    try {
      await post("ideas", written(form));
      form.reset();
      location.assign(`${study.base}/ideas`);
    } catch (refused) {
      say(form, refused instanceof Refused ? refused.problems : problemsOf(refused), []);
    }
  })();
});

look();
