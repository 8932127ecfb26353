// What if: other volume, place or values, worked out beside what stands. Nothing is recorded.

import { counted, make, post, problemList, problemsOf, set, style } from "./api.js";

/** @typedef {{name: string, before: string, after: string, difference: string, share?: number|null}} Line */

const MOST_ROWS = 40;

class WhatIf {
  /** @param {HTMLFormElement} form */
  constructor(form) {
    this.form = form;
    this.asked = 0;
    this.rows = form.querySelector("#whatif-rows") ?? form.appendChild(make("div", { id: "whatif-rows" }));
    this.rows.append(make("h2", {}, "Other values"), this.#row());
    this.more = make("button", { type: "button", "data-test": "whatif-more", onclick: () => this.#more() }, "one more value");
    form.append(
      make(
        "div",
        { class: "actions" },
        make("button", { type: "submit", class: "main", "data-test": "whatif-go" }, "work it out"),
        this.more,
      ),
    );
    this.said = make("p", { class: "whatif-said", role: "status", "data-test": "message" });
    this.against = make("div", { class: "whatif-against", role: "alert", "data-test": "problems" });
    this.outcome = make("div", { class: "whatif-outcome", "data-test": "whatif-outcome" });
    const place = document.getElementById("whatif-result");
    // a table is not read out whole each time: the line above it says that it is there
    place?.removeAttribute("aria-live");
    place?.removeAttribute("role");
    (place ?? form.parentElement ?? document.body).append(this.against, this.said, this.outcome);
    form.addEventListener("submit", (e) => {
      e.preventDefault();
      this.#ask();
    });
    // what was worked out no longer belongs to what the form says
    form.addEventListener("input", () => this.outcome.classList.add("old"));
    document.addEventListener("tare:entry", () => {
      if (this.outcome.hasChildNodes()) {
        this.outcome.classList.add("old");
        this.said.textContent = "The study was changed since; work it out again to compare with what stands now.";
      }
    });
  }

  #row() {
    return make(
      "div",
      { class: "whatif-row" },
      make(
        "label",
        {},
        make("span", {}, "value"),
        make("input", {
          name: "target",
          type: "text",
          autocomplete: "off",
          spellcheck: "false",
          placeholder: "P12/mass",
          "data-test": "whatif-target",
        }),
      ),
      make(
        "label",
        {},
        make("span", {}, "becomes"),
        make("input", {
          name: "to",
          type: "text",
          autocomplete: "off",
          placeholder: "7 kg",
          dir: "auto",
          "data-test": "whatif-to",
        }),
      ),
      make(
        "button",
        {
          type: "button",
          "aria-label": "drop this value",
          onclick: (/** @type {Event} */ e) => this.#less(/** @type {HTMLElement} */ (e.currentTarget)),
        },
        "drop",
      ),
    );
  }

  #more() {
    if (this.rows.querySelectorAll(".whatif-row").length >= MOST_ROWS) {
      this.said.textContent = `${MOST_ROWS} values are the most at once`;
      return;
    }
    const fresh = this.#row();
    this.rows.append(fresh);
    fresh.querySelector("input")?.focus();
  }

  /** @param {HTMLElement} button */
  #less(button) {
    button.closest(".whatif-row")?.remove();
    if (!this.rows.querySelector(".whatif-row")) this.rows.append(this.#row());
    this.outcome.classList.add("old");
    this.rows.querySelector("input")?.focus();
  }

  /** @returns {{commands: import("./api.js").Command[], fields: HTMLInputElement[], half: HTMLInputElement|null}} */
  #commands() {
    const commands = [];
    const fields = [];
    let half = null;
    for (const target of /** @type {NodeListOf<HTMLInputElement>} */ (this.rows.querySelectorAll("input[name=target]"))) {
      const row = target.closest(".whatif-row");
      const to = /** @type {HTMLInputElement|null} */ (row?.querySelector("input[name=to]") ?? null);
      const [what, value] = [target.value.trim(), to?.value.trim() ?? ""];
      if (what === "" && value === "") continue;
      if (what === "" || value === "") half = what === "" ? target : to;
      else {
        commands.push(set(what, value));
        fields.push(target);
      }
    }
    return { commands, fields, half };
  }

