"""The linear relaxation of a kit program: solved hot under other limits and bounds; it prices the limits and bounds every kit."""

from __future__ import annotations

from dataclasses import dataclass

import highspy
import numpy as np
from numpy.typing import NDArray

from fieldkit.kit.matrix import Matrix, load

Floats = NDArray[np.float64]

#: Objectives are whole numbers; a bound this far below the next one is still below it.
SURE = 1e-3
#: Values this close to a whole number are whole.
WHOLE = 1e-6


@dataclass(frozen=True)
class Relaxed:
    """Value of the relaxation, column values (columns,), and what one more unit of each limit is worth (limits,), 0 or more."""

    value: float
    values: Floats
    prices: Floats

    @property
    def bound(self) -> int:
        """What no whole-number answer exceeds."""
        return int(np.floor(self.value + SURE))


def around(values: Floats) -> list[Floats]:
    """A relaxation's column values rounded down and up."""
    return [np.floor(values + WHOLE), np.ceil(values - WHOLE)]


class Relaxation:
    """A solver that keeps its last basis.

    Parameters
    ----------
    table : Matrix
    limits : int
        How many of the first rows are limits that a question may change.
    """

    def __init__(self, table: Matrix, limits: int) -> None:
        self.table, self.limits = table, limits
        self.solver = highspy.Highs()
        self.solver.setOptionValue("output_flag", False)
        self.solver.setOptionValue("presolve", "off")
        load(self.solver, table)
        self.lower, self.upper = table.lower.copy(), table.upper.copy()

    def solve(self, limits: Floats, lower: Floats | None = None, upper: Floats | None = None) -> Relaxed | None:
        """The relaxation under these limits, between bounds within the table's own; None when there is none."""
        for row, limit in enumerate(np.asarray(limits, float).tolist()):
            self.solver.changeRowBounds(row, -np.inf, limit)
        self._bound(*self.table.bounds(lower, upper))
        self.solver.run()
        if self.solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        found = self.solver.getSolution()
        value = -self.solver.getInfo().objective_function_value
        prices = np.maximum(0.0, -np.array(found.row_dual[: self.limits]))
        return Relaxed(value, np.array(found.col_value), prices)

    def _bound(self, lower: Floats, upper: Floats) -> None:
        changed = np.flatnonzero((lower != self.lower) | (upper != self.upper))
        if len(changed):
            self.solver.changeColsBounds(len(changed), changed.astype(np.int32), lower[changed], upper[changed])
            self.lower, self.upper = lower, upper
