"""Several machines with the order in which they are controlled: the power that a plant draws at a demand."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from earwitness.energy._checks import Floats, _not_negative, _positive
from earwitness.energy.part_load import PartLoadCurve, part_load_curve
from earwitness.errors import InputError
from earwitness.sentence import Sentence

Order = Literal["in-turn", "together"]


@dataclass(frozen=True)
class Machine:
    """One compressor: what it delivers and draws at full load, and its part-load curve.

    trims : it takes what the others leave over; where no machine trims, the last one that is needed does.
    """

    name: str
    capacity_m3_s: float
    full_power_w: float
    curve: PartLoadCurve
    trims: bool = False


@dataclass(frozen=True)
class Plant:
    """Machines in the order in which they are called. `in-turn`: each is filled before the next is called, and what is
    not needed stands still; `together`: all run and share the demand in proportion to their capacity."""

    machines: tuple[Machine, ...]
    order: Order = "in-turn"

    @classmethod
    def single(cls, capacity_m3_s: float, full_power_w: float, control: str, storage_m3: float | None = None) -> Plant:
        """A plant of one machine, for where one figure stands for the whole."""
        return cls((make_machine("compressor", capacity_m3_s, full_power_w, control, storage_m3),))

    @property
    def capacity_m3_s(self) -> float:
        return sum(m.capacity_m3_s for m in self.machines)

    @property
    def specific_power_j_m3(self) -> float:
        """Full-load power over capacity [J/m3]: what a cubic metre costs when nothing idles."""
        return sum(m.full_power_w for m in self.machines) / self.capacity_m3_s

    @property
    def notes(self) -> tuple[Sentence, ...]:
        """What is to be said about the curves, each sentence once."""
        return tuple({note.text: note for m in self.machines for note in m.curve.notes}.values())

    def with_control(self, control: str, storage_m3: float | None = None) -> Plant:
        """The same machines, each under another control."""
        changed = []
        for m in self.machines:
            storage_s = None if storage_m3 is None else storage_m3 / m.capacity_m3_s
            curve = part_load_curve(control, storage_s=storage_s)
            changed.append(replace(m, curve=curve, trims=control == "variable-speed"))
        return replace(self, machines=tuple(changed))


def make_machine(
    name: str,
    capacity_m3_s: float,
    full_power_w: float,
    control: str,
    storage_m3: float | None = None,
    trims: bool | None = None,
) -> Machine:
    """A machine with the customary curve of its control; a variable-speed machine trims unless told otherwise.

    Parameters
    ----------
    name : as the plant calls it
    capacity_m3_s : float, free air delivered at full load, above 0 [m3/s]
    full_power_w : float, electrical power at full load, above 0 [W]
    control : one of `part_load.CONTROLS`
    storage_m3 : float, volume of the receivers that it works on, above 0; unknown where None [m3]
    trims : whether it takes what the others leave over

    Raises
    ------
    InputError : a number of 0 or less, an unknown control

    Examples
    --------
    >>> make_machine("K1", 0.2, 72e3, "variable-speed").trims
    True
    """
    _positive("capacity_m3_s", capacity_m3_s, "m3/s")
    _positive("full_power_w", full_power_w, "W")
    storage_s = None if storage_m3 is None else float(_positive("storage_m3", storage_m3, "m3")) / capacity_m3_s
    curve = part_load_curve(control, storage_s=storage_s)
    return Machine(name, capacity_m3_s, full_power_w, curve, control == "variable-speed" if trims is None else trims)


def plant_power(plant: Plant, demand_m3_s: Floats) -> NDArray[np.float64]:
    """Electrical power of the whole plant at a demand; above its capacity it stays at full power.

    Parameters
    ----------
    plant : machines in the order in which they are called
    demand_m3_s : float or array of any shape, free air, 0 or more [m3/s]

    Returns
    -------
    power, same shape [W]

    Raises
    ------
    InputError : a negative demand, a plant without machines, a machine without capacity or power

    Examples
    --------
    >>> machine = Machine("K1", 0.2, 80e3, part_load_curve("start-stop"))
    >>> plant_power(Plant((machine, machine)), np.array([0.1, 0.3, 9.0])).tolist()
    [40000.0, 120000.0, 160000.0]
    """
    demand = _not_negative("demand_m3_s", demand_m3_s, "m3/s")
    if not plant.machines:
        raise InputError("machines", "none", "one compressor or more")
    for machine in plant.machines:
        _positive(f"capacity of {machine.name}", machine.capacity_m3_s, "m3/s")
        _positive(f"full-load power of {machine.name}", machine.full_power_w, "W")
    if plant.order == "together":
        return np.asarray(sum(m.full_power_w * m.curve.at(demand / plant.capacity_m3_s) for m in plant.machines))
    base = [m for m in plant.machines if not m.trims]
    trims = [m for m in plant.machines if m.trims]
    spare = sum(m.capacity_m3_s for m in trims)
    standing = len(base) if trims else 0  # under pressure one machine always runs, if only idle
    power, left = np.zeros_like(demand), demand
    for place, machine in enumerate((*base, *trims)):
        # A base machine is called only where the trimming ones cannot carry what is left.
        wanted = left if machine.trims else np.where(left > spare, left, 0.0)
        taken = np.minimum(wanted, machine.capacity_m3_s)
        runs = (taken > 0) | (place == standing)
        power = power + np.where(runs, machine.full_power_w * machine.curve.at(taken / machine.capacity_m3_s), 0.0)
        left = left - taken
    return np.asarray(np.where(np.isnan(demand), np.nan, power))
