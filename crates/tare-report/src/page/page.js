"use strict";
// Only comfort: everything on the page can be read without this script.
(() => {
  const opens = [];
  const table = document.querySelector("table.tree");
  if (table && table.tBodies[0]) {
    const rows = [...table.tBodies[0].rows];
    const level = rows.map((row) => Number(row.dataset.level));
    const parent = [];
    const folded = new Set();
    const path = [];
    rows.forEach((row, n) => {
      while (path.length && level[path[path.length - 1]] >= level[n]) path.pop();
      parent[n] = path.length ? path[path.length - 1] : -1;
      path.push(n);
    });
    const words = rows.map((row) => row.textContent.toLowerCase());
    const buttons = new Map();
    let filter = "";
    const show = () => {
      const keep = new Set();
      if (filter) {
        words.forEach((text, n) => {
          if (text.includes(filter)) for (let at = n; at >= 0 && !keep.has(at); at = parent[at]) keep.add(at);
        });
      }
      let shown = 0;
      rows.forEach((row, n) => {
        let open = filter ? keep.has(n) : true;
        if (!filter) for (let at = parent[n]; at >= 0; at = parent[at]) if (folded.has(at)) open = false;
        row.hidden = !open;
        if (open) shown += 1;
      });
      buttons.forEach((button, n) => {
        button.textContent = folded.has(n) ? "\u25b8" : "\u25be";
        button.setAttribute("aria-expanded", String(!folded.has(n)));
      });
      count.textContent = shown === rows.length ? `${rows.length} rows` : `${shown} of ${rows.length} rows`;
    };
    const bar = document.createElement("div");
    bar.className = "tools-bar";
    const label = document.createElement("label");
    const input = document.createElement("input");
    input.type = "search";
    input.placeholder = "name, label, material \u2026";
    label.append("Find a part: ", input);
    const count = document.createElement("span");
    count.setAttribute("role", "status");
    bar.append(label);
    const deepest = Math.max(...level);
    const fold = (depth) => {
      folded.clear();
      rows.forEach((_, n) => { if (level[n] >= depth && buttons.has(n)) folded.add(n); });
    };
    [...Array(Math.min(deepest, 3)).keys()].map((d) => d + 1).concat([99]).forEach((depth) => {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = depth === 99 ? "all levels" : depth === 1 ? "1 level" : `${depth} levels`;
      button.addEventListener("click", () => { input.value = filter = ""; fold(depth); show(); });
      if (depth === 99 || depth < deepest) bar.append(button);
    });
    bar.append(count);
    rows.forEach((row, n) => {
      if (parent[n + 1] !== n || level[n] === 0) return;
      const button = document.createElement("button");
      button.type = "button";
      button.className = "fold";
      button.setAttribute("aria-label", "parts inside");
      button.addEventListener("click", () => {
        if (folded.has(n)) folded.delete(n); else folded.add(n);
        show();
      });
      buttons.set(n, button);
      const place = row.querySelector(".ind");
      if (place) place.prepend(button);
    });
    input.addEventListener("input", () => { filter = input.value.trim().toLowerCase(); show(); });
    table.classList.add("folds");
    table.closest(".scroll").before(bar);
    // a link to a part that is folded away opens the way to it
    opens.push((target) => {
      const n = rows.findIndex((row) => row === target || row.contains(target));
      if (n < 0) return;
      input.value = filter = "";
      for (let at = parent[n]; at >= 0; at = parent[at]) folded.delete(at);
      show();
    });
    fold(1);
    show();
  }
  const reveal = () => {
    const target = location.hash.length > 1 && document.getElementById(location.hash.slice(1));
    if (!target) return;
    const hidden = !target.offsetParent;
    const box = target.closest("tbody.rest") && target.closest(".fold-rows").querySelector(".more input");
    if (box) box.checked = true;
    for (let at = target.closest("details"); at; at = at.parentElement.closest("details")) at.open = true;
    opens.forEach((open) => open(target));
    if (hidden) target.scrollIntoView({ block: "center" });
  };
  addEventListener("hashchange", reveal);
  reveal();
  // paper shows what is folded
  addEventListener("beforeprint", () => {
    document.querySelectorAll("details.group:not([open])").forEach((d) => { d.open = true; d.dataset.printed = ""; });
  });
  addEventListener("afterprint", () => {
    document.querySelectorAll("details.group[data-printed]").forEach((d) => { d.open = false; delete d.dataset.printed; });
  });
  const links = new Map([...document.querySelectorAll(".contents li a")].map((a) => [a.hash.slice(1), a]));
  if ("IntersectionObserver" in window) {
    const seen = new IntersectionObserver((entries) => {
      entries.forEach((entry) => {
        if (!entry.isIntersecting) return;
        links.forEach((a) => a.removeAttribute("aria-current"));
        const link = links.get(entry.target.id);
        if (link) link.setAttribute("aria-current", "location");
      });
    }, { rootMargin: "-10% 0px -80% 0px" });
    document.querySelectorAll("main > section").forEach((section) => seen.observe(section));
  }
  // while the reader follows a number, the reason points back to the very place they came from
  let from = null;
  document.addEventListener("click", (event) => {
    const link = event.target.closest && event.target.closest("a.n");
    if (link) from = link;
    const back = event.target.closest && event.target.closest(".reason footer a");
    if (back && from && document.contains(from) && "#" + back.closest(".reason").id === from.getAttribute("href")) {
      event.preventDefault();
      from.scrollIntoView({ block: "center" });
      from.focus({ preventScroll: true });
    }
  });
})();
