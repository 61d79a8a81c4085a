// A form that the server refuses stays as it was typed: the error stands at its field, which gets the focus.
import { announce } from "./announce";
import { answer, Refused } from "./api";

type Field = HTMLInputElement | HTMLSelectElement | HTMLTextAreaElement;

const TOLD = "earwitness-told"; // what a deed has said, for the page that comes after it
const BACK = "earwitness-back"; // the button that it was done with, where the same page comes again

export function sayWhatWasDone(): void {
  const text = take(TOLD);
  if (text) setTimeout(() => announce(text), 150); // what stands there before a page is listened to is not read out
  const back = document.querySelector("[data-working]") ? null : take(BACK); // that page only waits for the next
  if (back) goOnFrom(back);
}

function take(key: string): string | null {
  const held = sessionStorage.getItem(key);
  sessionStorage.removeItem(key);
  return held;
}

// Who goes by keys goes on where the deed was done, and not at the top of the page; a button that is gone has its place.
function goOnFrom(back: string): void {
  const buttons = [...document.querySelectorAll<HTMLButtonElement>("form[data-keep] button")];
  const place = buttons.find((button) => nameOf(button) === back) ?? document.getElementById(location.hash.slice(1));
  if (place === null) return;
  if (!(place instanceof HTMLButtonElement)) place.tabIndex = -1;
  place.focus();
  // The browser itself goes back to where the page before was looked at, and does so last.
  addEventListener("load", () => setTimeout(() => place.scrollIntoView({ block: "center", behavior: "instant" })));
}

function nameOf(button: HTMLElement): string {
  const form = button.closest("form")!;
  const hidden = [...form.querySelectorAll<HTMLInputElement>("input[type=hidden]")].map((field) => field.value);
  return [form.getAttribute("action"), ...hidden, button.ariaLabel ?? button.textContent].join("|");
}

export function keepWhatIsTyped(event: SubmitEvent): void {
  const form = event.target;
  if (!(form instanceof HTMLFormElement) || !form.hasAttribute("data-keep")) return;
  event.preventDefault();
  if (form.ariaBusy === "true") return;
  form.ariaBusy = "true";
  clear(form);
  void send(form, event.submitter).catch((error) => refuse(form, error)).finally(() => { form.ariaBusy = null; });
}

async function send(form: HTMLFormElement, submitter: HTMLElement | null): Promise<void> {
  const given = new URLSearchParams();
  new FormData(form, submitter).forEach((value, name) => {
    if (typeof value === "string") given.append(name, value);
  });
  const address = new URL(form.getAttribute("action") ?? "", location.href).pathname;
  const sent = fetch(`/api${address}`, { method: "POST", body: given }).catch(() => Response.error());
  const went = await answer<{ to: string; text: string }>(await sent);
  const to = new URL(went.to, location.href);
  if (went.text !== "done") sessionStorage.setItem(TOLD, went.text);
  form.reset(); // what the browser would fill in again after a reload
  if (to.pathname !== location.pathname || to.search !== location.search) return location.assign(to);
  if (submitter) sessionStorage.setItem(BACK, nameOf(submitter));
  history.replaceState(null, "", to);
  location.reload();
}

function clear(form: HTMLFormElement): void {
  form.querySelectorAll(".wrong").forEach((said) => said.remove());
  form.querySelectorAll("[aria-invalid]").forEach((field) => {
    field.removeAttribute("aria-invalid");
    field.removeAttribute("aria-describedby");
  });
}

function refuse(form: HTMLFormElement, error: unknown): void {
  const text = error instanceof Refused ? error.message : "This failed; nothing was saved.";
  const field = fieldOf(form, error instanceof Refused ? error.args["field"] : undefined);
  const said = document.createElement("span");
  said.className = "wrong";
  said.textContent = field === null ? text : withLabel(text, field);
  if (field === null) {
    said.role = "alert";
    said.tabIndex = -1;
    form.append(said);
    return said.focus();
  }
  said.id = `wrong-${crypto.getRandomValues(new Uint32Array(1))[0]}`;
  const label = field.closest("label");
  if (label) said.ariaHidden = "true"; // it describes the field and is no part of its name
  (label ?? field.parentElement ?? form).append(said);
  field.setAttribute("aria-invalid", "true");
  field.setAttribute("aria-describedby", said.id);
  field.focus();
}

// The server calls a field as programs do; whoever fills in the form knows it by its label.
function withLabel(text: string, field: Field): string {
  const parts = [...(field.closest("label")?.childNodes ?? [])].filter((part) => part !== field);
  const label = field.ariaLabel ?? parts.map((part) => part.textContent?.trim()).find(Boolean);
  const named = [`'${field.name}' `, `${field.name} `].find((start) => text.startsWith(start));
  return label && named ? `“${label}” ${text.slice(named.length)}` : text;
}

function fieldOf(form: HTMLFormElement, name: unknown): Field | null {
  const found = typeof name === "string" ? form.elements.namedItem(name) : null;
  const usable = found instanceof HTMLInputElement || found instanceof HTMLSelectElement || found instanceof HTMLTextAreaElement;
  return usable && found.type !== "hidden" ? found : null;
}
