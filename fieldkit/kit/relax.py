"""The linear relaxation of a kit program: solved hot under other limits and bounds; it prices the limits and bounds every kit.

Rounding makes it tight: of the distance to the best kit a few dozen rows take away a third to nearly all. Bounds are worked out from the dual
values alone, which hold whatever they are: the simplex method's own tolerances do not enter (A. Neumaier, O. Shcherbina, *Safe bounds in linear and
mixed-integer linear programming*, Mathematical Programming 99 (2004)).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import highspy
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array, vstack

from fieldkit.kit.matrix import Matrix, load
from fieldkit.kit.program import Ints
from fieldkit.kit.rounding import Row, rounded_rows, stock_rows

Floats = NDArray[np.float64]

#: Objectives are whole numbers; a bound this far below the next one is still below it.
SURE = 1e-3
#: Values this close to a whole number are whole.
WHOLE = 1e-6
#: Slopes smaller than this say nothing.
FLAT = 1e-6
#: Times that a relaxation is tightened by rounding, and the share of all that it took away so far below which a round is the last.
ROUNDS, LITTLE = 6, 0.02


@dataclass(frozen=True)
class Relaxed:
    """A relaxation's answer between bounds.

    ``value``: what no answer between the bounds exceeds; ``values`` (columns,); ``prices`` (limits,) what one more unit of each limit is
    worth, 0 or more; ``slopes`` (columns,): no answer exceeds ``value`` less what each column's distance from its better bound costs.
    """

    value: float
    values: Floats
    prices: Floats
    slopes: Floats
    lower: Floats
    upper: Floats

    @property
    def bound(self) -> int:
        """What no whole-number answer exceeds."""
        return int(np.floor(self.value + SURE))

    def reaching(self, objective: float) -> tuple[Floats, Floats]:
        """Bounds that hold for every answer of this objective or more, (columns,) each."""
        room = max(0.0, self.value - objective) + SURE
        with np.errstate(divide="ignore"):
            steps = np.where(np.abs(self.slopes) > FLAT, np.floor(room / np.abs(self.slopes)), np.inf)
        lower = np.where(self.slopes > 0, np.maximum(self.lower, self.upper - steps), self.lower)
        upper = np.where(self.slopes < 0, np.minimum(self.upper, self.lower + steps), self.upper)
        return lower, upper


def proved(table: Matrix, limits: Ints, lower: Floats, upper: Floats, values: Floats, duals: Floats) -> Relaxed:
    """What dual values prove by themselves, whatever they are; those that would count an absent end of a row are left out.

    Parameters
    ----------
    limits : (limits,)
        Right-hand sides of the table's first rows.
    lower, upper, values : (columns,)
    duals : (rows,)
        More objective for each more unit of a row's right-hand side; below 0 for its lower end.
    """
    highest = table.ends(limits)
    above = np.where(np.isfinite(highest), np.maximum(duals, 0.0), 0.0)
    below = np.where(np.isfinite(table.lower_rows), np.minimum(duals, 0.0), 0.0)
    slopes = table.objective - table.rows.T @ (above + below)
    value = above[above > 0] @ highest[above > 0] + below[below < 0] @ table.lower_rows[below < 0]
    value += np.where(slopes > 0, slopes * upper, slopes * lower).sum()
    return Relaxed(float(value), values, above[: len(limits)], slopes, lower, upper)


def around(values: Floats) -> list[Floats]:
    """A relaxation's column values rounded down and up."""
    return [np.floor(values + WHOLE), np.ceil(values - WHOLE)]


class Relaxation:
    """A solver that keeps its last basis.

    Parameters
    ----------
    table : Matrix
    limits : (limits,)
        Right-hand sides of the first rows, which a question may change.
    rounds : int
        Times that rounding tightens it under these limits.
    tight : Matrix or None
        The same tightened already.

    Attributes
    ----------
    tight : Matrix
        The same whole answers, with the rows that rounding finds under these limits.
    table : Matrix
        With all rows that it has found since.
    """

    def __init__(self, table: Matrix, limits: Ints, rounds: int = ROUNDS, tight: Matrix | None = None) -> None:
        self.bare, self.table, self.limits = table, tight or table, len(limits)
        self.solver = highspy.Highs()
        self.solver.setOptionValue("output_flag", False)
        self.solver.setOptionValue("presolve", "off")
        load(self.solver, self.table)
        self.lower, self.upper = table.lower.copy(), table.upper.copy()
        if rounds and tight is None:
            self.tightened(limits, rounds=rounds)
        self.tight = self.table

    @cached_property
    def stock(self) -> list[Row]:
        """The rows that rounding may tighten."""
        return stock_rows(self.bare, self.limits)

    def solve(self, limits: Ints, lower: Floats | None = None, upper: Floats | None = None) -> Relaxed | None:
        """The relaxation under these limits, between bounds within the table's own; None when there is none."""
        for row, limit in enumerate(limits.tolist()):
            self.solver.changeRowBounds(row, -np.inf, float(limit))
        self._bound(*self.table.bounds(lower, upper))
        self.solver.run()
        if self.solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        found = self.solver.getSolution()
        return proved(self.table, limits, self.lower, self.upper, np.array(found.col_value), -np.array(found.row_dual))

    def tightened(
        self, limits: Ints, lower: Floats | None = None, upper: Floats | None = None, rounds: int = ROUNDS
    ) -> Relaxed | None:
        """The same after rounding has tightened it; the rows found stay, since they hold whatever the limits."""
        relaxed = self.solve(limits, lower, upper)
        first = last = np.inf if relaxed is None else relaxed.value
        for _ in range(rounds):
            rows = [] if relaxed is None else rounded_rows(self.stock, relaxed.values, self.table.upper)
            if relaxed is None or not rows:
                break
            self._add(rows)
            relaxed = self.solve(limits, lower, upper)
            if relaxed is None or last - relaxed.value < LITTLE * (first - relaxed.value):
                break
            last = relaxed.value
        return relaxed

    def _add(self, rows: Sequence[Row]) -> None:
        starts = np.concatenate([[0], np.cumsum([len(row.columns) for row in rows])])
        columns = np.concatenate([row.columns for row in rows])
        values = np.concatenate([row.values for row in rows]).astype(float)
        high = np.array([row.high for row in rows], float)
        low, table = np.full(len(rows), -np.inf), self.table
        self.solver.addRows(
            len(rows), low, high, len(columns), starts[:-1].astype(np.int32), columns.astype(np.int32), values
        )
        more = csr_array((values, columns, starts), shape=(len(rows), len(table.objective)))
        self.table = replace(
            table,
            rows=csr_array(vstack([table.rows, more], format="csr")),
            lower_rows=np.concatenate([table.lower_rows, low]),
            upper_rows=np.concatenate([table.upper_rows, high]),
        )

    def _bound(self, lower: Floats, upper: Floats) -> None:
        changed = np.flatnonzero((lower != self.lower) | (upper != self.upper))
        if len(changed):
            self.solver.changeColsBounds(len(changed), changed.astype(np.int32), lower[changed], upper[changed])
            self.lower, self.upper = lower, upper
