// While a large plan is being made: how long already, then the page anew.
import { api } from "./shared/api";

interface Still { working: { repairs: number | null; seconds: number } | null }

const place = document.querySelector<HTMLElement>("[data-working]");
async function follow(address: string): Promise<void> {
  const bar = place!.querySelector("progress")!;
  for (;;) {
    await new Promise((done) => setTimeout(done, 500));
    const still = await api<Still>(address).catch(() => null);
    if (still?.working === null) { location.reload(); return; }
    // It cannot be known how long; the bar nears its end and never stands still.
    if (still?.working) bar.value = bar.max * (1 - Math.exp(-still.working.seconds / 4));
  }
}
if (place?.dataset.working) void follow(place.dataset.working);
