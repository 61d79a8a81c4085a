// Charts of levels, power and money: see shared/chart.ts.
import { liven } from "./shared/chart";

document.querySelectorAll<HTMLElement>("[data-trend]").forEach(liven);
// Where a chart is wider than the page, as it is now comes first, and not how it began.
document.querySelectorAll<HTMLElement>("[data-trend] .wide").forEach((place) => { place.scrollLeft = place.scrollWidth; });
