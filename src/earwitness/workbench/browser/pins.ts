// Pins on a drawing: dragged, clicked or moved by arrow keys; where one is put is kept at once and said.
import { announce } from "./shared/announce";
import { api } from "./shared/api";

const STEP = 0.005, LARGE = 0.05, WAIT_MS = 350, DRAGGED_PX = 4;
const KEYS: Record<string, [number, number]> = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
const within = (v: number) => Math.min(1, Math.max(0, v));

function start(plan: HTMLElement): void {
  const may = plan.dataset.mayPlace !== undefined;
  const image = plan.querySelector("img")!;
  const waiting = new Map<HTMLElement, number>();
  let chosen: HTMLElement | null = null;

  const show = (pin: HTMLElement, x: number, y: number) => {
    pin.dataset.x = String(x);
    pin.dataset.y = String(y);
    pin.style.left = `${x * 100}%`;
    pin.style.top = `${y * 100}%`;
  };
  const choose = (pin: HTMLElement | null) => {
    chosen?.setAttribute("aria-pressed", "false");
    chosen = pin;
    chosen?.setAttribute("aria-pressed", "true");
    plan.classList.toggle("placing", chosen !== null);
  };
  const keep = async (pin: HTMLElement, gone = false) => {
    const [x, y] = [Number(pin.dataset.x), Number(pin.dataset.y)];
    const body = gone ? { point: pin.dataset.point, x: null, y: null } : { point: pin.dataset.point, x, y };
    try {
      await api(plan.dataset.address!, body);
      const where = `${(x * 100).toFixed(1)} % from the left, ${(y * 100).toFixed(1)} % from the top`;
      announce(gone ? `The pin of ${pin.dataset.name} is taken away.` : `Kept: ${pin.dataset.name}, ${where}.`);
      if (gone) pin.remove();
      pin.dataset.kept = `${x},${y}`;
    } catch (error) {
      announce((error as Error).message);
    }
  };
  const keepSoon = (pin: HTMLElement) => {
    clearTimeout(waiting.get(pin));
    waiting.set(pin, window.setTimeout(() => void keep(pin), WAIT_MS));
  };
  const at = (event: MouseEvent): [number, number] => {
    const box = image.getBoundingClientRect();
    return [within((event.clientX - box.left) / box.width), within((event.clientY - box.top) / box.height)];
  };

  const bind = (pin: HTMLElement) => {
    show(pin, Number(pin.dataset.x), Number(pin.dataset.y));
    if (!may) {
      pin.addEventListener("click", () => location.assign(plan.dataset.address!.replace(/drawing\/.*/, `point/${pin.dataset.point}`)));
      return;
    }
    pin.setAttribute("aria-pressed", "false");
    pin.setAttribute("aria-describedby", "how");
    let from: [number, number] | null = null, moved = false;
    pin.addEventListener("pointerdown", (event) => {
      from = [event.clientX, event.clientY];
      moved = false;
      pin.setPointerCapture(event.pointerId);
    });
    pin.addEventListener("pointermove", (event) => {
      if (!from) return;
      moved ||= Math.hypot(event.clientX - from[0], event.clientY - from[1]) > DRAGGED_PX;
      if (moved) show(pin, ...at(event));
    });
    pin.addEventListener("pointerup", () => { if (from && moved) void keep(pin); from = null; });
    pin.addEventListener("pointercancel", () => { from = null; });
    pin.addEventListener("click", (event) => {
      event.stopPropagation();
      if (!moved) choose(chosen === pin ? null : pin);
      moved = false;
    });
    pin.addEventListener("keydown", (event) => {
      if (event.key === "Delete") { void keep(pin, true); return; }
      const way = KEYS[event.key];
      if (!way) return;
      event.preventDefault();
      const step = event.shiftKey ? LARGE : STEP;
      show(pin, within(Number(pin.dataset.x) + way[0] * step), within(Number(pin.dataset.y) + way[1] * step));
      keepSoon(pin);
    });
  };
  plan.querySelectorAll<HTMLElement>(".pin").forEach(bind);
  image.addEventListener("click", (event) => {
    if (!chosen) return;
    show(chosen, ...at(event));
    void keep(chosen);
    choose(null);
  });

  const choice = document.querySelector<HTMLSelectElement>("[data-unplaced]");
  document.querySelector("[data-place-new]")?.addEventListener("click", () => {
    const option = choice?.selectedOptions[0];
    if (!option) return;
    const pin = document.createElement("button");
    const state = option.dataset.state!;
    const name = option.textContent!.replace(/ \([^(]*\)$/, "");
    pin.type = "button";
    pin.className = "pin";
    Object.assign(pin.dataset, { point: option.value, name, x: "0.5", y: "0.5" });
    pin.setAttribute("aria-label", `${name}: ${state}`);
    pin.append(document.querySelector<HTMLTemplateElement>(`[data-mark="${state}"]`)!.content.cloneNode(true));
    plan.append(pin);
    bind(pin);
    option.remove();
    void keep(pin);
    choose(pin);
    pin.focus();
  });
}

document.querySelectorAll<HTMLElement>("[data-plan]").forEach(start);
