// On every page: fragments over the wire, without eval and without styles of its own (the page's policy forbids both).
import htmx from "htmx.org";
import { announce } from "./shared/announce";
import { keepWhatIsTyped, sayWhatWasDone } from "./shared/keep";

htmx.config.allowEval = false;
htmx.config.includeIndicatorStyles = false;
htmx.config.selfRequestsOnly = true;
htmx.config.historyCacheSize = 0;
htmx.config.responseHandling = [{ code: "204", swap: false }, { code: ".*", swap: true }];

document.addEventListener("htmx:sendError", () => announce("The server does not answer; nothing was saved."));
document.addEventListener("submit", keepWhatIsTyped);
sayWhatWasDone();
document.addEventListener("keydown", (event) => { if (event.key === "Escape") announce(""); });
document.getElementById("said")?.addEventListener("click", () => announce(""));
const unfolded: HTMLDetailsElement[] = []; // for a paper holds all that was folded for the eye
addEventListener("beforeprint", () => {
  document.querySelectorAll<HTMLDetailsElement>("details[data-on-paper]:not([open])").forEach((d) => { d.open = true; unfolded.push(d); });
});
addEventListener("afterprint", () => { unfolded.splice(0).forEach((d) => { d.open = false; }); });
document.addEventListener("click", (event) => {
  const button = event.target instanceof Element ? event.target.closest("[data-print]") : null;
  if (button) window.print();
});
