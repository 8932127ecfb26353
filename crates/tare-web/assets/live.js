// News from the server, on every page: what others recorded, and when new figures stand. Says aloud when the line is down.

import { make, study } from "./api.js";
import { reloadOnNews } from "./live-reload.js";

const FIRST_PAUSE = 1000;
const LONGEST_PAUSE = 30000;
/** A browser opens few connections to one server: pages out of sight give theirs back, after this while. */
const HIDDEN_FOR = 4000;
/** Short losses, as when a server is started anew, are not worth a word. */
const SAY_LOST_AFTER = 1500;

/** @type {EventSource|null} */
let source = null;
let pause = FIRST_PAUSE;
let timer = 0;
let hiding = 0;
let saying = 0;
/** Whether news may have been missed since the rows on the page were read. */
let missed = false;
let lost = false;

const said = statusElement();
let head = Number(document.body.dataset.head ?? 0);
// the server writes "computing" there where the figures are older than the rows
let computed = said.textContent?.includes("computing") ? head - 1 : head;

/** @param {string} name @param {unknown} detail */
const tell = (name, detail) => document.dispatchEvent(new CustomEvent(name, { detail }));

/** The place in the header where the state of the line is said. */
function statusElement() {
  const there = document.getElementById("live");
  if (there) return there;
  const made = make("p", { id: "live", role: "status", "aria-live": "polite", "data-test": "live" });
  (document.querySelector("body > header") ?? document.body).append(made);
  return made;
}

function connect() {
  clearTimeout(timer);
  if (source || document.hidden || study.api === "") return;
  const fresh = new EventSource(`${study.api}/live`);
  source = fresh;
  fresh.addEventListener("open", (e) => {
    // the server says first at which entry it stands: what was recorded while the page was on its way is noticed
    if (e instanceof MessageEvent && isBehind(e.data)) missed = true;
    pause = FIRST_PAUSE;
    clearTimeout(saying);
    const again = missed;
    missed = false;
    if (lost) say("connected again", false);
    lost = false;
    tell("tare:online", { missed: again });
  });
  fresh.addEventListener("entry", (e) => news("tare:entry", e));
  fresh.addEventListener("computed", (e) => news("tare:computed", e));
  fresh.addEventListener("ranges", (e) => news("tare:ranges", e));
  // the server had more to tell than it keeps for one page: everything is looked at anew
  fresh.addEventListener("behind", () => tell("tare:online", { missed: true }));
  fresh.addEventListener("error", () => {
    // the browser's own way to connect again knows no growing pause and gives up on some answers
    close();
    missed = true;
    if (!lost) {
      lost = true;
      tell("tare:offline", {});
      saying = setTimeout(() => say("connection lost \u2013 what you see may be old", true), SAY_LOST_AFTER);
    }
    timer = setTimeout(connect, pause * (0.75 + Math.random() / 2));
    pause = Math.min(pause * 2, LONGEST_PAUSE);
  });
}

/** @param {string} data */
function isBehind(data) {
  try {
    return Number(JSON.parse(data).head) > head;
  } catch {
    return false;
  }
}

function close() {
  source?.close();
  source = null;
}

/** @param {string} name @param {MessageEvent} e */
function news(name, e) {
  let detail;
  try {
    detail = JSON.parse(e.data);
  } catch {
    return;
  }
  if (name === "tare:entry" && Number.isFinite(detail.number)) {
    head = Math.max(head, detail.number);
    document.body.dataset.head = String(head);
  }
  if (name === "tare:computed" && Number.isFinite(detail.head)) computed = Math.max(computed, detail.head);
  if (!lost) say(computed < head ? "computing" : "", false);
  tell(name, detail);
}

let fading = 0;
/** @param {string} text @param {boolean} badly */
function say(text, badly) {
  if (said.textContent !== text) said.textContent = text;
  said.classList.toggle("offline", badly);
  clearTimeout(fading);
  if (!badly && text !== "computing")
    fading = setTimeout(() => {
      said.textContent = "";
    }, 6000);
}

document.addEventListener("visibilitychange", () => {
  clearTimeout(hiding);
  if (document.hidden) {
    hiding = setTimeout(() => {
      if (source) missed = true;
      close();
      clearTimeout(timer);
    }, HIDDEN_FOR);
  } else if (!source) {
    pause = FIRST_PAUSE;
    connect();
  }
});
addEventListener("online", () => {
  pause = FIRST_PAUSE;
  if (!source) connect();
});
// a page kept by the browser for "back" must not hold its connection, and is old when it comes back
addEventListener("pagehide", () => {
  missed = true;
  close();
});
addEventListener("pageshow", (e) => {
  if (e.persisted) connect();
});

reloadOnNews();
connect();
