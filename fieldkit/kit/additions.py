"""What single items add: with it minus the best plan without it; what those left out would add; items that only work together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fieldkit.kit.program import Ints
from fieldkit.kit.search import Search
from fieldkit.kit.solver import Found

Floats = NDArray[np.float64]

#: The solver's work on the best plan without an item.
LOOK = 0.02
#: A group is shown where the items' own hours add up to this much more or less than the group's.
APART = 0.2
MOST_GROUPS, MOST_TRIED = 8, 12


@dataclass(frozen=True)
class Additions:
    """Questions about one kit.

    ``limits``: (resources,) of the program; ``prices``: what a unit of each limit is worth; ``quick``: refill only, no search.
    """

    search: Search
    found: Found
    limits: Ints
    prices: Floats
    quick: bool

    @cached_property
    def packs(self) -> Ints:
        return self.search.packs(self.found)

    def adds(self, item: int) -> float:
        """Hours saved with an item minus the best plan found without it, the room it leaves used otherwise [h]."""
        return self.adds_together([item])

    def adds_together(self, items: Sequence[int]) -> float:
        """The same for several items at once [h]."""
        most = self.search.program.most.copy()
        most[list(items)] = self.search.program.least[list(items)]
        refilled = self.search.filler.filled(self.packs, self.limits, self.prices, most)
        best = -1 if refilled is None else round(float(self.search.matrix.objective @ refilled))
        if not self.quick:
            upper = self.search.matrix.upper.copy()
            upper[: len(most)] = most
            known = [] if refilled is None else [refilled]
            near = self.search.near(self.limits, known, upper=upper, effort=LOOK)
            best = max(best, -1 if near is None else near.objective)
        return max(0.0, (self.found.objective - best) / 1000.0)

    def would_add(self, item: int) -> float:
        """Hours that one more pack of an item would save if it came along besides, at nought kilograms and money [h].

        What it needs beside it is bought within the limits that are left (in a quick plan: it is not bought).
        """
        program = self.search.program
        if self.packs[item] >= program.most[item]:
            return 0.0
        packs = self.packs.copy()
        packs[item] += 1
        if self.quick:
            return max(0.0, (self.search.filler.value(packs) - self.search.filler.value(self.packs)) / 1000.0)
        gift = program.weights[:, item].copy()
        if program.money >= 0 and packs[item] <= program.owned[item]:
            gift[program.money] = 0
        with_it = self.search.filler.filled(packs, self.limits + gift, self.prices)
        if with_it is None:
            return 0.0
        return max(0.0, (float(self.search.matrix.objective @ with_it) - self.found.objective) / 1000.0)

    def candidates(self) -> list[int]:
        """Items that some repair takes and of which one more pack may be carried."""
        program = self.search.program
        used = {i for tools, stock in self.search.reduced.needs for i, _ in (*tools, *stock)}
        return [i for i in sorted(used) if self.packs[i] < program.most[i]]

    def groups(self, adds: dict[int, float], planned: Sequence[frozenset[int]]) -> list[tuple[tuple[int, ...], float]]:
        """Sets of items of one planned repair whose hours do not add up from their own, most hours first.

        Parameters
        ----------
        adds : item -> hours it adds.
        planned : per planned repair the chosen items that it takes.
        """
        sets = sorted({s for s in planned if len(s) > 1}, key=lambda s: (-sum(adds.get(i, 0.0) for i in s), sorted(s)))
        found = []
        for members in sets[:MOST_TRIED]:
            single, together = sum(adds.get(i, 0.0) for i in members), self.adds_together(sorted(members))
            if abs(single - together) > APART * max(together, 0.1):
                found.append((tuple(sorted(members)), together))
        return sorted(found, key=lambda g: (-g[1], g[0]))[:MOST_GROUPS]
