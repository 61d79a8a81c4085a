"""Flows of gas as text: a mass a time, or a volume a time at the reference that the unit names."""

from __future__ import annotations

import re
from dataclasses import dataclass

from earwitness.sentence import Sentence, say
from earwitness.units.number import UnitError, plain, shown, split
from earwitness.units.table import ATMOSPHERE, DIMENSIONS, REFERENCES, TEMPERATURES, factor, squeezed

_FREE_TEMPERATURE, _FREE_PRESSURE, _ = REFERENCES["free air"]
_CUSTOM = re.compile(
    r"^(?P<unit>.+?)\s*(?:@|\bat\b|\()\s*(?P<t>[+\-−]?[\d.,]+)\s*(?P<tu>(?:°|deg)?\s?[CFK])\s*[,;]\s*"
    r"(?P<p>[\d.,]+)\s*(?P<pu>[A-Za-z]+)\s*(?:\(?a(?:bs)?\)?)?\s*\)?$"
)
_MARKED = (  # what stands around the unit, and the reference it names
    (re.compile(r"^(.+?)\s*\(?\bANR\b\)?$", re.I), "ANR"),
    (re.compile(r"^(.+?)\s*\(?\bFAD\b\)?$", re.I), "FAD"),
    (re.compile(r"^(.+?)\s*\(?\bfree(?:\s*air)?\)?$", re.I), "free air"),
    (re.compile(r"^(.+?)\s*\((?:n|norm|normal)\)$", re.I), "normal"),
    (re.compile(r"^(?:norm(?:al)?)\s*(.+)$", re.I), "normal"),
    (re.compile(r"^(?:std|standard|s)\.?\s*((?:l|cm3|ml|cc)\b.*)$", re.I), "standard leak"),
    (re.compile(r"^(?:std|standard|s)\.?\s*((?:m3).*)$", re.I), "standard metric"),
    (re.compile(r"^(?:std|standard|s)\.?\s*((?:ft3|cu ?ft|cf).*)$", re.I), "scfm"),
    (re.compile(r"^n\s*((?:l|m3|cm3|ml|dm3)\b.*)$", re.I), "normal"),
)
_SHORT = {  # spelling: the unit written out, its reference
    "cfm": ("ft3/min", None), "acfm": ("ft3/min", None), "icfm": ("ft3/min", None), "cfh": ("ft3/h", None),
    "scfm": ("ft3/min", "scfm"), "scfh": ("ft3/h", "scfm"), "lpm": ("l/min", None), "slpm": ("l/min", "standard leak"),
    "nlpm": ("l/min", "normal"), "sccm": ("cm3/min", "standard leak"), "ccm": ("cm3/min", None),
}  # fmt: skip
_LEAK_RATE = re.compile(r"^(mbar|Pa|torr|Torr|atm)(l|L|m3|cm3|cc)/(s|min|h)$")
_CERTAIN = {"ANR", "FAD", "free air", "normal"}


@dataclass(frozen=True, slots=True)
class Flow:
    """A flow that somebody read: mass [kg/s], or volume [m3/s] at `temperature_k` [K] and `pressure_abs`
    [Pa absolute], the reference `reference`."""

    value: float
    unit: str
    given: str
    reference: str | None = None
    temperature_k: float | None = None
    pressure_abs: float | None = None
    notes: tuple[Sentence, ...] = ()

    @property
    def free_air(self) -> float:
        """The volume flow [m3/s] at 20 degC and 101.325 kPa."""
        if self.temperature_k is None or self.pressure_abs is None:
            return self.value
        return self.value * (_FREE_TEMPERATURE / self.temperature_k) * (self.pressure_abs / _FREE_PRESSURE)


@dataclass(frozen=True, slots=True)
class _Reference:
    name: str
    temperature_k: float
    pressure_abs: float
    text: str


def _named(name: str) -> _Reference:
    return _Reference(name, *REFERENCES[name])


