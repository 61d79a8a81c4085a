// A spectrogram that one moves through: the server draws the stretch that is looked at, this draws place and selection.
import type { Selection } from "./player";
import { even } from "./scale";

const LEFT = 46, BOTTOM = 26; // room for the scales, in CSS pixels
const INK = "#ffffff";

export class Spectrogram {
  cursor = 0;
  selection: Selection = null;
  moved: (time: number) => void = () => {};
  private from = 0;
  private to: number;
  private image: HTMLImageElement | null = null;
  private dragFrom: number | null = null;

  constructor(private canvas: HTMLCanvasElement, private address: string, private seconds: number, private rate: number, private places: number[]) {
    this.to = seconds;
    canvas.addEventListener("pointerdown", (event) => this.press(event));
    canvas.addEventListener("pointermove", (event) => this.drag(event));
    canvas.addEventListener("pointerup", (event) => this.release(event));
    canvas.addEventListener("keydown", (event) => this.key(event));
    new ResizeObserver(() => { this.fit(); this.load(); }).observe(canvas);
  }

  moveTo(time: number, tell: boolean): void {
    this.cursor = Math.min(Math.max(0, time), this.seconds);
    this.canvas.setAttribute("aria-valuenow", this.cursor.toFixed(1));
    this.canvas.setAttribute("aria-valuetext", `${this.cursor.toFixed(1)} seconds`);
    this.draw();
    if (tell) this.moved(this.cursor);
  }

  closer(): void {
    const chosen = this.selection;
    const half = (this.to - this.from) / 4;
    this.show(chosen ? chosen.from : this.cursor - half, chosen ? chosen.to : this.cursor + half);
  }

  whole(): void {
    this.selection = null;
    this.show(0, this.seconds);
  }

  private show(from: number, to: number): void {
    const length = Math.min(Math.max(to - from, 0.05), this.seconds);
    this.from = Math.min(Math.max(0, from), this.seconds - length);
    this.to = this.from + length;
    this.load();
  }

  private fit(): void {
    const scale = window.devicePixelRatio || 1;
    this.canvas.width = Math.round(this.canvas.clientWidth * scale);
    this.canvas.height = Math.round(this.canvas.clientHeight * scale);
  }

  private load(): void {
    const image = new Image();
    const width = Math.min(1600, Math.max(200, Math.round(this.canvas.width / 50) * 50));
    image.src = `/api${this.address}/spectrogram?from=${this.from}&to=${this.to}&width=${width}&height=256`;
    image.onload = () => { this.image = image; this.canvas.dataset.shown = `${this.from.toFixed(2)}-${this.to.toFixed(2)}`; this.draw(); };
    this.draw();
  }

  private draw(): void {
    const pen = this.canvas.getContext("2d")!;
    const scale = window.devicePixelRatio || 1;
    pen.setTransform(scale, 0, 0, scale, 0, 0);
    const width = this.canvas.clientWidth - LEFT, height = this.canvas.clientHeight - BOTTOM;
    pen.fillStyle = "#00224e";
    pen.fillRect(0, 0, width + LEFT, height + BOTTOM);
    if (this.image) pen.drawImage(this.image, LEFT, 0, width, height);
    const x = (time: number) => LEFT + ((time - this.from) / (this.to - this.from)) * width;
    pen.save();
    pen.beginPath();
    pen.rect(LEFT, 0, width, height);
    pen.clip();
    if (this.selection) {
      pen.fillStyle = "rgba(255,255,255,.28)";
      pen.fillRect(x(this.selection.from), 0, x(this.selection.to) - x(this.selection.from), height);
    }
    for (const place of this.places) this.line(pen, x(place), height, [4, 3]);
    this.line(pen, x(this.cursor), height, []);
    pen.restore();
    this.scales(pen, x, width, height);
  }

  private line(pen: CanvasRenderingContext2D, at: number, height: number, dash: number[]): void {
    for (const [colour, thick] of [["#000", 4], [INK, 2]] as const) {
      pen.strokeStyle = colour;
      pen.lineWidth = thick;
      pen.setLineDash(colour === INK ? dash : []);
      pen.beginPath();
      pen.moveTo(at, 0);
      pen.lineTo(at, height);
      pen.stroke();
    }
    pen.setLineDash([]);
  }

  private scales(pen: CanvasRenderingContext2D, x: (time: number) => number, width: number, height: number): void {
    pen.fillStyle = INK;
    pen.font = "12px system-ui, sans-serif";
    pen.textBaseline = "middle";
    const khz = this.rate / 2000, step = even(khz / 5);
    pen.textAlign = "right";
    for (let f = step; f <= khz * 0.98; f += step) pen.fillText(`${+f.toFixed(1)}${f + step > khz * 0.98 ? " kHz" : ""}`, LEFT - 4, height * (1 - f / khz));
    const each = even((this.to - this.from) / Math.max(2, width / 110));
    pen.textAlign = "center";
    for (let t = Math.ceil(this.from / each) * each; t <= this.to; t += each) {
      const at = Math.min(Math.max(x(t), LEFT + 14), LEFT + width - 18);
      pen.fillText(`${+t.toFixed(3)} s`, at, height + BOTTOM / 2);
    }
  }

  private timeAt(event: PointerEvent): number {
    const box = this.canvas.getBoundingClientRect();
    const share = (event.clientX - box.left - LEFT) / (box.width - LEFT);
    return this.from + Math.min(1, Math.max(0, share)) * (this.to - this.from);
  }

  private press(event: PointerEvent): void {
    if (event.button !== 0) return;
    this.canvas.setPointerCapture(event.pointerId);
    this.dragFrom = this.timeAt(event);
  }

  private drag(event: PointerEvent): void {
    if (this.dragFrom === null) return;
    const now = this.timeAt(event);
    if (Math.abs(now - this.dragFrom) < (this.to - this.from) / 100) return;
    this.selection = { from: Math.min(now, this.dragFrom), to: Math.max(now, this.dragFrom) };
    this.draw();
  }

  private release(event: PointerEvent): void {
    if (this.dragFrom === null) return;
    const now = this.timeAt(event);
    const dragged = Math.abs(now - this.dragFrom) >= (this.to - this.from) / 100;
    if (!dragged) this.selection = null;
    this.moveTo(dragged ? this.selection!.from : now, true);
    this.dragFrom = null;
  }

  private key(event: KeyboardEvent): void {
    const step = (this.to - this.from) / 50;
    const by: Record<string, number> = { ArrowLeft: -step, ArrowRight: step, PageDown: -5 * step, PageUp: 5 * step, Home: -this.seconds, End: this.seconds };
    const move = by[event.key];
    if (event.key === "Escape") this.selection = null;
    if (move === undefined) return void (event.key === "Escape" && this.draw());
    event.preventDefault();
    const before = this.cursor;
    if (event.shiftKey) {
      const to = Math.min(Math.max(0, before + move), this.seconds);
      const fixed = this.selection ? (before === this.selection.from ? this.selection.to : this.selection.from) : before;
      this.selection = { from: Math.min(fixed, to), to: Math.max(fixed, to) };
    }
    this.moveTo(before + move, true);
    if (this.cursor < this.from || this.cursor > this.to) this.show(this.cursor - (this.to - this.from) / 2, this.cursor + (this.to - this.from) / 2);
  }
}
