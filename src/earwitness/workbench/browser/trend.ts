// A visit under the pointer, or stepped to by arrow keys, is said below the chart.
document.querySelectorAll<HTMLElement>("[data-trend]").forEach((figure) => {
  const chart = figure.querySelector<SVGSVGElement>("svg")!;
  const out = figure.querySelector<HTMLElement>("[data-readout]")!;
  const marks = [...chart.querySelectorAll<SVGPathElement>("[data-said]")];
  let now = -1;
  const show = (index: number) => {
    marks[now]?.classList.remove("here");
    now = index;
    marks[now]?.classList.add("here");
    out.textContent = marks[now]?.dataset.said ?? "";
  };
  chart.addEventListener("pointermove", (event) => {
    let nearest = -1, distance = Infinity;
    marks.forEach((mark, index) => {
      const box = mark.getBoundingClientRect();
      const away = Math.hypot(event.clientX - box.x - box.width / 2, event.clientY - box.y - box.height / 2);
      if (away < distance) [nearest, distance] = [index, away];
    });
    if (nearest !== now) show(nearest);
  });
  chart.addEventListener("keydown", (event) => {
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!step) return;
    event.preventDefault();
    show(now < 0 ? marks.length - 1 : Math.min(marks.length - 1, Math.max(0, now + step)));
  });
});
