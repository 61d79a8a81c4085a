// The picture and the player are one: a line runs through the picture while it plays, what is selected is looped.
import { liven } from "./shared/chart";
import { Player } from "./shared/player";
import { Spectrogram } from "./shared/spectrogram";

function bind(place: HTMLElement): void {
  const find = <T extends HTMLElement>(name: string) => place.querySelector<T>(`[data-${name}]`);
  const address = place.dataset.address!;
  const seconds = Number(place.dataset.seconds);
  const places = (place.dataset.places ?? "").split(" ").filter(Boolean).map(Number);
  const view = new Spectrogram(place.querySelector("canvas")!, address, seconds, Number(place.dataset.rate), places);
  const play = find<HTMLButtonElement>("play")!;
  const loop = find<HTMLButtonElement>("loop")!;
  const clock = find("clock")!;
  const meter = find<HTMLMeterElement>("meter")!;
  const tune = find<HTMLInputElement>("tune");
  const player = new Player(address, seconds, {
    at: (time) => { view.moveTo(time, false); clock.textContent = `${time.toFixed(1)} s`; },
    loud: (db) => { meter.value = db; },
    playing: (on) => { play.textContent = on ? "Stop" : "Play"; place.dataset.playing = on ? "yes" : "no"; },
    failed: (text) => { clock.textContent = text; },
  });

  view.moved = (time) => { clock.textContent = `${time.toFixed(1)} s`; player.seek(time, view.selection); };
  const start = () => player.start(view.cursor, view.selection);
  play.addEventListener("click", () => (player.on ? player.stop() : void start()));
  loop.addEventListener("click", () => {
    player.loop = loop.getAttribute("aria-pressed") !== "true";
    loop.setAttribute("aria-pressed", String(player.loop));
    if (player.on) void start();
  });
  find<HTMLSelectElement>("speed")!.addEventListener("change", (event) => player.setSpeed(Number((event.target as HTMLSelectElement).value)));
  find("closer")!.addEventListener("click", () => view.closer());
  find("whole")!.addEventListener("click", () => view.whole());
  place.querySelectorAll<HTMLElement>("[data-place]").forEach((button) =>
    button.addEventListener("click", () => { view.moveTo(Math.max(0, Number(button.dataset.place) - 1), true); if (!player.on) void start(); }));

  if (tune) {
    const out = find("tuned-out")!;
    const say = () => { out.textContent = `${Number(tune.value).toFixed(1)} kHz`; };
    const set = (khz: number) => { tune.value = String(khz); player.tuned = khz; say(); };
    if (place.dataset.tuned) set(Number(place.dataset.tuned));
    else void fetch(`/api${address}/levels`).then((r) => r.json()).then((told) => set(told.tuned_khz));
    let waiting = 0;
    tune.addEventListener("input", () => {
      say();
      clearTimeout(waiting);
      waiting = window.setTimeout(() => { player.tuned = Number(tune.value); if (player.on) void player.again(); }, 150);
    });
  }
}

document.querySelectorAll<HTMLElement>("[data-player]").forEach(bind);
document.addEventListener("htmx:load", () => document.querySelectorAll<HTMLElement>("[data-trend]").forEach(liven));
