// Pages that show something still being computed look again until it is there.

import { reloadOnNews } from "./live-reload.js";

/** Longer than a page takes, shorter than patience. */
const PAUSE = 900;

// pages over all studies follow no study's news; in those of a study live.js has begun already
if (!document.body.dataset.study) reloadOnNews();

setInterval(() => {
  if (document.hidden || !document.querySelector("main [data-waits]")) return;
  document.dispatchEvent(new CustomEvent("tare:beside"));
}, PAUSE);
