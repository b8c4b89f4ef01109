"""The whole curve: hours saved against kilograms (or money), every point proven; what to add next, what to drop first.

Kits that are good at one budget are mostly nearly right at the next: what neighbouring kits agree on is held, and the best of the rest
is found. Then one question proves several neighbouring budgets at once: does any kit of their size save more than the one known?
Where that takes longer than the effort allows, the bound is shown beside the kit.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fieldkit.kit.program import Ints
from fieldkit.kit.relax import Relaxed, around
from fieldkit.kit.search import Search
from fieldkit.kit.solve import lightened
from fieldkit.kit.solver import Found

Floats = NDArray[np.float64]

#: Every fourth budget's kit is looked for between those of many neighbours on either side, then each other one between those.
LOOKS = ((4, 30), (1, 9))
#: Neighbours of a bettered budget that are looked at again.
TOUCHED = 2
#: Betterings of one budget's kit, on average, after which a range is left as it is.
MOST_ROUNDS = 8


@dataclass(frozen=True)
class Effort:
    """Work spent on proving a curve.

    ``most``: the solver's own count of its work on each question, about a second a unit or two; None: until it is answered.
    ``together``: neighbouring budgets proven by one question, quick where they lie close to each other. ``within`` [0.001 h]: what a kit may save
    more than the one shown without being looked for.
    """

    most: float | None = 3.0
    together: int = 6
    within: int = 0


@dataclass(frozen=True)
class Point:
    """A budget [whole units of one limit]: objective and bound [0.001 h], packs (items,), what the kit uses of the limit, its columns."""

    budget: int
    objective: int
    bound: int
    packs: Ints
    used: int
    values: Floats


def trace(
    search: Search, budgets: Sequence[int], row: int = 0, known: Sequence[Floats] = (), effort: Effort = Effort()
) -> list[Point]:
    """The best kit at every budget of one limit, smallest first.

    Parameters
    ----------
    search : Search
    budgets : whole numbers; those too small for what must be carried are left out.
    row : int
        Index of the limit that changes.
    known : column values of kits to start from.
    effort : Effort
    """
    return settled(search, row, proven(search, swept(search, budgets, row, known), row, effort))


def swept(
    search: Search,
    budgets: Sequence[int],
    row: int = 0,
    known: Sequence[Floats] = (),
    looks: Sequence[tuple[int, int]] = LOOKS,
    effort: float | None = None,
) -> dict[int, Found]:
    """A good kit, with the relaxation's bound, for every budget that allows one.

    Relaxations first, and whole kits near them; then what neighbouring kits agree on is held and the best of the rest found.

    Parameters
    ----------
    looks : (every so many budgets, neighbours on either side) for each time that kits are looked for.
    effort : float or None
        The solver's work on each look; None: until it has the best of what is left open.
    """
    part = _begun(search, row, sorted(set(budgets)), known)
    for stride, reach in looks:
        every = not part.looked
        for place in range(len(part.budgets) - 1, -1, -stride):
            if place not in part.looked:
                part.refine(place, reach, effort, every)
    return part.answers()


def proven(search: Search, answers: Mapping[int, Found], row: int = 0, effort: Effort = Effort()) -> dict[int, Found]:
    """The same budgets with their kits bettered until none can be, or the effort is spent; parts of a curve may be proven apart."""
    budgets = sorted(answers)
    part = _Part(search, row, budgets, [answers[b] for b in budgets], {}, set(range(len(budgets))))
    for end in range(len(budgets), 0, -effort.together):
        part.prove(range(max(0, end - effort.together), end), effort)
    return part.answers()


def apart(search: Search, budgets: Sequence[int], row: int, known: Mapping[int, Found]) -> dict[int, Found]:
    """The best kit of each budget, proven one by one, largest first: for budgets that lie far from each other.

    Parameters
    ----------
    known : budget -> its best kit, proven already.
    """
    found = dict(known)
    for budget in sorted(set(budgets) - known.keys(), reverse=True):
        limits = search.program.limits.copy()
        limits[row] = budget
        best = search.best(limits, [f.values for f in found.values()])
        if best is not None:
            found[budget] = best
    return found


def _begun(search: Search, row: int, budgets: Sequence[int], known: Sequence[Floats]) -> _Part:
    """Relaxations, largest budget first, and the whole kits found near them; each kit serves every budget that it keeps."""
    part, offers = _Part(search, row, [], [], {}, set()), list(known)
    for budget in reversed(budgets):
        limits = part.limits(budget)
        relaxed = search.relaxation.solve(limits)
        rounded = [] if relaxed is None else search.rounded(relaxed, limits)
        found = [f for v in (*offers, *rounded) if (f := search.offered(v, limits)) is not None]
        best = max(found, key=lambda f: f.objective) if found else search.best(limits)
        if best is None or relaxed is None:
            continue
        offers += rounded
        part.budgets.insert(0, budget)
        part.kits.insert(0, replace(best, bound=max(best.objective, relaxed.bound)))
        part.relaxed[budget] = relaxed
    for kit in list(part.kits):
        part.offer(kit.values)
    return part


@dataclass
class _Part:
    """Neighbouring budgets, rising, with the best kit known for each, the relaxations there, as far as they are known, and the places that
    a better kit was looked for at.
    """

    search: Search
    row: int
    budgets: list[int]
    kits: list[Found]
    relaxed: dict[int, Relaxed]
    looked: set[int]

    def answers(self) -> dict[int, Found]:
        return dict(zip(self.budgets, self.kits, strict=True))

    def limits(self, budget: int) -> Ints:
        limits = self.search.program.limits.copy()
        limits[self.row] = budget
        return limits

    def offer(self, values: Floats) -> None:
        """A kit serves every budget that it keeps."""
        self.search.check(values, self.limits(self.budgets[-1]))
        used = float((self.search.matrix.rows[[self.row]] @ values)[0])
        objective = round(float(self.search.matrix.objective @ values))
        for place, budget in enumerate(self.budgets):
            old = self.kits[place]
            if budget >= used and objective > old.objective:
                self.kits[place] = Found(values, objective, max(objective, old.bound))

    def _relaxed(self, budget: int) -> Relaxed | None:
        if budget not in self.relaxed:
            found = self.search.relaxation.solve(self.limits(budget))
            if found is None:
                return None
            self.relaxed[budget] = found
        return self.relaxed[budget]

    def _bound(self, place: int) -> None:
        kit, relaxed = self.kits[place], self._relaxed(self.budgets[place])
        if relaxed is not None:
            self.kits[place] = replace(kit, bound=max(kit.objective, min(kit.bound, relaxed.bound)))

    def _reaching(self, places: Sequence[int], within: int) -> tuple[Floats, Floats]:
        """Bounds that every kit keeps which betters one of some budgets' kits by more than ``within``, (columns,) each."""
        table = self.search.matrix
        found = [(self._relaxed(self.budgets[p]), self.kits[p].objective + within + 1) for p in places]
        bounds = [(table.lower, table.upper) if r is None else r.reaching(goal) for r, goal in found]
        lower, upper = (np.array(b) for b in zip(*bounds, strict=True))
        return lower.min(axis=0), upper.max(axis=0)

    def refine(self, place: int, reach: int, effort: float | None = None, every: bool = False) -> None:
        """Look for a better kit between the relaxation's and those of the neighbours looked at, or of every neighbour."""
        near = range(max(0, place - reach), min(len(self.kits), place + reach + 1))
        pool = [self.kits[p].values for p in near if every or p in self.looked]
        relaxed = self._relaxed(self.budgets[place])
        pool += [] if relaxed is None else around(relaxed.values)
        found = self.search.between(pool, self.kits[place], self.limits(self.budgets[place]), effort=effort)
        self.looked.add(place)
        if found.objective > self.kits[place].objective:
            self.offer(found.values)

    def prove(self, places: Sequence[int], effort: Effort) -> None:
        """Better the kits of some neighbouring budgets until none can be bettered, or the effort is spent."""
        limits = self.search.program.limits
        for place in places:
            self._bound(place)
        for _ in range(MOST_ROUNDS * len(places)):
            places = [p for p in places if self.kits[p].short > effort.within]
            if not places:
                return
            kits, bounds = [self.kits[p] for p in places], self._reaching(places, effort.within)
            budgets = [self.budgets[p] for p in places]
            better, more = self.search.model.above(limits, self.row, budgets, kits, effort.most, effort.within, *bounds)
            for place, kit in zip(places, kits, strict=True):
                self.kits[place] = replace(kit, bound=max(kit.objective, min(kit.bound, kit.objective + more)))
            if not better:
                return
            for values in better:
                self.offer(values)
            bettered = [p for p, kit in zip(places, kits, strict=True) if self.kits[p].objective > kit.objective]
            for place in places:
                if self.kits[place].short > effort.within and min(abs(place - p) for p in bettered) <= TOUCHED:
                    self.refine(place, LOOKS[-1][1])


