// A chart that the server drew, made lively: what is pointed at or stepped to is said with unit and time; a stretch is
// dragged or asked for by keys and shown closer. What it needs stands in the SVG: see workbench/line_chart.py.
import { even } from "./scale";

const SVG = "http://www.w3.org/2000/svg";
const LEAST_PX = 8; // a shorter drag is a click
const CLOSEST = 200; // times

interface Spot { x: number; said: () => string; mark?: SVGElement }

export function liven(figure: HTMLElement): void {
  const svg = figure.querySelector<SVGSVGElement>("svg[data-from]");
  if (!svg || figure.dataset.lively) return;
  figure.dataset.lively = "yes";
  new Chart(figure, svg);
}

class Chart {
  private left: number;
  private right: number;
  private from: number;
  private to: number;
  private dates: boolean;
  private a: number; // the stretch that is shown, in the picture's own places
  private b: number;
  private spots: Spot[];
  private now = -1;
  private dragged: number | null = null;
  private out: HTMLElement;
  private select: SVGRectElement;

  constructor(figure: HTMLElement, private svg: SVGSVGElement) {
    const told = (name: string) => Number(svg.dataset[name]);
    [this.left, this.right, this.from, this.to] = [told("left"), told("right"), told("from"), told("to")];
    this.dates = svg.dataset.axis === "time";
    [this.a, this.b] = [this.left, this.right];
    this.spots = this.found();
    this.out = figure.querySelector<HTMLElement>("[data-readout]") ?? figure.appendChild(readout());
    this.select = document.createElementNS(SVG, "rect");
    this.select.setAttribute("class", "select");
    this.select.setAttribute("visibility", "hidden");
    svg.append(this.select);
    figure.append(this.buttons());
    svg.addEventListener("pointerdown", (event) => this.press(event));
    svg.addEventListener("pointermove", (event) => this.move(event));
    svg.addEventListener("pointerup", (event) => this.release(event));
    svg.addEventListener("pointercancel", () => this.stop());
    svg.addEventListener("dblclick", () => this.show(this.left, this.right));
    svg.addEventListener("keydown", (event) => this.key(event));
  }

  // Marks say themselves; a curve says its values at each of its places.
  private found(): Spot[] {
    const marks = [...this.svg.querySelectorAll<SVGElement>("[data-said]")];
    if (marks.length) return marks.map((mark) => ({ x: Number(mark.dataset.x), said: () => mark.dataset.said!, mark }));
    const curves = [...this.svg.querySelectorAll<SVGPathElement>("[data-values]")].map((path) => ({
      name: path.dataset.name!, unit: path.dataset.unit!,
      xs: path.dataset.xs?.split(" ").map(Number) ?? [...path.getAttribute("d")!.matchAll(/([\d.-]+) [\d.-]+/g)].map((pair) => Number(pair[1])),
      values: path.dataset.values!.split(" "),
    }));
    const first = curves[0];
    if (!first) return [];
    return first.xs.map((x) => ({
      x,
      said: () => `${this.worded(x)}: ` + curves.map((c) => `${c.name} ${minus(c.values[nearest(c.xs, x)]!)} ${c.unit}`.trim()).join(", "),
    }));
  }

  private worded(x: number): string {
    return this.dates ? day(this.value(x)) : `${minus(String(+this.value(x).toPrecision(4)))} ${this.svg.dataset.unit}`.trim();
  }

  private value(x: number): number {
    return this.from + ((x - this.left) / (this.right - this.left)) * (this.to - this.from);
  }

  private place(x: number): number {
    return this.left + ((x - this.a) / (this.b - this.a)) * (this.right - this.left);
  }

  private pointed(event: MouseEvent): number {
    const box = this.svg.getBoundingClientRect();
    const x = ((event.clientX - box.left) / box.width) * this.svg.viewBox.baseVal.width;
    const inside = Math.min(this.right, Math.max(this.left, x));
    return this.a + ((inside - this.left) / (this.right - this.left)) * (this.b - this.a);
  }

  private show(a: number, b: number): void {
    const whole = this.right - this.left;
    const wide = Math.min(whole, Math.max(whole / CLOSEST, b - a));
    this.a = Math.min(Math.max(this.left, (a + b - wide) / 2), this.right - wide);
    this.b = this.a + wide;
    const times = whole / wide;
    this.svg.querySelector("[data-plot]")?.setAttribute("transform", `matrix(${times} 0 0 1 ${this.left - this.a * times} 0)`);
    for (const one of this.svg.querySelectorAll<SVGElement>("[data-x]")) {
      const x = Number(one.dataset.x);
      one.setAttribute("transform", `translate(${this.place(x).toFixed(2)} ${one.dataset.y})`);
      one.setAttribute("visibility", x < this.a - 0.01 || x > this.b + 0.01 ? "hidden" : "visible");
    }
    this.ticks();
    this.point();
    this.svg.dataset.shown = `${this.worded(this.a)} to ${this.worded(this.b)}`;
  }

