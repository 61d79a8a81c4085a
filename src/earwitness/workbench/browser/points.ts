// A plan drawing comes up the way every file does, and is then kept as a drawing.
import { announce } from "./shared/announce";
import { answer, api } from "./shared/api";

const form = document.querySelector<HTMLFormElement>("[data-new-drawing]");
form?.addEventListener("submit", async (event) => {
  event.preventDefault();
  const file = form.querySelector<HTMLInputElement>("[name=image]")!.files?.[0];
  if (!file) return;
  const given = new FormData(form);
  try {
    announce("The drawing is coming up…");
    const { id } = await api<{ id: string }>("/upload", {});
    const path = file.name.replace(/[^\p{L}\p{N}._-]+/gu, "-").replace(/^[.-]+|[.-]+$/g, "") || "plan";
    await answer(await fetch(`/api/upload/${id}/file?path=${encodeURIComponent(path)}`, { method: "PUT", body: file }));
    const area = given.get("area") || null;
    const went = await api<{ to: string }>(form.dataset.address!, { upload: id, path, name: given.get("name"), area });
    location.assign(went.to);
  } catch (error) {
    announce((error as Error).message);
  }
});
