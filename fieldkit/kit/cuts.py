"""Cutting planes by mixed-integer rounding: rows that every whole-number answer keeps and a fractional one breaks.

A row ``sum a_j z_j <= b`` with whole 0 <= z_j <= u_j is written with variables near their upper bound turned round, divided by
some d, and rounded down: ``sum (floor(a_j/d) + max(0, f_j - f) / (1 - f)) z_j <= floor(b/d)``, f and f_j the fractional parts [1]_.

References
----------
.. [1] H. Marchand, L. A. Wolsey, Aggregation and mixed integer rounding to solve MIPs, Operations Research 49 (2001), section 3.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

#: Fractional parts of the divided right-hand side outside this range give weak or shaky cuts.
LEAST_PART, MOST_PART = 0.01, 0.99
#: A cut must be broken by this much, measured as a distance.
LEAST_DISTANCE = 1e-4
DIVIDE = (1.0, 2.0, 4.0, 8.0)
TINY = 1e-9


def rounding_cut(row: Floats, high: float, value: Floats, upper: Floats) -> tuple[Floats, float] | None:
    """The most broken rounding cut of one row, or None.

    Parameters
    ----------
    row, value, upper : array, shape (entries,)
        Coefficients, the fractional answer, and upper bounds (lower ones are 0) of the row's variables.
    high : float
        Right-hand side.

    Returns
    -------
    (array of shape (entries,), float) or None
        Coefficients and right-hand side of the cut.

    Examples
    --------
    Three packs of 5 kg each, 12 kg allowed: at most two fit.

    >>> cut, most = rounding_cut(np.array([5.0, 5.0, 5.0]), 12.0, np.array([1.0, 1.0, 0.4]), np.ones(3))
    >>> (cut / cut[0]).tolist(), float(most / cut[0])
    ([1.0, 1.0, 1.0], 2.0)
    """
    turned = (value > 0.5 * upper) & (upper < 1e8)
    a = np.where(turned, -row, row)
    b = high - float(row[turned] @ upper[turned])
    z = np.where(turned, upper - value, value)
    inside = (z > 1e-6) & (z < upper - 1e-6)
    divisors = np.unique(np.abs(a[inside]))
    if not len(divisors):
        return None
    d = (divisors[:, None] / np.array(DIVIDE)).ravel()
    part = b / d - np.floor(b / d)
    d, part = d[(part > LEAST_PART) & (part < MOST_PART)], part[(part > LEAST_PART) & (part < MOST_PART)]
    if not len(d):
        return None
    scaled = a / d[:, None]
    floor = np.floor(scaled + TINY)
    rest = scaled - floor
    cuts = floor + np.maximum(0.0, np.where(rest < TINY, 0.0, rest) - part[:, None]) / (1.0 - part[:, None])
    highs = np.floor(b / d)
    broken = (cuts @ z - highs) / np.sqrt((cuts**2).sum(axis=1) + TINY)
    best = int(np.argmax(broken))
    if broken[best] < LEAST_DISTANCE:
        return None
    cut = cuts[best]
    return np.where(turned, -cut, cut), float(highs[best] - cut[turned] @ upper[turned])