  private ticks(): void {
    const group = this.svg.querySelector("[data-ticks]");
    if (!group) return;
    const from = this.value(this.a), to = this.value(this.b);
    const step = this.dates ? (to - from) / 4 : even((to - from) / 8);
    const first = this.dates ? from : Math.ceil(from / step - 1e-9) * step;
    const made: SVGElement[] = [];
    for (let value = first; value <= to + step * 1e-6; value += step) {
      const text = document.createElementNS(SVG, "text");
      const x = this.place(this.left + ((value - this.from) / (this.to - this.from)) * (this.right - this.left));
      const first = this.dates && made.length === 0, last = this.dates && x + 60 > this.svg.viewBox.baseVal.width;
      text.setAttribute("x", String(first ? Math.max(4, x - 48) : last ? this.svg.viewBox.baseVal.width - 4 : x));
      text.setAttribute("y", this.svg.dataset.ticksAt!);
      text.setAttribute("text-anchor", first ? "start" : last ? "end" : "middle");
      text.textContent = this.dates ? day(value) : minus(String(+value.toPrecision(6)));
      made.push(text);
    }
    group.replaceChildren(...made);
  }

  private point(): void {
    const spot = this.spots[this.now];
    const cursor = this.svg.querySelector("[data-cursor]");
    for (const one of this.spots) one.mark?.classList.toggle("here", one === spot);
    if (!spot) return;
    this.out.textContent = spot.said();
    cursor?.setAttribute("transform", `translate(${this.place(spot.x).toFixed(2)} 0)`);
    cursor?.setAttribute("visibility", spot.x >= this.a && spot.x <= this.b ? "visible" : "hidden");
  }

  private go(index: number): void {
    if (!this.spots.length) return;
    this.now = Math.min(this.spots.length - 1, Math.max(0, index));
    const x = this.spots[this.now]!.x, half = (this.b - this.a) / 2;
    if (x < this.a || x > this.b) this.show(x - half, x + half);
    else this.point();
  }

  private closer(times: number): void {
    const spot = this.spots[this.now];
    const middle = spot && spot.x >= this.a && spot.x <= this.b ? spot.x : (this.a + this.b) / 2;
    const half = (this.b - this.a) / 2 / times;
    this.show(middle - half, middle + half);
  }

  private press(event: PointerEvent): void {
    if (event.button !== 0 || event.pointerType === "touch") return; // a finger moves the page
    this.dragged = this.pointed(event);
    this.svg.setPointerCapture(event.pointerId);
  }

  private move(event: PointerEvent): void {
    const x = this.pointed(event);
    if (this.dragged !== null) {
      const [one, other] = [this.place(Math.min(x, this.dragged)), this.place(Math.max(x, this.dragged))];
      this.select.setAttribute("x", String(one));
      this.select.setAttribute("width", String(other - one));
      this.select.setAttribute("height", String(this.svg.viewBox.baseVal.height));
      this.select.setAttribute("visibility", other - one < LEAST_PX ? "hidden" : "visible");
    }
    const index = nearest(this.spots.map((spot) => spot.x), x);
    if (index !== this.now) { this.now = index; this.point(); }
  }

  private release(event: PointerEvent): void {
    if (this.dragged === null) return;
    const x = this.pointed(event), from = this.dragged;
    this.stop();
    if (Math.abs(this.place(x) - this.place(from)) >= LEAST_PX) this.show(Math.min(x, from), Math.max(x, from));
  }

  private stop(): void {
    this.dragged = null;
    this.select.setAttribute("visibility", "hidden");
  }

  private key(event: KeyboardEvent): void {
    if (event.ctrlKey || event.altKey || event.metaKey) return;
    const last = this.spots.length - 1;
    const deeds: Record<string, () => void> = {
      ArrowRight: () => this.go(this.now < 0 ? last : this.now + 1), ArrowLeft: () => this.go(this.now < 0 ? last : this.now - 1),
      PageUp: () => this.go(this.now + Math.ceil(last / 20)), PageDown: () => this.go(this.now - Math.ceil(last / 20)),
      Home: () => this.go(0), End: () => this.go(last),
      "+": () => this.closer(2), "=": () => this.closer(2), "-": () => this.closer(0.5), "0": () => this.show(this.left, this.right),
      Escape: () => this.show(this.left, this.right),
    };
    const deed = deeds[event.key];
    if (!deed) return;
    event.preventDefault();
    deed();
  }

  private buttons(): HTMLElement {
    const row = document.createElement("p");
    row.className = "row no-print";
    for (const [text, deed] of [["Closer", () => this.closer(2)], ["Wider", () => this.closer(0.5)], ["Whole", () => this.show(this.left, this.right)]] as const) {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = text;
      button.addEventListener("click", deed);
      row.append(button);
    }
    const keys = document.createElement("span");
    keys.className = "small";
    keys.textContent = "In the chart: arrow keys step, + and − zoom, 0 shows the whole; a mouse drags over what to see closer.";
    row.append(keys);
    return row;
  }
}

function readout(): HTMLElement {
  const made = document.createElement("p");
  made.className = "readout no-print";
  made.setAttribute("aria-live", "polite");
  made.dataset.readout = "";
  return made;
}

function nearest(xs: number[], x: number): number {
  let low = 0, high = xs.length - 1;
  if (xs.some((one, at) => at > 0 && one < xs[at - 1]!)) return xs.reduce((best, one, at) => (Math.abs(one - x) < Math.abs(xs[best]! - x) ? at : best), 0);
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (xs[middle]! <= x) low = middle; else high = middle;
  }
  return high >= 0 && Math.abs(xs[high]! - x) < Math.abs(xs[low]! - x) ? high : low;
}

const minus = (text: string) => text.replace(/^-/, "−");
const day = (seconds: number) => new Date(seconds * 1000).toISOString().slice(0, 10);
