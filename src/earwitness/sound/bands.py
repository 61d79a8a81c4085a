"""Fractional-octave bands of IEC 61260-1:2014, base ten, up to a recording's limit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from earwitness.errors import InputError
from earwitness.sound.spectrum import averaged_spectrum

Samples = NDArray[np.float32]
OCTAVE = 10**0.3  # IEC 61260-1, 5.2
REFERENCE_HZ = 1000.0  # 5.3


@dataclass(frozen=True)
class Bands:
    """Exact mid-band frequencies and band edges, each (bands,), in Hz."""

    mid_hz: NDArray[np.float64]
    low_hz: NDArray[np.float64]
    high_hz: NDArray[np.float64]


@dataclass(frozen=True)
class BandLevels:
    """Bands and the level in each, dB re full scale (mean square 1)."""

    bands: Bands
    level_db: NDArray[np.float64]


def fractional_octaves(low_hz: float, high_hz: float, *, fraction: int = 3) -> Bands:
    """The bands of 1/`fraction` octave that lie wholly between two frequencies.

    Mid-band f_r·G^(x/b) for odd b, f_r·G^((2x+1)/(2b)) for even b; edges f_m·G^(∓1/(2b)) (IEC 61260-1:2014, 5.4–5.6).

    Parameters
    ----------
    low_hz : lower limit, above 0 [Hz]
    high_hz : upper limit [Hz]
    fraction : b, 1 to 24

    Examples
    --------
    >>> fractional_octaves(20_000, 60_000).mid_hz.round(1)
    array([25118.9, 31622.8, 39810.7, 50118.7])
    """
    if not 1 <= fraction <= 24:
        raise InputError("fraction", fraction, "1 to 24")
    if not 0 < low_hz < high_hz:
        raise InputError("low_hz", low_hz, "above 0 and below high_hz")
    first = int(np.floor(fraction * np.log(low_hz / REFERENCE_HZ) / np.log(OCTAVE))) - 1
    last = int(np.ceil(fraction * np.log(high_hz / REFERENCE_HZ) / np.log(OCTAVE))) + 1
    x = np.arange(first, last + 1)
    mid = REFERENCE_HZ * OCTAVE ** (x / fraction if fraction % 2 else (2 * x + 1) / (2 * fraction))
    half = OCTAVE ** (1 / (2 * fraction))
    whole = (mid / half >= low_hz * (1 - 1e-9)) & (mid * half <= high_hz * (1 + 1e-9))
    mid = mid[whole]
    return Bands(mid, mid / half, mid * half)


def band_levels(samples: Samples, rate_hz: float, *, low_hz: float = 1000.0, fraction: int = 3) -> BandLevels:
    """Level in each band from `low_hz` to the recording's limit, by adding up the power density between its edges.

    Parameters
    ----------
    samples : (n,) float32, full scale 1 [-]
    rate_hz : samples a second [Hz]
    low_hz : lowest frequency of interest [Hz]
    fraction : b of 1/b octave
    """
    bands = fractional_octaves(low_hz, rate_hz / 2, fraction=fraction)
    narrowest = float(bands.high_hz[0] - bands.low_hz[0]) if len(bands.mid_hz) else low_hz
    spectrum = averaged_spectrum(samples, rate_hz, resolution_hz=narrowest / 8)
    step = spectrum.freqs_hz[1]
    edges = np.concatenate(([0.0], spectrum.freqs_hz + step / 2))
    below = np.concatenate(([0.0], np.cumsum(spectrum.density) * step))  # power under each edge
    power = np.interp(bands.high_hz, edges, below) - np.interp(bands.low_hz, edges, below)
    return BandLevels(bands, 10 * np.log10(np.maximum(power, 1e-30)))
