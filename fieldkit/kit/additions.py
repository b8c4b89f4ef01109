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
#: A relaxation's gain that says something [h].
RELAXED = 0.001


@dataclass(frozen=True)
class Additions:
    """Questions about one kit.

    ``limits``: (resources,) of the program; ``prices``: what a unit of each limit is worth; ``quick``: refills and relaxations only, no search.
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

    def left_out(self, most: int) -> list[tuple[int, float]]:
        """Items that would add most and what each would add [h], most first.

        Twice as many as ``most`` are looked at, those whose relaxation gains most; in a quick plan what the relaxation gains is told. An item of
        several vehicles' stands here for each of them.
        """
        gains = {i: self._gain(i) for i in self.candidates()}
        if self.quick:
            found = [(i, gain) for i, gain in gains.items() if gain > RELAXED]
        else:
            found = [(i, self.would_add(i)) for i in sorted(gains, key=lambda i: (-gains[i], i))[: 2 * most]]
        return sorted(((i, hours) for i, hours in found if hours > 0), key=lambda x: (-x[1], x[0]))

    def would_add(self, item: int) -> float:
        """Hours that one more pack of a candidate would save if it came along besides, at nought kilograms and money [h].

        The rest of the kit is chosen anew beside it, within the limits that are left.
        """
        with_it = self.found.values.copy()
        with_it[item] += 1
        near = self.search.near(self.limits + self._gift(item), [with_it], lower=self._one_more(item), effort=LOOK)
        return 0.0 if near is None else max(0.0, (near.objective - self.found.objective) / 1000.0)

    def _gain(self, item: int) -> float:
        """What one more pack besides gains the relaxation [h]."""
        relaxed = self.search.relaxation.solve(self.limits + self._gift(item), self._one_more(item))
        return -np.inf if relaxed is None else (relaxed.value - self._relaxed) / 1000.0

    @cached_property
    def _relaxed(self) -> float:
        """What the relaxation promises as it is [0.001 h]."""
        relaxed = self.search.relaxation.solve(self.limits)
        return self.found.objective if relaxed is None else relaxed.value

    def _one_more(self, item: int) -> Floats:
        lower = self.search.matrix.lower.copy()
        lower[item] = self.packs[item] + 1
        return lower

    def _gift(self, item: int) -> Ints:
        """What one more pack takes of each limit, (resources,)."""
        program = self.search.program
        gift = program.weights[:, item].copy()
        if program.money >= 0 and self.packs[item] < program.owned[item]:
            gift[program.money] = 0
        return gift

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
