// What is done to whole rows: add, move, remove, open. Each is one entry.

import { closePanel, openPanel } from "./grid-panel.js";
import { called, partPage } from "./grid-columns.js";
import { counted, device, entry, get, make, newId, problemList, problemsOf, Refused } from "./api.js";

/** @typedef {import("./grid.js").Desk} Desk */
/** @typedef {import("./grid-model.js").Row} Row */
/** @typedef {import("./api.js").Command} Command */

/** Chosen rows without those that stand inside another chosen one: those go along. @param {Desk} desk @returns {Row[]} */
function chosenHeads(desk) {
  const { model, selection } = desk;
  const rows = selection.rows().map((p) => model.shown[p]);
  const ids = new Set(rows.map((r) => r.id));
  return rows.filter((r) => {
    for (let at = r.parent; at !== null; at = model.byId.get(at)?.parent ?? null) if (ids.has(at)) return false;
    return true;
  });
}

/**
 * @param {Desk} desk
 * @param {Command[]} commands
 * @param {string} says
 * @param {string|null} [follow] row to choose and show afterwards
 */
async function record(desk, commands, says, follow = null) {
  try {
    const recorded = await desk.steps.inTurn(() => entry(commands, says));
    desk.steps.did(recorded.number);
    desk.recorded(recorded, says);
    await desk.refresh({ follow });
    return true;
  } catch (refused) {
    desk.say(
      `not recorded: ${problemsOf(refused)
        .map((p) => p.says)
        .join("; ")}`,
      true,
    );
    return false;
  }
}

/**
 * Moves the chosen rows, which must be neighbours in one assembly.
 * @param {Desk} desk
 * @param {"up"|"down"|"out"|"in"} where
 */
export async function move(desk, where) {
  const { model } = desk;
  if (!model.inTreeOrder()) return desk.say("rows are moved in tree order: take filter and sorting away first");
  const heads = chosenHeads(desk);
  if (heads.length === 0) return;
  const [first] = heads;
  const last = heads[heads.length - 1];
  const beside = model.children.get(first.parent) ?? [];
  const from = beside.indexOf(first);
  const together = heads.every((r, i) => beside[from + i] === r);
  if (!together) return desk.say("only neighbours in one assembly move together");
  const before = beside[from - 1];
  const behind = beside[from + heads.length];
  const at = (/** @type {Row|null|undefined} */ r) => (r ? `@${r.id}` : null);
  const chain = (/** @type {string|null} */ under, /** @type {string|null} */ after) =>
    heads.map((row, i) => {
      const behindOne = i === 0 ? after : at(heads[i - 1]);
      return { move: behindOne ? { target: at(row), under, after: behindOne } : { target: at(row), under } };
    });
  const under = first.parent === null ? null : `@${first.parent}`;
  /** @type {Command[]} */
  let commands;
  if (where === "up") {
    if (!before) return desk.say("it stands first already");
    // the one before goes behind the group: the same outcome with one move
    commands = [{ move: { target: at(before), under, after: at(last) } }];
  } else if (where === "down") {
    if (!behind) return desk.say("it stands last already");
    commands = chain(under, at(behind));
  } else if (where === "in") {
    if (!before) return desk.say("there is no part before it to go into");
    const inside = model.children.get(before.id);
    model.folded.delete(before.id);
    commands = chain(at(before), at(inside?.[inside.length - 1]));
  } else {
    const parent = first.parent === null ? undefined : model.byId.get(first.parent);
    if (!parent) return desk.say("it stands at the top already");
    commands = chain(parent.parent === null ? null : `@${parent.parent}`, at(parent));
  }
  const ways = { up: "up", down: "down", out: "one level out", in: `into ${called(before ?? first)}` };
  await record(
    desk,
    commands,
    `${heads.length === 1 ? called(first) : counted(heads.length, "part")} moved ${ways[where]}`,
    desk.selection.active?.id ?? null,
  );
}

/** Removes the chosen rows with all that is in them. Nothing is asked: the entry is taken back with one key. @param {Desk} desk */
export async function remove(desk) {
  const heads = chosenHeads(desk);
  if (heads.length === 0) return;
  const { model } = desk;
  const inside = model.rows.filter((r) => heads.some((h) => model.isUnder(r, h.id))).length;
  const what = heads.length === 1 ? called(heads[0]) : counted(heads.length, "part");
  const says = `${what} removed${inside > 0 ? ` with ${counted(inside, "part")} inside` : ""}`;
  const done = await record(
    desk,
    heads.map((r) => ({ remove: { target: `@${r.id}` } })),
    says,
  );
  if (done) desk.say(says, false, { text: "undo", go: () => desk.undo() });
}

/**
 * Asks for the new part and adds it.
 * @param {Desk} desk
 * @param {"below"|"beside"} where
 */
