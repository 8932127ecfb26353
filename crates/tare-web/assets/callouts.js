// Numbered call-outs on a photo: placed by pointing, moved by dragging or with the arrow keys, each with words and perhaps a part.

import { bothVersions, Parts } from "./callout-parts.js";
import { makeMark } from "./callout-mark.js";
import { clamp, plainWords, readCallouts, writeCallouts } from "./callout-text.js";
import { entry, get, make, problemList, problemsOf, Refused, set, style } from "./api.js";
import { Steps } from "./grid-record.js";

/** @typedef {import("./callout-text.js").Callout} Callout */

class Callouts {
  /** @param {HTMLElement} figure */
  constructor(figure) {
    this.photo = figure.dataset.photo ?? "";
    /** The text as the page last had it from the server: what an entry begins from. */
    this.stood = figure.dataset.callouts ?? "";
    this.callouts = readCallouts(this.stood);
    this.parts = new Parts();
    this.steps = new Steps();
    this.target = `@${this.photo}/callouts`;

    const title = figure.dataset.name ?? document.querySelector("h1")?.textContent ?? "photo";
    this.image = make("img", { src: figure.dataset.src || null, alt: title, draggable: "false" });
    this.stage = make("div", { class: "callout-stage", "data-test": "stage" }, this.image);
    this.list = make("ol", { class: "callout-list", "data-test": "callouts" });
    this.said = make("p", { class: "callout-said", role: "status", "data-test": "message" });
    this.against = make("div", { class: "callout-against", role: "alert" });
    figure.append(
      make(
        "div",
        { class: "callout-desk" },
        make(
          "div",
          { class: "callout-picture" },
          figure.dataset.src ? this.stage : null,
          !figure.dataset.src
            ? null
            : make(
                "p",
                { class: "soft" },
                "Point at the picture to place a call-out. Drag one to move it, or choose it and use the arrow keys (with Shift: wider steps).",
              ),
        ),
        make(
          "div",
          { class: "callout-side" },
          make(
            "div",
            { class: "buttons" },
            make(
              "button",
              { type: "button", "data-test": "place", onclick: () => this.#placeNew(0.5, 0.5, this.stage.isConnected) },
              figure.dataset.src ? "add one in the middle" : "add one",
            ),
            make("button", { type: "button", "data-test": "undo", onclick: () => this.#back("undo") }, "undo"),
            make("button", { type: "button", "data-test": "redo", onclick: () => this.#back("redo") }, "redo"),
          ),
          this.list,
          this.against,
          this.said,
          this.parts.proposals,
        ),
      ),
    );
    // marks sit on the picture by shares of its size, which is known once it is there
    this.stage.classList.add("coming");
    this.image.addEventListener("load", () => this.stage.classList.remove("coming"));
    if (this.image.complete && this.image.naturalWidth > 0) this.stage.classList.remove("coming");
    this.image.addEventListener("error", () =>
      this.stage.replaceChildren(
        make("p", { class: "callout-none" }, "The picture could not be read. The call-outs can still be written."),
      ),
    );
    this.stage.addEventListener("click", (e) => {
      if (e.target !== this.image) return;
      const box = this.image.getBoundingClientRect();
      this.#placeNew(clamp((e.clientX - box.left) / box.width), clamp((e.clientY - box.top) / box.height), false);
    });
    document.addEventListener("keydown", (e) => {
      if (!(e.ctrlKey || e.metaKey) || e.target instanceof HTMLInputElement) return;
      const key = e.key.toLowerCase();
      if (key === "z" && !e.shiftKey) this.#back("undo");
      else if (key === "y" || (key === "z" && e.shiftKey)) this.#back("redo");
      else return;
      e.preventDefault();
    });
    document.addEventListener("tare:entry", (e) => {
      const news = /** @type {CustomEvent} */ (e).detail;
      // one's own news may come before the answer to the entry itself
      setTimeout(() => this.steps.own.has(news?.number) || this.#readAgain(news?.author ?? "somebody"), 300);
    });
    document.addEventListener("tare:online", (e) => {
      if (/** @type {CustomEvent} */ (e).detail?.missed) this.#readAgain("somebody");
    });
    this.parts.fetch().then(
      () => this.#draw(),
      () => this.#say("the parts could not be read: words can be written, parts not chosen", true),
    );
    this.#draw();
  }

  #draw() {
    const at = document.activeElement;
    const key = at instanceof HTMLElement ? at.dataset.key : undefined;
    // somebody may be writing while an answer comes in: what is in the field goes along
    const writing =
      at instanceof HTMLInputElement && this.list.contains(at)
        ? { text: at.value, from: at.selectionStart, to: at.selectionEnd }
        : null;
    for (const mark of this.stage.querySelectorAll(".callout-mark")) mark.remove();
    this.callouts.sort((a, b) => a.number - b.number);
    for (const c of this.callouts) if (c.x !== null) this.stage.append(this.#mark(c));
    this.list.replaceChildren(...this.callouts.map((c) => this.#line(c)));
    if (this.callouts.length === 0) this.list.append(make("li", { class: "soft" }, "No call-outs yet."));
    const again = key ? document.querySelector(`[data-key="${CSS.escape(key)}"]`) : null;
    again?.dispatchEvent(new CustomEvent("regain"));
    if (writing && again instanceof HTMLInputElement) {
      again.value = writing.text;
      again.setSelectionRange(writing.from, writing.to);
      // a field that was filled in by script reports no change by itself
      again.addEventListener("blur", () => again.dispatchEvent(new Event("change")), { once: true });
    }
  }

  /** @param {Callout} c */
  #mark(c) {
    return makeMark(c, this.image, {
      moved: () => this.#save(`call-out ${c.number} moved`),
      remove: () => this.#remove(c),
      words: () => this.#focusWords(c.number),
    });
  }

  /** @param {Callout} c */
  #line(c) {
    const words = make("input", {
      type: "text",
      dir: "auto",
      autocomplete: "off",
      placeholder: "what is to be seen",
      "aria-label": `words of call-out ${c.number}`,
      "data-key": `words ${c.number}`,
      "data-test": "words",
    });
    words.value = c.text;
    words.addEventListener("change", () => {
      const text = plainWords(words.value);
      if (text === c.text) return;
      c.text = text;
      this.#save(`call-out ${c.number}: ${text}`);
    });
    words.addEventListener("keydown", (e) => {
      if (e.key === "Enter") words.blur();
      if (e.key === "Escape") {
        // one just placed and not yet described goes away again
        if (c.text === "" && words.value === "" && !this.#stands(c)) this.#drop(c);
        else words.value = c.text;
      }
    });
    words.addEventListener("regain", () => words.focus());
    const part = make("input", {
      type: "text",
      dir: "auto",
      autocomplete: "off",
      list: "callout-parts",
      placeholder: "part: label or name",
      "aria-label": `part of call-out ${c.number}`,
      "data-key": `part ${c.number}`,
      "data-test": "part",
    });
    part.value = this.parts.read || !c.part ? this.parts.text(c.part) : "\u2026";
    part.disabled = !this.parts.read;
    part.addEventListener("regain", () => part.focus());
    part.addEventListener("focus", () => this.parts.propose(part.value));
    part.addEventListener("input", () => this.parts.propose(part.value));
    part.addEventListener("change", () => this.#choosePart(c, part));
    return make(
      "li",
      { "data-test": "callout", "data-number": c.number },
      make("span", { class: "callout-number", "aria-hidden": "true" }, String(c.number)),
      make("div", { class: "callout-fields" }, words, part),
      c.x === null && this.stage.isConnected
        ? make(
            "button",
            {
              type: "button",
              onclick: () => {
                c.x = 0.5;
                c.y = 0.5;
                this.#save(`call-out ${c.number} placed`);
                this.#draw();
              },
            },
            "place",
          )
        : null,
      make(
        "button",
        { type: "button", "aria-label": `remove call-out ${c.number}`, "data-test": "remove", onclick: () => this.#remove(c) },
        "remove",
      ),
    );
  }

  /** @param {Callout} c @param {HTMLInputElement} input */
  #choosePart(c, input) {
    const text = input.value.trim();
    if (text === this.parts.text(c.part)) return;
    const found = this.parts.meant(text);
    input.removeAttribute("aria-invalid");
    if (text !== "" && found.length !== 1) {
      input.setAttribute("aria-invalid", "true");
      this.#say(
        found.length === 0
          ? `no part has the label or name \`${text}\``
          : `${found.length} parts are called \`${text}\`: choose by label`,
        true,
      );
      return;
    }
    c.part = text === "" ? "" : `@${found[0].id}`;
    input.value = this.parts.text(c.part);
    this.#save(text === "" ? `call-out ${c.number} without part` : `call-out ${c.number} on ${this.parts.text(c.part)}`);
  }

  /** @param {number} x @param {number} y @param {boolean} byKey */
  #placeNew(x, y, byKey) {
    // numbers are spoken of ("see 3"): a number given up is not given to something else while higher ones stand
    const number = Math.max(0, ...this.callouts.map((c) => c.number)) + 1;
    const onPicture = this.stage.isConnected;
    this.callouts.push({ number, x: onPicture ? x : null, y: onPicture ? y : null, text: "", part: "" });
    this.#draw();
    if (byKey) this.stage.querySelector(`[data-number="${number}"]`)?.dispatchEvent(new CustomEvent("regain"));
    else this.#focusWords(number);
    this.#say(
      byKey
        ? `call-out ${number}: arrow keys move it, Enter goes to its words`
        : `call-out ${number}: its words, please; nothing is recorded before`,
    );
  }

  /** @param {number} number */
  #focusWords(number) {
    this.list.querySelector(`[data-key="words ${number}"]`)?.dispatchEvent(new CustomEvent("regain"));
  }

  /** Whether the server knows it. @param {Callout} c */
  #stands(c) {
    return readCallouts(this.stood).some((s) => s.number === c.number);
  }

  /** @param {Callout} c */
  #drop(c) {
    this.callouts = this.callouts.filter((o) => o !== c);
    this.#draw();
  }

  /** @param {Callout} c */
  #remove(c) {
    const known = this.#stands(c);
    this.#drop(c);
    if (known) this.#save(`call-out ${c.number} removed`);
  }

  /** @param {string} says */
  #save(says) {
    // one without words and part is still being placed
    const ready = this.callouts.filter((c) => c.text !== "" || c.part !== "" || this.#stands(c));
    const text = writeCallouts(ready);
    return this.steps.inTurn(async () => {
      if (text === writeCallouts(readCallouts(this.stood))) return;
      try {
        const recorded = await entry([set(this.target, text, this.stood)], says);
        this.steps.did(recorded.number);
        this.stood = text;
        this.against.replaceChildren();
        this.#say(`entry ${recorded.number}: ${says}`);
        this.#draw();
      } catch (refused) {
        if (refused instanceof Refused && refused.conflict) this.#askWhich(refused.conflict.found, "somebody", says);
        else
          this.against.replaceChildren(
            make("p", {}, "Not recorded; what you wrote stays here."),
            problemList(problemsOf(refused)),
            make("button", { type: "button", onclick: () => this.#save(says) }, "try again"),
          );
      }
    });
  }

  /** @param {string} theirs @param {string} who @param {string} says */
  #askWhich(theirs, who, says) {
    const shut = () => this.against.replaceChildren();
    const keep = () => {
      this.#take(theirs);
      shut();
    };
    const insist = () => {
      this.stood = theirs;
      shut();
      this.#save(says);
    };
    const partText = (/** @type {string} */ p) => this.parts.text(p);
    this.against.replaceChildren(bothVersions(who, readCallouts(theirs), this.callouts, partText, keep, insist));
  }

  /** @param {string} text */
  #take(text) {
    this.stood = text;
    this.callouts = readCallouts(text);
    this.#draw();
  }

  /** @param {string} who */
  async #readAgain(who) {
    try {
      const { fields } = await get(`record?of=${encodeURIComponent(`@${this.photo}`)}`);
      const now = fields?.callouts ?? "";
      if (now === this.stood) return;
      const at = document.activeElement;
      const writing = at instanceof HTMLInputElement && this.list.contains(at) && at.value !== at.defaultValue && at.value !== "";
      const unsaved = writeCallouts(this.callouts) !== writeCallouts(readCallouts(this.stood));
      if (writing || unsaved) this.#askWhich(now, who, "call-outs");
      else {
        this.#take(now);
        this.#say(`${who} changed the call-outs`);
      }
    } catch {
      // the next news or the next entry tells
    }
  }

  /** @param {"undo"|"redo"} way */
  async #back(way) {
    try {
      const recorded = await this.steps[way]();
      if (!recorded) this.#say(`there is nothing of yours to ${way}`);
      else {
        await this.#readAgain("you");
        this.#say(`entry ${recorded.number}: ${recorded.says}`);
      }
    } catch (refused) {
      this.#say(
        `not done: ${problemsOf(refused)
          .map((p) => p.says)
          .join("; ")}`,
        true,
      );
    }
  }

  /** @param {string} text @param {boolean} [badly] */
  #say(text, badly = false) {
    this.said.textContent = text;
    this.said.classList.toggle("badly", badly);
  }
}

style("callouts.css");
const figure = document.getElementById("photo");
if (figure) new Callouts(figure);
