// Plays a recording piece by piece through Web Audio: as it is, slowed down, looped, or tuned by the server.
export type Selection = { from: number; to: number } | null;

interface Told {
  at(time: number): void;
  loud(db: number): void;
  playing(on: boolean): void;
  failed(text: string): void;
}

const PIECE_S = 20; // so much is fetched at once

export class Player {
  on = false;
  loop = false;
  tuned: number | null = null;
  private speed = 1;
  private context: AudioContext | null = null;
  private meter: AnalyserNode | null = null;
  private source: AudioBufferSourceNode | null = null;
  private piece = { from: 0, to: 0, startedAt: 0, offset: 0, looped: false };
  private turn = 0;
  private selection: Selection = null;

  constructor(private address: string, private seconds: number, private told: Told) {}

  async start(cursor: number, selection: Selection): Promise<void> {
    const turn = ++this.turn;
    this.halt();
    this.selection = selection;
    this.on = true;
    this.told.playing(true);
    const inside = selection && cursor >= selection.from && cursor < selection.to;
    const from = selection && !inside ? selection.from : cursor >= this.seconds - 0.05 ? 0 : cursor;
    try {
      await this.play(selection && this.loop ? selection.from : from, turn, from);
    } catch {
      if (turn === this.turn) {
        this.stop();
        this.told.failed("The sound cannot be played.");
      }
    }
  }

  stop(): void {
    this.turn++;
    this.halt();
    this.on = false;
    this.told.playing(false);
    this.told.loud(-80);
  }

  seek(time: number, selection: Selection): void {
    if (this.on) void this.start(time, selection);
  }

  again(): Promise<void> {
    return this.start(this.now(), this.selection);
  }

  setSpeed(speed: number): void {
    const time = this.now();
    this.speed = speed;
    if (this.on) void this.start(time, this.selection);
  }

  private async play(from: number, turn: number, first = from): Promise<void> {
    this.context ??= new AudioContext();
    if (this.context.state === "suspended") await this.context.resume();
    if (!this.meter) {
      this.meter = this.context.createAnalyser();
      this.meter.fftSize = 2048;
      this.meter.connect(this.context.destination);
    }
    const end = this.selection ? this.selection.to : this.seconds;
    const to = Math.min(end, from + PIECE_S);
    const asked = `/api${this.address}/sound?from=${from}&to=${to}${this.tuned ? `&tuned_khz=${this.tuned}` : ""}`;
    const response = await fetch(asked);
    if (!response.ok) throw new Error(String(response.status));
    const buffer = await this.context.decodeAudioData(await response.arrayBuffer());
    if (turn !== this.turn) return;
    const source = this.context.createBufferSource();
    source.buffer = buffer;
    source.playbackRate.value = this.speed;
    const whole = to >= end && from <= (this.selection ? this.selection.from : 0);
    source.loop = this.loop && whole;
    source.connect(this.meter);
    source.onended = () => {
      if (turn !== this.turn) return;
      if (to < end - 0.01) void this.play(to, turn);
      else if (this.loop) void this.play(this.selection ? this.selection.from : 0, turn);
      else this.stop();
    };
    this.source = source;
    this.piece = { from, to, startedAt: this.context.currentTime, offset: first - from, looped: source.loop };
    source.start(0, first - from);
    this.watch(turn);
  }

  private now(): number {
    if (!this.context || !this.source) return this.piece.from + this.piece.offset;
    const run = (this.context.currentTime - this.piece.startedAt) * this.speed + this.piece.offset;
    const length = this.piece.to - this.piece.from;
    return this.piece.from + (this.piece.looped ? run % length : Math.min(run, length));
  }

  private watch(turn: number): void {
    const samples = new Float32Array(2048);
    const look = () => {
      if (turn !== this.turn || !this.source || !this.meter) return;
      this.meter.getFloatTimeDomainData(samples);
      let sum = 0;
      for (const sample of samples) sum += sample * sample;
      this.told.loud(sum > 0 ? 10 * Math.log10(sum / samples.length) : -80);
      this.told.at(this.now());
      requestAnimationFrame(look);
    };
    requestAnimationFrame(look);
  }

  private halt(): void {
    if (!this.source) return;
    this.source.onended = null;
    this.source.stop();
    this.source.disconnect();
    this.source = null;
  }
}
