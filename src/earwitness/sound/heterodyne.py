"""A wide-band recording brought into hearing, as a receiver's oscillator does: f → |f − f_LO|, both sides folded.

Amplitude modulation of a noise-like carrier survives; two tones on either side of the oscillator fold to a beat that
neither has; a tone on the oscillator itself is silent.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import fft

from earwitness.errors import InputError
from earwitness.sound.spectrum import averaged_spectrum, noise_floor

Samples = NDArray[np.float32]
_EDGE = 0.05  # share of the pass band over which it fades


def fold(
    samples: Samples, rate_hz: float, oscillator_hz: float, *, low_pass_hz: float = 4000.0, out_hz: float = 16_000.0
) -> Samples:
    """What a receiver with its oscillator at `oscillator_hz` would let one hear of a wide-band recording.

    Exact in the frequency domain: the bins of oscillator ± low_pass, the lower side turned over onto the upper.

    Parameters
    ----------
    samples : (n,) float32, full scale 1 [-]
    rate_hz : samples a second [Hz]
    oscillator_hz : below rate_hz/2 [Hz]
    low_pass_hz : how far from the oscillator one hears, below out_hz/2 [Hz]
    out_hz : rate of the result [Hz]
    """
    if not 0 < oscillator_hz < rate_hz / 2:
        raise InputError("oscillator_hz", oscillator_hz, f"between 0 and {rate_hz / 2:.0f} Hz")
    if not 0 < low_pass_hz <= out_hz / 2:
        raise InputError("low_pass_hz", low_pass_hz, f"above 0 and at most {out_hz / 2:.0f} Hz")
    count, out = len(samples), round(len(samples) * out_hz / rate_hz)
    if out < 2:
        return np.zeros(out, np.float32)
    spectrum = fft.rfft(np.asarray(samples, np.float32))
    bin_hz = rate_hz / count
    centre = round(oscillator_hz / bin_hz)
    top = min(out // 2, int(low_pass_hz / bin_hz))
    k = np.arange(1, top + 1)
    folded = np.zeros(out // 2 + 1, np.complex64)
    above, below = centre + k, centre - k
    inside = above < len(spectrum)
    folded[k[inside]] += spectrum[above[inside]]
    inside = below >= 0
    folded[k[inside]] += np.conj(spectrum[below[inside]])
    fade = np.clip((low_pass_hz - k * bin_hz) / (_EDGE * low_pass_hz), 0, 1).astype(np.float32)
    folded[1 : top + 1] *= fade
    return fft.irfft(folded, out).astype(np.float32) * np.float32(out / count)


def busiest_centre(samples: Samples, rate_hz: float, *, low_hz: float = 20_000.0, width_hz: float = 8000.0) -> float:
    """Where to set the oscillator to hear most: the frequency [Hz] round which the noise beneath all lines is
    strongest.

    Parameters
    ----------
    samples : (n,) float32, full scale 1 [-]
    rate_hz : samples a second [Hz]
    low_hz : below this nothing is looked at; rate_hz/4 where the recording does not reach well beyond it [Hz]
    width_hz : width of the band that will be heard [Hz]
    """
    spectrum = averaged_spectrum(samples, rate_hz, resolution_hz=width_hz / 40)
    low = low_hz if rate_hz / 2 > low_hz + width_hz else rate_hz / 4
    floor = noise_floor(spectrum.density, width=max(3, round(width_hz / float(spectrum.freqs_hz[1]))))
    floor[(spectrum.freqs_hz < low) | (spectrum.freqs_hz > 0.98 * rate_hz / 2)] = -1.0
    return float(spectrum.freqs_hz[int(np.argmax(floor))])
