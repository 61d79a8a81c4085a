// Charts of levels, power and money: see shared/chart.ts.
import { liven } from "./shared/chart";

document.querySelectorAll<HTMLElement>("[data-trend]").forEach(liven);