def settled(search: Search, row: int, answers: Mapping[int, Found]) -> list[Point]:
    """Points whose kits serve larger budgets and whose bounds hold for smaller ones."""
    points: list[Point] = []
    best: Found | None = None
    for budget in sorted(answers):
        if best is None or answers[budget].objective > best.objective:
            best = lightened(search, answers[budget])
        used = int(np.rint(search.matrix.rows[[row]] @ best.values)[0])
        points.append(Point(budget, best.objective, answers[budget].bound, search.packs(best), used, best.values))
    bound = None
    for n in range(len(points) - 1, -1, -1):
        bound = points[n].bound if bound is None else min(bound, points[n].bound)
        points[n] = replace(points[n], bound=max(bound, points[n].objective))
    return points


def steps(points: Sequence[Point], least: int) -> list[tuple[Point, Ints, Ints]]:
    """Points where the objective has risen by ``least`` or more since the last one listed, with packs that enter and leave."""
    found, last = [], points[0]
    for point in points[1:]:
        if point.objective - last.objective >= least:
            change = point.packs - last.packs
            found.append((point, np.maximum(change, 0), np.maximum(-change, 0)))
            last = point
    return found


def at_budget(points: Sequence[Point], budget: int) -> Point | None:
    """The point of the largest budget that is not above this one."""
    below = [p for p in points if p.budget <= budget]
    return below[-1] if below else None