def parted(unit: str) -> tuple[str, _Reference | None]:
    """A volume or flow unit without what names its reference, and that reference."""
    unit = unit.strip()
    if match := _CUSTOM.match(unit):
        worth = factor("pressure", match["pu"])
        offset, scale = TEMPERATURES[squeezed(match["tu"])]
        kelvin = (split(match["t"], where="reference")[0] + offset) * scale
        pascal = split(match["p"], where="reference")[0] * (worth or 0.0)
        if kelvin > 0 and pascal > 0:
            return match["unit"], _Reference(
                "stated", kelvin, pascal, f"{kelvin - 273.15:g} degC, {pascal / 1e3:g} kPa"
            )
    for pattern, name in _MARKED:
        if match := pattern.match(unit):
            return match[1], _named(name)
    return unit, None


def volume_rate(unit: str) -> tuple[float, _Reference | None] | None:
    """What a unit of volume flow is worth [m3/s], and the reference it names."""
    short = _SHORT.get(squeezed(unit).casefold())
    if short:
        unit, name = short
        reference = _named(name) if name else None
    else:
        unit, reference = parted(unit)
        unit, _ = _SHORT.get(squeezed(unit).casefold(), (unit, None))
    unit = squeezed(unit)
    if match := _LEAK_RATE.match(unit):  # pressure times volume a time, as in leak testing
        pressure, volume, time = factor("pressure", match[1]), factor("volume", match[2]), factor("duration", match[3])
        assert pressure and volume and time
        return pressure * volume / time / ATMOSPHERE, _named("free air")
    top, _, bottom = unit.partition("/")
    volume, time = factor("volume", top), factor("duration", bottom)
    return (volume / time, reference) if volume and time else None


def flow(text: str, *, where: str, unit: str | None = None, decimal: str | None = None) -> Flow:
    """The flow that `text` gives; `unit` serves where the text carries none.

    Examples
    --------
    >>> flow("4 Nm3/h", where="flow").reference
    'normal'
    >>> round(flow("90 kg/h", where="flow").value, 6)
    0.025
    """
    value, own = split(text, where=where, decimal=decimal)
    written = own or plain(unit or "")
    if not written:
        raise no_unit(text, "flow", where)
    top, _, bottom = squeezed(written).partition("/")
    mass, time = factor("mass", top), factor("duration", bottom)
    given = text.strip() if own else f"{text.strip()} {unit}"
    if value < 0:
        raise UnitError(say("negative", "{where}: '{given}' is below zero.", where=where, given=shown(given)))
    if mass and time:
        return Flow(value * mass / time, "kg/s", given)
    found = volume_rate(written)
    if found is None:
        raise unknown_unit(text, written, "flow", where)
    worth, named = found
    reference = named or _named("free air")
    notes: tuple[Sentence, ...] = ()
    if named is None or (named.name not in _CERTAIN and named.name != "stated"):
        notes = (
            say("flow-reference-taken", "{where}: '{given}' is read as a volume at {reference}.",
                where=where, given=shown(given), reference=reference.text),
        )  # fmt: skip
    return Flow(value * worth, "m3/s", given, reference.name, reference.temperature_k, reference.pressure_abs, notes)


def no_unit(text: str, dimension: str, where: str) -> UnitError:
    examples = DIMENSIONS[dimension].examples
    return UnitError(
        say("no-unit", "{where}: '{given}' has no unit; write for example {examples}.",
            where=where, given=shown(text), examples=examples)
    )  # fmt: skip


def unknown_unit(text: str, unit: str, dimension: str, where: str) -> UnitError:
    return UnitError(
        say("unknown-unit", "{where}: '{unit}' in '{given}' is no unit of {dimension} known here; "
            "write for example {examples}.",
            where=where, unit=shown(unit), given=shown(text), dimension=dimension,
            examples=DIMENSIONS[dimension].examples)
    )  # fmt: skip
