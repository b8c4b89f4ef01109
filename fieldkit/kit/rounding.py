"""Rows that every whole answer keeps and a relaxation does not, got from the rows of stock by mixed-integer rounding.

Three repairs take half a pack each: the relaxation does them with a pack and a half, whole packs do two repairs with one or three with two. The row
``repairs <= packs + 1`` says so. Sources: G. L. Nemhauser, L. A. Wolsey, *A recursive procedure to generate all cuts for 0-1 mixed integer programs*,
Mathematical Programming 46 (1990); H. Marchand, L. A. Wolsey, *Aggregation and mixed integer rounding to solve MIPs*, Operations Research 49 (2001),
section 3: turned variables, divisors among the open variables' own numbers. Everything here is whole numbers, so a row is exactly true.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldkit.kit.matrix import Matrix
from fieldkit.kit.program import Ints

Floats = NDArray[np.float64]

#: How far a point breaks a row, over the length of the row, for the row to be worth having.
WORTH = 1e-4
#: Values this far from a whole number are open.
OPEN = 1e-6
#: Parts of the best divisor that are tried too.
PARTS = (2, 4, 8)


@dataclass(frozen=True)
class Row:
    """``values @ x[columns] <= high`` in whole numbers; columns and values (entries,)."""

    columns: Ints
    values: Ints
    high: int


def stock_rows(table: Matrix, limits: int) -> list[Row]:
    """The rows of a matrix that rounding may tighten: all but the first ``limits`` ones with numbers other than one."""
    rows = table.rows
    large = np.diff(np.concatenate([[0], np.cumsum(np.abs(rows.data) > 1)])[rows.indptr])
    wanted = np.flatnonzero((large > 0) & np.isfinite(table.upper_rows))
    parts = [(row, slice(rows.indptr[row], rows.indptr[row + 1])) for row in wanted[wanted >= limits].tolist()]
    return [Row(rows.indices[p], rows.data[p].astype(np.int64), int(table.upper_rows[row])) for row, p in parts]


def rounded_rows(rows: Sequence[Row], values: Floats, upper: Floats) -> list[Row]:
    """Of each row at most one that a point breaks and no whole answer does.

    Parameters
    ----------
    rows : Row
    values : (columns,)
        The point.
    upper : (columns,)
        Finite whole upper bounds; lower ones are 0 or more.

    Examples
    --------
    >>> halves = Row(np.arange(4), np.array([500, 500, 500, -1000]), 0)
    >>> rounded_rows([halves], np.array([1.0, 1.0, 1.0, 1.5]), np.array([1.0, 1.0, 1.0, 9.0]))
    [Row(columns=array([0, 1, 2, 3]), values=array([ 1,  1,  1, -1]), high=1)]
    """
    open_ = (values > OPEN) & (values < upper - OPEN)
    tried = [row for row in rows if open_[row.columns].any()]
    found = [_rounded(r, values[r.columns], upper[r.columns], open_[r.columns]) for r in tried]
    return [row for row in found if row is not None]


def _rounded(row: Row, point: Floats, upper: Floats, open_: NDArray[np.bool_]) -> Row | None:
    """The best row found: turn what is nearer its upper bound, choose a divisor, then turn one more open variable at a time."""
    turned = point > upper / 2
    steps = np.unique(np.abs(row.values[open_]))
    first = _best_divided(row, point, upper, turned, steps)
    if not first:
        return None
    best = first[0]
    parts = np.array([best.step // part for part in PARTS if best.step % part == 0], np.int64)
    best = max([best, *_best_divided(row, point, upper, turned, parts)], key=lambda t: t.breaks)
    for entry in np.argsort(np.abs(point - upper / 2), kind="stable")[: np.count_nonzero(open_)].tolist():
        other = best.turned.copy()
        other[entry] = ~other[entry]
        best = max([best, *_best_divided(row, point, upper, other, np.array([best.step]))], key=lambda t: t.breaks)
    return _turned_back(row, upper, best) if best.breaks > WORTH else None


@dataclass(frozen=True)
class _Tried:
    """A rounded row in turned variables: how far the point breaks it, the divisor, what is turned, numbers and right-hand side."""

    breaks: float
    step: int
    turned: NDArray[np.bool_]
    values: Ints
    high: int


def _best_divided(row: Row, point: Floats, upper: Floats, turned: NDArray[np.bool_], steps: Ints) -> list[_Tried]:
    """The divisor whose row the point breaks most; none where no divisor leaves a rest."""
    numbers = np.where(turned, -row.values, row.values)
    high = row.high - int((row.values[turned] * upper[turned].astype(np.int64)).sum())
    steps = steps[high % steps != 0]
    if not len(steps):
        return []
    at = np.where(turned, upper - point, point)
    rest = high % steps
    whole, part = np.divmod(numbers[None, :], steps[:, None])
    values = whole * (steps - rest)[:, None] + np.maximum(0, part - rest[:, None])
    ends = high // steps * (steps - rest)
    breaks = (values @ at - ends) / np.maximum(np.sqrt((values.astype(float) ** 2).sum(axis=1)), 1e-9)
    best = int(np.argmax(breaks))
    return [_Tried(float(breaks[best]), int(steps[best]), turned, values[best], int(ends[best]))]


def _turned_back(row: Row, upper: Floats, tried: _Tried) -> Row:
    values = np.where(tried.turned, -tried.values, tried.values)
    high = tried.high - int((tried.values[tried.turned] * upper[tried.turned].astype(np.int64)).sum())
    used = values != 0
    common = max(1, int(np.gcd.reduce([*values[used].tolist(), high])))
    return Row(row.columns[used], values[used] // common, high // common)
