// Fields, values and records that are changed where they stand, on every page of the desk.

import { Refused, device, entry, make, me, newId, post, problemList, problemsOf, set, setMe, study } from "./api.js";

document.addEventListener("click", (event) => {
  const pressed = event.target instanceof Element ? event.target.closest("button") : null;
  if (pressed?.id === "me") name(pressed);
  if (pressed?.matches("button.change")) begin(pressed);
  if (pressed?.dataset.post) void turn(pressed);
});

document.addEventListener("change", (event) => {
  const chosen = event.target;
  if (chosen instanceof HTMLSelectElement && chosen.matches("select.change")) void send(chosen, chosen.value);
  if (chosen instanceof HTMLInputElement && chosen.type === "file" && chosen.closest("form.upload")) void upload(chosen);
});

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!(form instanceof HTMLFormElement)) return;
  const how = [["add-record", addRecord], ["record-hold", recordHold], ["add-value", addValue], ["upload", async () => {}]].find(([name]) => form.classList.contains(String(name)));
  if (!how) return;
  event.preventDefault();
  void /** @type {(form: HTMLFormElement) => Promise<void>} */ (how[1])(form);
});

const mine = document.getElementById("me");
if (mine) mine.textContent = me();

/** Asks who records from now on. @param {HTMLButtonElement} button */
function name(button) {
  const input = make("input", { value: me(), "aria-label": "Who records here", autocomplete: "name" });
  const end = (/** @type {boolean} */ keep) => {
    if (keep && input.value.trim() !== "") setMe(input.value.trim());
    button.textContent = me();
    input.replaceWith(button);
  };
  input.addEventListener("keydown", (event) => (event.key === "Enter" || event.key === "Escape") && (end(event.key === "Enter"), button.focus()));
  input.addEventListener("blur", () => input.isConnected && end(true));
  button.replaceWith(input);
  input.select();
}

/** Makes a field of a text. @param {HTMLButtonElement} button */
function begin(button) {
  const input = make("input", { value: button.dataset.from ?? "", "aria-label": button.getAttribute("aria-label") ?? "", autocomplete: "off" });
  const field = make("span", { class: "changing" }, input);
  const end = () => {
    field.replaceWith(button);
    button.focus();
  };
  let sent = false;
  const keep = async () => {
    if (sent || input.value === (button.dataset.from ?? "")) return end();
    sent = true;
    const done = await send(button, input.value, field);
    sent = false;
    if (done) {
      button.replaceChildren(input.value === "" ? make("span", { class: "none" }, "nothing yet") : input.value);
      end();
    }
  };
  input.addEventListener("keydown", (event) => {
    if (event.key === "Enter") {
      event.preventDefault();
      void keep();
    }
    if (event.key === "Escape") {
      clearSaid(field);
      end();
    }
  });
  input.addEventListener("blur", () => setTimeout(() => document.activeElement !== input && !field.querySelector(".said") && void keep()));
  button.replaceWith(field);
  input.focus();
  input.select();
}

/** @param {Element} field */
const clearSaid = (field) => field.querySelector(":scope > .said")?.remove();

/**
 * Records what stands in a field now; says beside it why that did not work.
 * @param {HTMLElement} shown carries target and the text that was shown
 * @param {string} to
 * @param {Element} [field] where to say what is wrong
 * @param {boolean} [mine] whether to write over what another wrote meanwhile
 */
async function send(shown, to, field = shown.parentElement ?? shown, mine = false) {
  clearSaid(field);
  const { target = "", from = "" } = shown.dataset;
  const command = to === "" ? { clear: mine ? { target } : { target, from } } : set(target, to, mine ? undefined : from);
  try {
    await entry([command]);
    shown.dataset.from = to;
    return true;
  } catch (refused) {
    const said = make("span", { class: "said", role: "alert" });
    const conflict = refused instanceof Refused ? refused.conflict : null;
    if (conflict) {
      said.append(`Changed meanwhile: it is ${conflict.found || "empty"} now, you wrote ${to || "nothing"}. `);
      said.append(make("button", { type: "button", onclick: () => { shown.dataset.from = conflict.found; clearSaid(field); location.reload(); } }, "Keep theirs"));
      said.append(make("button", { type: "button", onclick: async () => { if (await send(shown, to, field, true)) location.reload(); } }, "Write mine"));
    } else {
      said.append(problemList(problemsOf(refused)));
      if (shown instanceof HTMLSelectElement) shown.value = from;
    }
    field.append(said);
    return false;
  }
}

/** Takes an entry back or brings it back. @param {HTMLButtonElement} button */
async function turn(button) {
  const place = button.parentElement ?? button;
  clearSaid(place);
  button.disabled = true;
  try {
    await post(String(button.dataset.post), button.dataset.number ? { number: Number(button.dataset.number) } : {});
    location.reload();
  } catch (refused) {
    place.append(make("span", { class: "said", role: "alert" }, problemList(problemsOf(refused))));
    button.disabled = false;
  }
}

/** @param {HTMLFormElement} form @param {import("./api.js").Command[]} commands */
async function recorded(form, commands) {
  form.querySelector(".said")?.remove();
  try {
    await entry(commands);
    location.reload();
  } catch (refused) {
    form.append(make("span", { class: "said", role: "alert" }, problemList(problemsOf(refused))));
  }
}

/** What a form says, fields left empty not among it. @param {HTMLFormElement} form */
const said = (form) => Object.fromEntries([...new FormData(form)].map(([name, text]) => [name, String(text).trim()]).filter(([, text]) => text !== ""));

/** @param {HTMLFormElement} form */
const addRecord = (form) => recorded(form, [{ add: { kind: form.dataset.kind, fields: said(form) } }]);

/** @param {HTMLFormElement} form */
const addValue = (form) => {
  const { quantity = "", text = "", evidence = "assumed" } = said(form);
  return recorded(form, [{ set: { target: `${form.dataset.subject}/${quantity}`, to: text, evidence, beside: true } }]);
};

/** @param {HTMLFormElement} form */
const recordHold = (form) => {
  const who = said(form).who ?? "";
  const at = `@${form.dataset.hold}`;
  return recorded(form, [set(`${at}/who`, who), set(`${at}/when`, new Date().toISOString()), set(`${at}/state`, "recorded")]);
};

/** @param {HTMLInputElement} input */
async function upload(input) {
  const form = /** @type {HTMLFormElement} */ (input.form);
  const note = form.querySelector("[role=status]");
  const file = input.files?.[0];
  if (!file || !note) return;
  note.textContent = "sending";
  const about = new URLSearchParams({ name: file.name.replace(/\.[^.]*$/, ""), entry: newId() });
  if (form.dataset.part) about.set("part", form.dataset.part);
  try {
    const answer = await fetch(`${study.api}/photos?${about}`, { method: "POST", headers: { "content-type": file.type || "application/octet-stream", "x-tare-device": device, "x-tare-author": encodeURIComponent(me()) }, body: file });
    const body = await answer.json();
    if (!answer.ok) throw new Refused(answer.status, body.problems ?? []);
    location.reload();
  } catch (refused) {
    note.replaceChildren(problemList(problemsOf(refused)));
  }
}