  async #ask() {
    const { form } = this;
    const mine = (this.asked += 1);
    const { commands, fields, half } = this.#commands();
    for (const field of form.querySelectorAll("[aria-invalid]")) field.removeAttribute("aria-invalid");
    this.against.replaceChildren();
    if (half) {
      half.setAttribute("aria-invalid", "true");
      half.focus();
      this.said.textContent = "this row lacks its other half";
      return;
    }
    const data = new FormData(form);
    /** @type {Record<string, unknown>} */
    const body = { commands };
    for (const name of ["volume", "book"]) {
      const value = String(data.get(name) ?? "").trim();
      if (value !== "") body[name] = value;
    }
    this.said.textContent = "working it out \u2026";
    form.setAttribute("aria-busy", "true");
    const began = performance.now();
    try {
      const { rows, problems = [] } = await post("whatif", body);
      if (mine !== this.asked) return;
      this.#show(rows);
      if (problems.length > 0) {
        this.against.replaceChildren(
          make("p", {}, "With these values the study would say:"),
          make("ul", {}, ...problems.map((/** @type {string} */ p) => make("li", {}, make("bdi", {}, p)))),
        );
      }
      this.said.textContent = `worked out in ${Math.max(1, Math.round(performance.now() - began))} ms; nothing was recorded`;
    } catch (refused) {
      if (mine !== this.asked) return;
      this.said.textContent = "";
      const problems = problemsOf(refused);
      this.against.replaceChildren(problemList(problems));
      for (const { place } of problems) {
        const at = fields.find(
          (f) => place && (place.includes(f.value.trim()) || new RegExp(`commands?[ [/.]*${fields.indexOf(f) + 1}\\b`).test(place)),
        );
        at?.setAttribute("aria-invalid", "true");
      }
      fields.find((f) => f.hasAttribute("aria-invalid"))?.focus();
    } finally {
      if (mine === this.asked) form.removeAttribute("aria-busy");
    }
  }

  /** @param {Line[]} lines */
  #show(lines) {
    this.outcome.classList.remove("old");
    if (lines.length === 0) {
      this.outcome.replaceChildren(make("p", {}, "No figure differs."));
      return;
    }
    const same = lines.filter((l) => l.before === l.after);
    const table = (/** @type {Line[]} */ some) =>
      make(
        "div",
        { class: "scroll" },
        make(
          "table",
          {},
          make(
            "thead",
            {},
            make(
              "tr",
              {},
              ...["figure", "as it stands", "what if", "difference"].map((t, i) =>
                make("th", { scope: "col", class: i > 0 ? "right" : null }, t),
              ),
            ),
          ),
          make(
            "tbody",
            {},
            ...some.map((l) =>
              make(
                "tr",
                { "data-test": "whatif-row" },
                make("th", { scope: "row" }, make("bdi", {}, l.name)),
                make("td", { class: "right" }, l.before),
                make("td", { class: "right" }, l.after),
                make("td", { class: "right difference" }, signed(l.difference), make("small", {}, share(l))),
              ),
            ),
          ),
        ),
      );
    const changed = lines.filter((l) => l.before !== l.after);
    this.outcome.replaceChildren(
      changed.length > 0 ? table(changed) : make("p", {}, "No figure differs."),
      ...(same.length > 0
        ? [make("details", {}, make("summary", {}, `${counted(same.length, "figure")} unchanged`), table(same))]
        : []),
    );
  }
}

/** A difference says its direction; a minus as wide as a plus keeps columns straight. @param {string} text */
const signed = (text) =>
  /^-/.test(text) ? text.replace(/^-/, "\u2212") : /^[0-9]/.test(text) && !/^0(?:[.,]0*)?(?:\s|$)/.test(text) ? `+${text}` : text;

/** @param {Line} line */
const share = (line) => (Number.isFinite(line.share) ? signed(`${((line.share ?? 0) * 100).toFixed(1)} %`) : "");

style("whatif.css");
const form = document.getElementById("whatif");
if (form instanceof HTMLFormElement) new WhatIf(form);
