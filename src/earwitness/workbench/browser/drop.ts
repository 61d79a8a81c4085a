// Files go up one by one; what was acknowledged is not sent again after a broken connection or a killed server.
import { hear, HowFar } from "./shared/announce";
import { answer, api, Refused } from "./shared/api";

interface Up { id: string; files: { path: string; sha256: string; size: number }[]; job: string | null; not_taken: { path: string; why: string }[] }
interface Job { id: string; state: string; done: number; of: number; came: { address?: string }; error: { text: string } | null }
interface Coming { path: string; file: File }

const TRIES = 5;
const pause = (ms: number) => new Promise((done) => setTimeout(done, ms));

function setUp(place: HTMLElement): void {
  const state = place.querySelector<HTMLElement>("[data-state]")!;
  const list = place.querySelector<HTMLOListElement>("[data-list]")!;
  const bar = place.querySelector<HTMLProgressElement>("[data-progress]")!;
  let busy = false;

  function say(text: string): void {
    state.textContent = text;
    hear(text);
  }

  async function take(coming: Coming[]): Promise<void> {
    if (busy || coming.length === 0) return;
    busy = true;
    list.replaceChildren();
    state.classList.remove("refused");
    bar.hidden = false;
    bar.max = coming.length;
    bar.value = 0;
    try {
      let up = await api<Up>("/upload", {});
      const far = new HowFar();
      for (const [number, one] of withoutCommonFolder(coming).entries()) {
        const said = `${number} of ${coming.length} files are on the server.`;
        state.textContent = said;
        far.say(said, number, coming.length);
        await sendOne(up.id, one);
        bar.value = number + 1;
      }
      up = await api<Up>(`/upload/${up.id}`);
      say(`All ${coming.length} files are on the server. Reading and judging; this page may be closed.`);
      if (!up.files.some((f) => f.path.toLowerCase() === "survey.toml")) up = await sendHeading(up.id);
      const closed = await api<Up>(`/upload/${up.id}/judge`, {});
      if (closed.job) await follow(closed.job);
    } catch (error) {
      say(error instanceof Error ? error.message : String(error));
      state.classList.add("refused");
      await showWhatIsNotJudged().catch(() => undefined);
    } finally {
      busy = false;
    }
  }

  // What survey.toml would say, asked for where there is none.
  async function sendHeading(upload: string): Promise<Up> {
    const form = place.querySelector<HTMLFormElement>("[data-heading]")!;
    form.hidden = false;
    form.querySelector("input")!.focus();
    const given = await new Promise<FormData>((done) => form.addEventListener("submit", (event) => {
      event.preventDefault();
      done(new FormData(form));
    }, { once: true }));
    form.hidden = true;
    const lines = [...given].map(([name, text]) => `${name} = ${JSON.stringify(text)}`);
    await sendOne(upload, { path: "survey.toml", file: new File([["[survey]", ...lines, ""].join("\n")], "survey.toml") });
    return api<Up>(`/upload/${upload}`);
  }

  async function sendOne(upload: string, one: Coming): Promise<void> {
    const line = document.createElement("li");
    line.textContent = one.path;
    if (list.childElementCount < 200) list.append(line);
    for (let tried = 1; ; tried++) {
      try {
        const up = await answer<Up>(await fetch(`/api/upload/${upload}/file?path=${encodeURIComponent(one.path)}`, { method: "PUT", body: one.file }));
        line.textContent = `✓ ${one.path}`;
        for (const left of up.not_taken) {
          const said = document.createElement("li");
          said.textContent = left.why;
          said.classList.add("refused");
          list.append(said);
        }
        return;
      } catch (error) {
        if (error instanceof Refused || tried === TRIES) {
          line.textContent = `${one.path}: ${error instanceof Error ? error.message : error}`;
          line.classList.add("refused");
          if (error instanceof Refused && ["content-not-taken", "path-refused"].includes(error.code)) return;
          throw error;
        }
        await pause(1000 * tried);
      }
    }
  }

  async function follow(id: string): Promise<void> {
    const far = new HowFar();
    for (;;) {
      const job = await api<Job>(`/job/${id}`).catch((error) => { if (error instanceof Refused) throw error; return null; });
      if (job?.state === "done" && job.came.address) {
        if (list.querySelector(".refused")) showWay(job.came.address);
        else location.assign(job.came.address);
        return;
      }
      if (job?.state === "failed") throw new Error(job.error?.text ?? "The survey could not be judged.");
      if (job && job.of > 0) {
        bar.max = job.of;
        bar.value = job.done;
        const said = `${job.done} of ${job.of} recordings judged; this page may be closed.`;
        state.textContent = said;
        far.say(said, job.done, job.of);
      }
      await pause(700);
    }
  }

  // What was not taken stays to be read.
  function showWay(address: string): void {
    const way = document.createElement("a");
    way.href = address;
    way.textContent = "Go to the survey";
    state.replaceChildren("Judged, without what is named here as not taken. ", way);
    hear(state.textContent ?? "");
  }

  const files = place.querySelector<HTMLInputElement>("[data-files]")!;
  const folder = place.querySelector<HTMLInputElement>("[data-folder]")!;
  for (const input of [files, folder]) {
    input.addEventListener("change", () => {
      void take([...(input.files ?? [])].map((file) => ({ path: file.webkitRelativePath || file.name, file })));
      input.value = "";
    });
  }
  place.addEventListener("dragover", (event) => { event.preventDefault(); place.classList.add("over"); });
  place.addEventListener("dragleave", () => place.classList.remove("over"));
  place.addEventListener("drop", (event) => {
    event.preventDefault();
    place.classList.remove("over");
    const items = [...(event.dataTransfer?.items ?? [])].map((item) => item.webkitGetAsEntry()).filter((entry) => entry !== null);
    void Promise.all(items.map(below)).then((found) => take(found.flat()));
  });
}

// What failed can be begun again from a list that the server makes: that part of the page anew.
async function showWhatIsNotJudged(): Promise<void> {
  const here = document.getElementById("not-judged");
  const text = await (await fetch(location.pathname)).text();
  const now = new DOMParser().parseFromString(text, "text/html").getElementById("not-judged");
  if (!here || !now) return;
  here.replaceWith(now);
  now.focus();
}

function withoutCommonFolder(coming: Coming[]): Coming[] {
  const heads = new Set(coming.map((one) => one.path.split("/")[0]));
  const inside = heads.size === 1 && coming.every((one) => one.path.includes("/")) && !heads.has("recordings");
  return inside ? coming.map((one) => ({ ...one, path: one.path.split("/").slice(1).join("/") })) : coming;
}

async function below(entry: FileSystemEntry): Promise<Coming[]> {
  if (entry.name.startsWith(".")) return [];
  if (entry.isFile) {
    const file = await new Promise<File>((done, failed) => (entry as FileSystemFileEntry).file(done, failed));
    return [{ path: entry.fullPath.replace(/^\//, ""), file }];
  }
  const reader = (entry as FileSystemDirectoryEntry).createReader();
  const found: Coming[] = [];
  for (;;) {
    const some = await new Promise<FileSystemEntry[]>((done, failed) => reader.readEntries(done, failed));
    if (some.length === 0) return found;
    for (const one of some) found.push(...(await below(one)));
  }
}

document.querySelectorAll<HTMLElement>("[data-drop]").forEach(setUp);
