"""The whole curve: hours saved against kilograms (or money), every point proven; what to add next and what to drop first.

Neighbours bound each other. A kit that weighs less than its budget is the best of every budget down to its own weight;
two budgets with equal bests settle all between them; a smaller budget's kit is a start for a larger one's search, and a
larger one's best is a bound for it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from fieldkit.kit.program import Ints
from fieldkit.kit.search import Found, Search
from fieldkit.kit.solve import lightened


@dataclass(frozen=True)
class Point:
    """A budget [whole units of one limit] with the proven best: objective and bound [0.001 h], and packs (items,)."""

    budget: int
    objective: int
    bound: int
    packs: Ints
    used: int


@dataclass
class Tracer:
    """Bests under changing budgets of one limit; every answer helps the next.

    Parameters
    ----------
    search : Search
    row : int
        Index of the limit that changes.
    """

    search: Search
    row: int = 0
    answers: dict[int, tuple[Found, int]] = field(default_factory=dict)
    solves: int = 0

    def trace(self, budgets: Sequence[int]) -> list[Point]:
        """Points at every budget, in the order given; budgets in whole units, any order."""
        wanted = sorted(set(budgets))
        if wanted:
            self._between(wanted)
        return [self.point(b) for b in budgets]

    def _between(self, wanted: list[int]) -> None:
        """Largest first, then smallest, then the middle of every gap whose ends differ."""
        self.best(wanted[-1])
        self.best(wanted[0])
        gaps = [(0, len(wanted) - 1)]
        while gaps:
            low, high = gaps.pop()
            if high - low < 2 or self.settled(wanted[low], wanted[high]):
                continue
            middle = (low + high) // 2
            self.best(wanted[middle])
            gaps += [(low, middle), (middle, high)]

    def settled(self, low: int, high: int) -> bool:
        """Whether the bests of two budgets are equal."""
        return self.best(low)[0].objective == self.best(high)[0].objective

    def point(self, budget: int) -> Point:
        """The proven best at a budget."""
        found, used = self.best(budget)
        return Point(budget, found.objective, found.bound, self.search.packs(found), used)

    def best(self, budget: int) -> tuple[Found, int]:
        """The best answer at a budget and what it takes of the limit, from what is known or by a search."""
        ready = self._known(budget)
        if ready is None:
            ready = self._searched(budget)
            self.answers[budget] = ready
        return ready

    def _known(self, budget: int) -> tuple[Found, int] | None:
        """An answer of a larger budget that fits, or equals a smaller one's."""
        if budget in self.answers:
            return self.answers[budget]
        above = [b for b in self.answers if b > budget]
        if not above:
            return None
        found, used = self.answers[min(above)]
        if used <= budget:
            return found, used
        below = [b for b in self.answers if b < budget]
        if below and self.answers[max(below)][0].objective >= found.bound:
            return self.answers[max(below)]
        return None

    def _searched(self, budget: int) -> tuple[Found, int]:
        limits = self.search.program.limits.copy()
        limits[self.row] = budget
        known = self._start(limits)
        best = self.search.best(limits=limits, known=known, hunt=known is None)
        self.solves += 1
        if best is None:
            raise ValueError(f"no kit within {budget}")
        light = lightened(self.search, best)
        return light, self._used(light)

    def _start(self, limits: Ints) -> np.ndarray | None:
        below = [b for b in self.answers if b < limits[self.row]]
        return self.answers[max(below)][0].values if below else None

    def _used(self, found: Found) -> int:
        return int(np.rint(self.search.matrix.rows[[self.row]] @ found.values)[0])


def steps(points: Sequence[Point], least: int) -> list[tuple[Point, Ints, Ints]]:
    """Points where the objective rises by ``least`` or more since the last one listed, with packs that enter and leave."""
    found, last = [], points[0]
    for point in points[1:]:
        if point.objective - last.objective >= least:
            change = point.packs - last.packs
            found.append((point, np.maximum(change, 0), np.maximum(-change, 0)))
            last = point
    return found
