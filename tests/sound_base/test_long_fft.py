"""Transforms in two steps against SciPy's in one."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import fft

from earwitness.sound import long_fft


@pytest.mark.parametrize("count", [480_000, 440_832, 65_536, 65_544, 99_999, 4_800])
def test_a_long_recording_has_the_same_bins(count):
    samples = np.random.default_rng(count).standard_normal(count).astype(np.float32)
    expected = fft.rfft(samples.astype(np.float64))
    got = long_fft.rfft(samples)
    assert got.dtype == np.complex64 and got.shape == expected.shape
    assert np.abs(got - expected).max() < 2e-6 * np.abs(expected).max()


@pytest.mark.parametrize(("rows", "count"), [(1, 240_000), (2, 119_904), (3, 80_000), (3, 70_001), (12, 20_000)])
def test_bands_are_turned_back_the_same(rows, count):
    rng = np.random.default_rng(count)
    bins = (rng.standard_normal((rows, count)) + 1j * rng.standard_normal((rows, count))).astype(np.complex64)
    expected = fft.ifft(bins.astype(np.complex128), norm="forward")
    got = long_fft.ifft(bins)
    assert got.dtype == np.complex64
    assert np.abs(got - expected).max() < 2e-6 * np.abs(expected).max()
