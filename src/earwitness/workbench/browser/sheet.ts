// A grid that is typed into without a mouse and saves itself, row by row.
import { api, Refused } from "./shared/api";

type Field = HTMLInputElement | HTMLSelectElement;
interface Kept { row: number; problems: Record<string, string> }
const CARRIED = ["area", "kind", "medium"]; // what a new row takes from the one above

function setUp(table: HTMLTableElement): void {
  const address = table.dataset.sheet!;
  const head = table.tHead!.rows[0]!;
  const body = table.tBodies[0]!;
  const state = document.querySelector<HTMLElement>("[data-state]")!;
  const waiting = new Map<number, number>();
  let unsaved = 0;
  let began = 0; // the column where a run of Tabs began: Enter goes back to it, a row further down
  let tabbed = false;

  const columns = () => [...head.cells].slice(1).map((cell) => ({ name: cell.dataset.column!, title: cell.textContent!, choices: (cell.dataset.choices ?? "").split("|").filter(Boolean) }));
  const field = (row: HTMLTableRowElement | undefined, at: number) => row?.cells[at + 1]?.querySelector<Field>("input, select") ?? null;
  const cellsOf = (row: HTMLTableRowElement) => Object.fromEntries(columns().map((c, at) => [c.name, field(row, at)?.value ?? ""]));

  function fill(row: HTMLTableRowElement, cells: Record<string, string>): void {
    const number = row.insertCell();
    number.className = "count";
    number.textContent = String(row.sectionRowIndex + 1);
    for (const column of columns()) addCell(row, column, cells[column.name] ?? "");
  }

  function addCell(row: HTMLTableRowElement, column: { name: string; title: string; choices: string[] }, text: string): void {
    const made: Field = document.createElement(column.choices.length ? "select" : "input") as Field;
    if (made instanceof HTMLSelectElement) for (const choice of ["", ...column.choices]) made.add(new Option(choice, choice));
    else made.autocomplete = "off";
    made.value = text;
    made.setAttribute("aria-label", `${column.title}, row ${row.sectionRowIndex + 1}`);
    row.insertCell().append(made);
  }

  function newRow(): HTMLTableRowElement {
    const above = body.rows[body.rows.length - 1];
    const before = above ? cellsOf(above) : {};
    const row = body.insertRow();
    fill(row, Object.fromEntries(CARRIED.map((name) => [name, before[name] ?? ""])));
    return row;
  }

  function changed(row: HTMLTableRowElement): void {
    const number = row.sectionRowIndex;
    clearTimeout(waiting.get(number));
    if (!waiting.has(number)) unsaved++;
    state.textContent = "Not saved yet…";
    waiting.set(number, window.setTimeout(() => void save(row), 300));
  }

  async function save(row: HTMLTableRowElement): Promise<void> {
    const number = row.sectionRowIndex;
    try {
      const kept = await api<Kept>(`${address}/row`, { row: number, cells: cellsOf(row) });
      waiting.delete(number);
      unsaved--;
      columns().forEach((column, at) => {
        const cell = row.cells[at + 1]!, text = kept.problems[column.name];
        cell.classList.toggle("wrong", Boolean(text));
        cell.title = text ?? "";
        field(row, at)!.setAttribute("aria-invalid", String(Boolean(text)));
      });
      const first = Object.values(kept.problems)[0];
      state.textContent = first ? `Row ${number + 1} is kept. ${first}` : unsaved > 0 ? "Not saved yet…" : `✓ Row ${number + 1} is saved.`;
    } catch (error) {
      state.textContent = error instanceof Refused ? error.message : "The server does not answer; trying again.";
      if (!(error instanceof Refused)) waiting.set(number, window.setTimeout(() => void save(row), 2000));
    }
  }

  // To a cell, its text selected so that typing replaces it; in a row just begun, past what was carried into it.
  function goTo(row: HTMLTableRowElement, at: number, fresh: boolean): void {
    const all = columns();
    while (fresh && at < all.length - 1 && CARRIED.includes(all[at]!.name) && field(row, at)?.value) at++;
    const cell = field(row, at);
    cell?.focus();
    if (cell instanceof HTMLInputElement) cell.select();
  }

  function enter(row: HTMLTableRowElement): void {
    const column = began, down = body.rows[row.sectionRowIndex + 1];
    goTo(down ?? newRow(), column, !down);
    began = column;
  }

  // Cells copied from another sheet go in as a block, from here to the right and down.
  function paste(row: HTMLTableRowElement, at: number, lines: string[][]): void {
    lines.forEach((texts, below) => {
      const target = body.rows[row.sectionRowIndex + below] ?? newRow();
      texts.forEach((text, right) => { const cell = field(target, at + right); if (cell) cell.value = text.trim(); });
      changed(target);
    });
  }

  body.addEventListener("focusin", (event) => {
    const cell = (event.target as Element).closest("td");
    if (cell && !tabbed) began = cell.cellIndex - 1;
    tabbed = false;
  });
  body.addEventListener("paste", (event) => {
    const text = event.clipboardData?.getData("text/plain") ?? "";
    const cell = (event.target as Element).closest("td"), row = cell?.closest("tr");
    if (!cell || !row || !/[\t\n]/.test(text.trimEnd())) return;
    event.preventDefault();
    paste(row, cell.cellIndex - 1, text.replace(/\r/g, "").trimEnd().split("\n").map((line) => line.split("\t")));
  });
  body.addEventListener("input", (event) => changed((event.target as Element).closest("tr")!));
  body.addEventListener("keydown", (event) => {
    const cell = (event.target as Element).closest("td");
    const row = cell?.closest("tr");
    if (!cell || !row) return;
    const at = cell.cellIndex - 1, down = body.rows[row.sectionRowIndex + 1], up = body.rows[row.sectionRowIndex - 1];
    const take = (text: string | undefined) => {
      const here = field(row, at);
      if (here && text !== undefined) { here.value = text; changed(row); }
    };
    if (event.key === "Tab") { tabbed = true; return; }
    if (event.key === "Enter") enter(row);
    else if (event.key === "ArrowDown" && event.target instanceof HTMLInputElement) { if (down) goTo(down, at, false); }
    else if (event.key === "ArrowUp" && event.target instanceof HTMLInputElement) { if (up) goTo(up, at, false); }
    else if (event.ctrlKey && event.key.toLowerCase() === "d") take(field(up, at)?.value);
    else if (event.ctrlKey && event.key === "'") {
      const last = [...body.rows].slice(0, row.sectionRowIndex).reverse().map((r) => field(r, at)?.value).find(Boolean);
      take(last);
    } else return;
    event.preventDefault();
  });
  document.querySelector<HTMLSelectElement>("[data-more]")!.addEventListener("change", (event) => {
    const chosen = (event.target as HTMLSelectElement).selectedOptions[0];
    if (!chosen?.value) return;
    const title = document.createElement("th");
    title.scope = "col";
    title.dataset.column = chosen.value;
    title.dataset.choices = chosen.dataset.choices ?? "";
    title.textContent = chosen.textContent;
    head.append(title);
    const column = columns().at(-1)!;
    for (const row of body.rows) addCell(row, column, "");
    chosen.remove();
    field(body.rows[0], columns().length - 1)?.focus();
  });
  window.addEventListener("beforeunload", (event) => { if (unsaved > 0) event.preventDefault(); });

  for (const row of [...body.rows]) fill(row, JSON.parse(row.dataset.cells ?? "{}"));
  field(newRow(), 0)?.focus();
}

document.querySelectorAll<HTMLTableElement>("[data-sheet]").forEach(setUp);
