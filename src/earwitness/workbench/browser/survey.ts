// While something is done in the background: how far it is, said as it goes; then the page anew.
import { HowFar } from "./shared/announce";
import { api } from "./shared/api";

interface Job { state: string; done: number; of: number; came: { address?: string }; error: { text: string } | null }

const place = document.querySelector<HTMLElement>("[data-job]");
async function follow(id: string): Promise<void> {
  const state = place!.querySelector("[data-state]")!;
  const bar = place!.querySelector("progress")!;
  const far = new HowFar();
  const doing = place!.dataset.doing ?? "Judging again";
  for (;;) {
    const job = await api<Job>(`/job/${id}`).catch(() => null);
    if (job?.state === "done" || job?.state === "failed") {
      location.replace(job.state === "done" && job.came.address ? job.came.address : location.href);
      return;
    }
    if (job && job.of > 0) {
      bar.max = job.of;
      bar.value = job.done;
      state.textContent = `${doing}: ${job.done} of ${job.of} recordings; this page may be closed.`;
      far.say(`${doing}: ${job.done} of ${job.of} recordings.`, job.done, job.of);
    }
    await new Promise((done) => setTimeout(done, 500));
  }
}
if (place?.dataset.job) void follow(place.dataset.job);
