"""The frequency of the mains, where somebody stated it and where nobody did."""

from __future__ import annotations

GRIDS_HZ = (50.0, 60.0)  # IEC 60038:2009: there is no other for the public supply


def nominal_mains(stated_hz: float | None = None) -> tuple[float, ...]:
    """What the mains' nominal frequency may be [Hz]: the stated one, else both.

    Parameters
    ----------
    stated_hz : float or None, as the site states it [Hz]
    """
    return (stated_hz,) if stated_hz else GRIDS_HZ
