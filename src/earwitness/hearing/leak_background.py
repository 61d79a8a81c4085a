"""How far a leak's hiss stands over its background, by the displayed levels, by a recording of the background, or both.

What beeps, puffs or passes by lifts the display as a leak does and leaves the hiss between as it was. So of a level
only that part counts which never falls silent, or, where the probe passed a source, which was heard there.
"""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from earwitness.hearing.heard import Heard
from earwitness.hearing.hiss_heard import HissHeard
from earwitness.sound.hiss import HOP_S, Hiss, ShortTimeBands, _settled_db, short_time_bands, steady_hiss
from earwitness.sound.pulsing import running_mean
from earwitness.sound.spectrum import averaged_spectrum

Array = NDArray[np.float64]

PLACE_DB = 4.0  # a rise of the hiss by this much is a place
MOMENT_S = 0.2
_FLUTTER_DB = 1.3  # hiss itself does not flutter; what knocks beneath it makes it seem to by up to 0.8 dB
_MAY_BE_CENTRED_HZ = (25_000.0, 30_000.0, 35_000.0, 40_000.0)  # a receiver that is not known (common practice)
_DISPLAYED_HZ = 5_000.0  # to either side of its centre
_RESONANCE_DB = 1.0  # what a sensor's resonance, steeper than the bands, hides of the hiss


def _over_background(heard: Heard, sound: HissHeard, measured: Mapping[str, float]) -> float | None:
    """The hiss over the background: of what never falls silent, or, where the probe passed a source, at its loudest.

    Whether a display shows the mean or the most, it cannot have shown more of a hiss than its part of the loudest half
    seconds."""
    hiss, background = sound.hiss, _background(heard)
    # the hiss's part of the level, against the hiss's part of the background where that was recorded
    before = background.share_db if background is not None else 0.0
    over = measured.get("level-over-background")
    widths = np.where(hiss.bands, np.diff(sound.bands.edges_hz), 0.0)
    steady_db = np.minimum(hiss.floor_db, hiss.typical_db) + _settled_db(sound.bands.hiss @ widths, hiss.bursts)
    ways = [_by_both(over, _steady_share_db(heard, sound, steady_db) - before, steady_db, hiss, heard, background)]
    if over is None or measured["swept-rise"] >= PLACE_DB:
        share = _displayed_share_db(heard, hiss.spectrum_db, hiss.share_db, sound.bands) - before
        loudest = _by_both(over, share, hiss.spectrum_db, hiss, heard, background)
        ways.append(loudest if loudest is None or loudest < 0 else loudest * _calm(hiss))
    return max((way for way in ways if way is not None), default=None)


def _by_both(
    over: float | None, share_db: float, spectrum_db: Array, hiss: Hiss, heard: Heard, background: Hiss | None
) -> float | None:
    """The lesser of what the levels and a recording of the background say, as far as there are any."""
    ways = [] if over is None else [min(over, over + share_db)]
    if background is not None and "level" not in heard.spoiled:
        both = hiss.bands | background.bands
        ways.append(float(np.quantile((spectrum_db - background.typical_db)[both], 0.75)))
    return min(ways, default=None)


def _steady_share_db(heard: Heard, sound: HissHeard, steady_db: Array) -> float:
    """Steady hiss in what is heard in the loudest half seconds."""
    widths = np.where(sound.hiss.bands, np.diff(sound.bands.edges_hz), 0.0)
    power = sound.bands.power @ widths
    loud = float(np.quantile(running_mean(power, round(0.5 / HOP_S)), 0.9))
    mean = float(power.mean()) + 1e-30
    share = 10 * math.log10(float(10 ** (steady_db / 10) @ widths) / mean + 1e-12)
    steady = _displayed_share_db(heard, steady_db, share, sound.bands) - 10 * math.log10(max(1.0, loud / mean))
    return min(steady, _quietest_db(heard)) if heard.signal == "heterodyned" else steady


def _quietest_db(heard: Heard) -> float:
    """All that is heard in the quietest tenth of the time over that in the loudest, what folded to low pitches too."""
    size = round(MOMENT_S * heard.rate_hz)
    whole = len(heard.samples) // size * size
    power = np.square(heard.samples[:whole], dtype=np.float64).reshape(-1, size).mean(axis=1)
    quiet, loud = np.quantile(power[power > 0], [0.1, 0.9]) if power.any() else (1.0, 1.0)  # silence is a gap
    return 10 * math.log10(float(quiet / loud) + 1e-12)


def _displayed_share_db(heard: Heard, spectrum_db: Array, share_db: float, bands: ShortTimeBands) -> float:
    """Hiss of such a spectrum in what the receiver's display counts: in folded audio all that is heard, `share_db`; of
    a wide-band recording the receiver's own band, and where that is not known the one that holds the least of it."""
    if heard.signal == "heterodyned":
        return share_db
    spectrum = averaged_spectrum(heard.samples, heard.rate_hz, resolution_hz=100.0)
    middles = (bands.edges_hz[1:] + bands.edges_hz[:-1]) / 2
    own = 10 ** (np.interp(spectrum.freqs_hz, middles, spectrum_db) / 10)
    least = share_db
    for centre in _MAY_BE_CENTRED_HZ if heard.centre_hz is None else (heard.centre_hz,):
        counted = np.abs(spectrum.freqs_hz - centre) <= _DISPLAYED_HZ
        if counted.any():
            all_in_it = max(float(spectrum.density[counted].sum()), 1e-30)
            share = 10 * math.log10(float(own[counted].sum()) / all_in_it + 1e-12)
            least = min(least, share + _RESONANCE_DB)
    return least


def _background(heard: Heard) -> Hiss | None:
    samples = heard.background
    if samples is None or len(samples) < 0.5 * heard.rate_hz or not np.any(samples):
        return None
    return steady_hiss(short_time_bands(samples, heard.rate_hz, **_range(heard)))


def _range(heard: Heard) -> dict[str, float]:
    """Where a leak is listened for: all of the folded audio; of a direct recording its ultrasound, if it has any."""
    top = 0.45 * heard.rate_hz
    if heard.signal == "heterodyned":
        return {"low_hz": 300.0, "high_hz": min(top, 20_000.0)}
    return {"low_hz": 20_000.0 if top > 25_000 else 0.4 * top, "high_hz": min(top, 100_000.0)}


def _calm(hiss: Hiss) -> float:
    """1 for hiss that is steady within half a second, 0 for what flutters in all bands together: speech, flames."""
    return min(1.0, max(0.0, (_FLUTTER_DB - hiss.unsteady_db) / 0.5))
