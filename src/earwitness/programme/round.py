"""A short walk: the order in which to visit points whose positions on a plan are known."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]


def short_walk(x_m: FloatArray, y_m: FloatArray, *, start: int = 0) -> list[int]:
    """Order of points for a short open walk from `start`: nearest neighbour, then 2-opt until nothing shortens it.

    Parameters
    ----------
    x_m : FloatArray, (n,) positions [m]
    y_m : FloatArray, (n,) positions [m]
    start : index of the first point

    References: Croes (1958), Operations Research 6, 791 (2-opt).
    """
    where = np.column_stack([np.asarray(x_m, dtype=float), np.asarray(y_m, dtype=float)])
    count = len(where)
    if count < 3:
        return list(range(count)) if start == 0 else [start, *(i for i in range(count) if i != start)]
    apart = np.hypot(*(where[:, None, :] - where[None, :, :]).transpose(2, 0, 1))
    order, left = [start], set(range(count)) - {start}
    while left:
        nearest = min(left, key=lambda j: (apart[order[-1], j], j))
        order.append(nearest)
        left.remove(nearest)
    tour = np.array(order)
    improved = True
    while improved:
        improved = False
        for i in range(1, count - 1):
            j = np.arange(i + 1, count)
            after = np.append(tour[i + 2 :], -1)  # the point after tour[j]; none after the last
            leaving = np.where(after >= 0, apart[tour[j], after], 0.0)
            joining = np.where(after >= 0, apart[tour[i], after], 0.0)
            gain = apart[tour[i - 1], tour[i]] + leaving - apart[tour[i - 1], tour[j]] - joining
            best = int(np.argmax(gain))
            if gain[best] > 1e-12:
                tour[i : j[best] + 1] = tour[i : j[best] + 1][::-1].copy()
                improved = True
    return [int(i) for i in tour]