export function add(desk, where) {
  const { model, selection } = desk;
  const row = selection.active ? model.byId.get(selection.active.id) : model.rows[0];
  const field = (/** @type {string} */ name, /** @type {string} */ title, /** @type {object} */ more = {}) =>
    make(
      "label",
      {},
      title,
      make("input", { name, type: "text", autocomplete: "off", "data-test": `add-${name}`, dir: "auto", ...more }),
    );
  const against = make("div", { role: "alert" });
  const label = field("label", "label", { class: "short" });
  const form = make(
    "form",
    { "data-test": "add-form" },
    field("name", "name", { required: true }),
    make(
      "div",
      { class: "together" },
      field("count", "count", { value: "1", inputmode: "numeric", class: "short" }),
      label,
      make("button", { type: "button", onclick: () => nextLabel(desk, label, against) }, "next free label"),
      field("mass", "mass, with unit", { class: "short", placeholder: "1.2 kg" }),
    ),
    against,
    make(
      "div",
      { class: "buttons" },
      make("button", { type: "submit", class: "main", "data-test": "add-go" }, "add"),
      make("button", { type: "button", onclick: () => panel.close(true) }, "leave it"),
    ),
  );
  const id = newId();
  let entryId = newId();
  form.addEventListener("submit", async (e) => {
    e.preventDefault();
    /** @type {Record<string, string>} */
    const fields = {};
    for (const [name, value] of new FormData(form)) if (String(value).trim() !== "") fields[name] = String(value).trim();
    const under = where === "below" ? (row?.id ?? null) : (row?.parent ?? null);
    /** @type {Command[]} */
    const commands = [{ add: { kind: "part", under: under ? `@${under}` : null, id, fields } }];
    if (where === "beside" && row)
      commands.push({ move: { target: `@${id}`, under: under ? `@${under}` : null, after: `@${row.id}` } });
    try {
      const recorded = await desk.steps.inTurn(() => entry(commands, `${fields.name ?? "part"} added`, entryId));
      desk.steps.did(recorded.number);
      closePanel();
      if (under) model.folded.delete(under);
      desk.recorded(recorded, `${fields.name} added`);
      await desk.refresh({ follow: id });
      desk.table.focusActive();
      if (!model.position.has(id))
        desk.say(`${fields.name} was added; the filter hides it`, false, { text: "show all", go: () => desk.setFilter("") });
    } catch (refused) {
      // what was refused recorded nothing: the next try is another entry; where no answer came it must be the same one
      if (refused instanceof Refused && refused.status !== 0) entryId = newId();
      against.replaceChildren(problemList(problemsOf(refused)));
      panel.place();
    }
  });
  const title = row ? `Part ${where} ${called(row)}` : "First part";
  const panel = openPanel(
    desk.root,
    () => desk.anchor(),
    { label: title, kind: "add", back: () => desk.table.focusActive() },
    make("h2", {}, title),
    form,
  );
  form.querySelector("input")?.focus();
}

/** @param {Desk} desk @param {HTMLLabelElement} label @param {HTMLElement} against */
async function nextLabel(desk, label, against) {
  try {
    const { from } = await get(`labels?device=${encodeURIComponent(device)}&count=1`);
    const input = label.querySelector("input");
    if (input) input.value = `P${from}`;
  } catch (refused) {
    against.replaceChildren(problemList(problemsOf(refused)));
  }
}

/** The list of what can be done with the chosen rows. @param {Desk} desk @param {HTMLElement} [from] the button it hangs on */
export function menu(desk, from) {
  const active = desk.selection.active;
  const row = active ? desk.model.byId.get(active.id) : undefined;
  const n = desk.selection.rows().length;
  /** @type {[string, string, string, boolean, () => void][]} */
  const deeds = [
    ["open", "open the part's page", "Ctrl Enter", n === 1, () => row && location.assign(partPage(row))],
    ["beside", "add a part beside", "", n <= 1, () => add(desk, "beside")],
    ["below", "add a part below", "", n <= 1, () => add(desk, "below")],
    ["up", "move up", "Alt \u2191", n > 0, () => desk.move("up")],
    ["down", "move down", "Alt \u2193", n > 0, () => desk.move("down")],
    ["out", "move one level out", "Alt \u2190", n > 0, () => desk.move("out")],
    ["in", "move into the part before", "Alt \u2192", n > 0, () => desk.move("in")],
    ["remove", n > 1 ? `remove ${counted(n, "row")}` : "remove", "", n > 0, () => remove(desk)],
  ];
  const list = make("div", { role: "menu", "aria-label": row && n === 1 ? called(row) : counted(n, "row") });
  for (const [key, title, keys, can, go] of deeds) {
    list.append(
      make(
        "button",
        {
          type: "button",
          role: "menuitem",
          tabindex: -1,
          disabled: !can,
          "data-test": `row-${key}`,
          onclick: () => {
            panel.close(true);
            go();
          },
        },
        make("span", {}, title),
        keys ? make("kbd", {}, keys) : null,
      ),
    );
  }
  const usable = () => /** @type {HTMLButtonElement[]} */ ([...list.querySelectorAll("button:not([disabled])")]);
  list.addEventListener("keydown", (e) => {
    const buttons = usable();
    const at = buttons.indexOf(/** @type {HTMLButtonElement} */ (document.activeElement));
    const to = {
      ArrowDown: (at + 1) % buttons.length,
      ArrowUp: (at - 1 + buttons.length) % buttons.length,
      Home: 0,
      End: buttons.length - 1,
    }[e.key];
    if (e.key === "Tab") panel.close(true);
    else if (to === undefined) return;
    else buttons[to].focus();
    e.preventDefault();
    e.stopPropagation();
  });
  const anchor = from ? () => from.getBoundingClientRect() : () => desk.anchor();
  from?.setAttribute("aria-expanded", "true");
  const panel = openPanel(
    desk.root,
    anchor,
    {
      label: "row",
      kind: "menu",
      loose: true,
      back: () => (from ?? { focus: () => desk.table.focusActive() }).focus(),
      closed: () => from?.setAttribute("aria-expanded", "false"),
    },
    row && n === 1 ? make("p", { class: "soft" }, make("bdi", {}, called(row))) : null,
    list,
  );
  usable()[0]?.focus();
}
