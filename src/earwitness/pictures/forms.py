"""One function a form of picture: what a trace of that form shows, and what decided, marked in words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from earwitness.pictures.marks import Mark, in_hz
from earwitness.pictures.paper import ACCENT, FAINT, GREY, INK, PAPER, label_above, label_rows_for, sheet

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Numbers = NDArray[np.float64]
Arrays = Mapping[str, Any]
ON_PAPER = {"facecolor": PAPER, "edgecolor": "none", "pad": 0.8, "alpha": 0.85}  # a label stays readable over a curve
LEVEL_SPAN_DB, POWER_SPAN_DB = 12.0, 60.0  # the least a level chart spans, the most a spectrogram shows below its top
FEW = 4  # up to so many expected lines, those that are absent are named too; the table below names them all
COLUMNS_MOST, ROWS_MOST = 480, 128  # a picture holds no more; what is finer is the loudest of its neighbours


@dataclass(frozen=True)
class Drawn:
    figure: Figure
    says: str  # what the picture shows, for those who do not see it


def array(arrays: Arrays, name: str) -> Numbers | None:
    """The array of that name, flat and in floats; None where there is none or nothing in it."""
    raw = arrays.get(name)
    if raw is None:
        return None
    values = np.asarray(raw, dtype=np.float64)
    return values if values.size and np.isfinite(values).any() else None


def _pair(arrays: Arrays, x: str, y: str) -> tuple[Numbers, Numbers] | None:
    ys = array(arrays, y)
    if ys is None:
        return None
    xs = array(arrays, x)
    if xs is None:
        xs = np.arange(ys.size, dtype=np.float64)
    count = min(xs.size, ys.size)
    return xs.ravel()[:count], ys.ravel()[:count]


def _thinned(xs: Numbers, ys: Numbers, most: int = 1500) -> tuple[Numbers, Numbers]:
    """No more points than the paper can show; of each group the highest stays, so that no line is lost."""
    step = -(-len(xs) // most)
    if step <= 1:
        return xs, ys
    whole = len(xs) // step * step
    groups = ys[:whole].reshape(-1, step)
    pick = np.argmax(np.nan_to_num(groups, nan=-np.inf), axis=1) + np.arange(len(groups)) * step
    return xs[pick], ys[pick]


def level(arrays: Arrays, marks: tuple[Mark, ...]) -> Drawn:
    """Level over time, the floor it is held against, and the places that decided."""
    timed = [(m.at_s, m) for m in marks if m.at_s is not None]
    rows = label_rows_for(len(timed))
    figure, axes = sheet(label_rows=rows, xlabel="time [s]", ylabel="level [dB]")
    says = "Level over time"
    curve = _pair(arrays, "time_s", "level_db")
    if curve:
        xs, ys = _thinned(*curve)
        axes.plot(xs, ys, color=INK, linewidth=1.1)
        axes.set_xlim(float(xs[0]), float(xs[-1]) if xs[-1] > xs[0] else float(xs[0]) + 1)
        says += f", {xs[0]:.0f} to {xs[-1]:.0f} s; highest {np.nanmax(ys):.0f} dB"
    floor = array(arrays, "floor_db")
    if floor is not None and curve:
        if floor.size == 1:
            floor = np.full(curve[0].size, float(floor.ravel()[0]))
        count = min(floor.size, curve[0].size)
        axes.plot(curve[0][:count], floor.ravel()[:count], color=GREY, linewidth=1.1, linestyle=(0, (4, 2)))
        says += f"; floor about {np.nanmedian(floor):.0f} dB"
        axes.set_xlabel("time [s]    dashed: the floor", labelpad=3)
    _no_less_than(axes, LEVEL_SPAN_DB)
    _spans(axes, marks)
    for at_s, mark in timed:
        axes.axvline(at_s, color=ACCENT, linewidth=1.0, alpha=0.9)
        if mark.height is not None:
            axes.plot([at_s], [mark.height], marker="v", color=ACCENT, markersize=7)
    _heights(axes, [m for m in marks if m.at_s is None and m.from_s is None])
    label_above(axes, [at for at, _ in timed], [m.name for _, m in timed], rows=rows)
    return Drawn(figure, says)


def spectrogram(arrays: Arrays, marks: tuple[Mark, ...]) -> Drawn:
    """Power over time and frequency; places as lines down the picture, bands and lines as edges across it."""
    timed = [(m.at_s, m) for m in marks if m.at_s is not None]
    rows = label_rows_for(len(timed))
    figure, axes = sheet(label_rows=rows, xlabel="time [s]", ylabel="frequency [kHz]")
    says = "Spectrogram"
    power = array(arrays, "power_db")
    if power is not None and power.ndim == 2:
        times, freqs = array(arrays, "time_s"), array(arrays, "freq_hz")
        if (
            times is not None
            and freqs is not None
            and power.shape == (times.size, freqs.size) != (freqs.size, times.size)
        ):
            power = power.T
        left, right = (float(times[0]), float(times[-1])) if times is not None else (0.0, float(power.shape[1]))
        low, high = (float(freqs[0]), float(freqs[-1])) if freqs is not None else (0.0, float(power.shape[0]))
        small, bottom, top = _shades(_coarse(power))
        axes.imshow(
            small, origin="lower", aspect="auto", cmap="cividis", interpolation="none",
            vmin=bottom, vmax=top, extent=(left, right, low / 1000, high / 1000),
        )  # fmt: skip
        axes.set_xlabel(f"time [s]    dark is {bottom:.0f} dB, bright {top:.0f} dB".replace("-", "−"), labelpad=3)
        says += f", {left:.0f} to {right:.0f} s, {in_hz(low)} to {in_hz(high)}"
    for at_s, _ in timed:
        _on_dark(axes.axvline, at_s)
    for mark in marks:
        edges = [mark.hz] if mark.hz is not None else [e for e in (mark.low_hz, mark.high_hz) if e is not None]
        for edge in edges:
            _on_dark(axes.axhline, edge / 1000, linestyle=(0, (5, 2)))
        if edges:
            axes.text(
                0.99, max(edges) / 1000, f" {mark.name}", color="white", fontsize=9.5, ha="right", va="bottom",
                transform=axes.get_yaxis_transform(), bbox={"facecolor": INK, "pad": 1.2, "edgecolor": "none"},
            )  # fmt: skip
    label_above(axes, [at for at, _ in timed], [m.name for _, m in timed], rows=rows)
    return Drawn(figure, says)


def envelope_spectrum(arrays: Arrays, marks: tuple[Mark, ...]) -> Drawn:
    """How strongly the loudness beats at each rate, the expected lines with their tolerance, and the significance."""
    lines = [(m.hz, m) for m in marks if m.hz is not None]
    named = [(hz, m) for hz, m in lines if m.found is not False or len(lines) <= FEW]
    rows = label_rows_for(len(named))
    figure, axes = sheet(label_rows=rows, xlabel="rate of the beats [Hz]", ylabel="strength")
    says = "Envelope spectrum: how strongly the loudness beats at each rate"
    curve = _pair(arrays, "freq_hz", "amplitude")
    reach = max([1.0, *(1.08 * hz for hz, _ in lines)])
    if curve:
        whole = float(curve[0][-1])
        reach = min(whole, reach) if lines else whole
        xs, ys = _thinned(curve[0][curve[0] <= reach], curve[1][curve[0] <= reach])
        axes.plot(xs, ys, color=INK, linewidth=0.9)
        says += f", 0 to {in_hz(reach)}"
        axes.set_ylim(0, 1.12 * float(np.nanmax(ys[xs > reach / 200] if (xs > reach / 200).any() else ys)) or 1)
    axes.set_xlim(0, reach)
    threshold = array(arrays, "threshold")
    if threshold is not None and curve:
        flat = threshold.ravel() if threshold.size > 1 else np.full(curve[0].size, float(threshold.ravel()[0]))
        keep = curve[0][: flat.size] <= reach
        axes.plot(
            curve[0][: flat.size][keep], flat[: curve[0].size][keep], color=GREY, linewidth=1, linestyle=(0, (4, 2))
        )
        axes.set_xlabel("rate of the beats [Hz]    dashed: significant above this", labelpad=3)
    for hz, mark in lines:
        half = max(mark.tolerance_hz or 0.0, reach / 500)
        shade = ACCENT if mark.found is not False else GREY
        axes.axvspan(hz - half, hz + half, facecolor=shade, alpha=0.22 if mark.found is not False else 0.12)
    names = [m.name + (" (absent)" if m.found is False else "") for _, m in named]
    label_above(axes, [hz for hz, _ in named], names, rows=rows)
    return Drawn(figure, says)


def mains_phase(arrays: Arrays, marks: tuple[Mark, ...]) -> Drawn:
    """How loud it is at each moment of one mains cycle. Sound alone does not say where the voltage's own zero lies, so
    none is drawn."""
    at = [(m.deg, m) for m in marks if m.deg is not None]
    rows = label_rows_for(len(at))
    figure, axes = sheet(
        label_rows=rows, xlabel="moment within one mains cycle [degrees]", ylabel="level over its mean [dB]"
    )
    says = "Level over one mains cycle"
    curve = _pair(arrays, "phase_deg", "level")
    if curve:
        xs, ys = curve
        low, high = array(arrays, "low"), array(arrays, "high")
        if low is not None and high is not None and low.size == high.size == xs.size:
            axes.fill_between(xs, low.ravel(), high.ravel(), color=FAINT, linewidth=0)
        axes.step(xs, ys, where="mid", color=INK, linewidth=1.4)
        says += f"; loudest at {xs[int(np.nanargmax(ys))]:.0f} degrees"
    axes.set_xlim(0, 360)
    axes.set_xticks(range(0, 361, 45))
    for deg, _ in at:
        axes.axvline(deg, color=ACCENT, linewidth=1.1)
    label_above(axes, [deg for deg, _ in at], [m.name for _, m in at], rows=rows)
    _heights(axes, [m for m in marks if m.deg is None])
    return Drawn(figure, says)


def _coarse(power: Numbers) -> Numbers:
    """The loudest of each group of cells, so that a short click is still seen."""
    for axis, most in ((0, ROWS_MOST), (1, COLUMNS_MOST)):
        step = -(-power.shape[axis] // most)
        if step > 1:
            power = np.fmax.reduceat(power, np.arange(0, power.shape[axis], step), axis=axis)
    return power


def _shades(power: Numbers) -> tuple[Numbers, float, float]:
    """Power in 64 steps between its quiet and its loudest cells: as many as an eye tells apart, and a small file."""
    bottom, top = (float(q) for q in np.quantile(power[np.isfinite(power)], [0.05, 0.998]))
    bottom = max(bottom, top - POWER_SPAN_DB)
    step = max(top - bottom, 1.0) / 64
    return np.round((np.clip(power, bottom, top) - bottom) / step) * step + bottom, bottom, max(top, bottom + 1)


def _on_dark(line: Callable[..., Any], at: float, **style: Any) -> None:
    """A white line with an ink edge: seen on the dark and on the bright end of the scale, and in grey print."""
    line(at, color=INK, linewidth=2.6, alpha=0.8, **{k: v for k, v in style.items() if k != "linestyle"})
    line(at, color="white", linewidth=1.1, **style)


def _no_less_than(axes: Axes, span: float) -> None:
    """A steady level is drawn as a steady line: ripples of a decibel do not fill the picture."""
    low, high = axes.get_ylim()
    if high - low < span:
        middle = (low + high) / 2
        axes.set_ylim(middle - span / 2, middle + span / 2)


def _spans(axes: Axes, marks: tuple[Mark, ...]) -> None:
    for mark in marks:
        if mark.from_s is not None and mark.to_s is not None:
            axes.axvspan(mark.from_s, mark.to_s, facecolor=ACCENT, alpha=0.15)
            axes.text(
                mark.from_s, 0.98, " " + mark.name, transform=axes.get_xaxis_transform(), va="top", color=ACCENT,
                fontsize=9.5,
            )  # fmt: skip


def _heights(axes: Axes, marks: list[Mark]) -> None:
    for mark in marks:
        if mark.height is not None:
            axes.axhline(mark.height, color=ACCENT, linewidth=1.0, linestyle=(0, (5, 2)))
            _at_right(axes, mark.height, mark.name, ACCENT)


def _at_right(axes: Axes, height: float, text: str, color: str) -> None:
    axes.text(
        0.995, height, text, transform=axes.get_yaxis_transform(), ha="right", va="bottom", color=color, fontsize=9.5,
        bbox=ON_PAPER,
    )  # fmt: skip


FORMS: dict[str, Callable[[Arrays, tuple[Mark, ...]], Drawn]] = {
    "level": level,
    "spectrogram": spectrogram,
    "envelope-spectrum": envelope_spectrum,
    "mains-phase": mains_phase,
}
