"""The whole curve: hours saved against kilograms (or money), every point proven; what to add next, what to drop first.

Kits that are good at one budget are mostly nearly right at the next: what neighbouring kits agree on is held, and the best of the rest
is found. Then one question proves several neighbouring budgets at once, the smallest first: does any kit of their size save more than
the one known? What is proven helps to look for the next ones. Where that takes longer than the effort allows, the bound is shown
beside the kit.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fieldkit.kit.program import Ints
from fieldkit.kit.relax import Relaxed, around, proved
from fieldkit.kit.search import Question, Search, sound
from fieldkit.kit.solve import lightened
from fieldkit.kit.solver import Found

Floats = NDArray[np.float64]

#: Every so many budgets a kit is looked for between those of so many neighbours on either side, first; then each other one.
STRIDE, REACH = 4, 30
#: Neighbours on either side when budgets are proven.
NEAR = 9
#: Betterings of one budget's kit, on average, after which a range is left as it is.
MOST_ROUNDS = 8


@dataclass(frozen=True)
class Effort:
    """Work spent on proving a curve.

    ``most``: the solver's own count of its work on each question, about a second a unit or two; None: until it is answered.
    ``together``: neighbouring budgets proven by one question, quick where they lie close to each other.
    """

    most: float | None = 3.0
    together: int = 6


@dataclass(frozen=True)
class Swept:
    """Budgets with a good kit each, and the relaxations there that are known."""

    kits: Mapping[int, Found]
    relaxed: Mapping[int, Relaxed]

    def only(self, budgets: Sequence[int]) -> Swept:
        """With no relaxations but those of some budgets: what proving these takes."""
        return Swept(self.kits, {b: r for b, r in self.relaxed.items() if b in set(budgets)})


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
    stride: int = STRIDE,
    reach: int = REACH,
    effort: float | None = None,
) -> Swept:
    """A good kit, with the relaxation's bound, for every budget that allows one.

    Relaxations first, and whole kits near them; then what neighbouring kits agree on is held and the best of the rest found.

    Parameters
    ----------
    stride : int
        Every so many budgets, from the largest, a kit is looked for.
    reach : int
        Neighbours on either side that it is looked for between.
    effort : float or None
        The solver's work on each look; None: until it has the best of what is left open.
    """
    part = _begun(search, row, sorted(set(budgets)), known)
    for place in _strided(len(part.budgets), stride):
        part.refine(place, reach, effort)
    return Swept(dict(zip(part.budgets, part.kits, strict=True)), part.relaxed)


def proven(
    search: Search,
    swept: Swept,
    row: int = 0,
    effort: Effort = Effort(),
    budgets: Sequence[int] | None = None,
) -> dict[int, Found]:
    """Budgets with their kits bettered until none can be, or the effort is spent.

    Parameters
    ----------
    swept : Swept
    budgets : those to prove, neighbours; None: all. Parts of a curve may be proven apart.
    """
    every = sorted(swept.kits)
    part = _Part(search, row, every, [swept.kits[b] for b in every], dict(swept.relaxed))
    wanted = range(len(every)) if budgets is None else range(every.index(min(budgets)), every.index(max(budgets)) + 1)
    seen = set(_strided(len(every), STRIDE))
    for start in range(wanted.start, wanted.stop, effort.together):
        places = range(start, min(start + effort.together, wanted.stop))
        for place in places:
            if place not in seen:
                part.refine(place, NEAR)
        part.prove(places, effort)
    return {every[place]: part.kits[place] for place in wanted}


def _strided(count: int, stride: int) -> range:
    """Every so many places, from the last."""
    return range(count - 1, -1, -stride)


def apart(search: Search, budgets: Sequence[int], row: int, known: Mapping[int, Found]) -> dict[int, Found]:
    """The best kit of each budget, proven one by one, largest first: for budgets that lie far from each other.

    Parameters
    ----------
    known : budget -> its best kit, proven already.
    """
    found = dict(known)
    for budget in sorted(set(budgets) - known.keys(), reverse=True):
        best = search.best(search.program.limited(row, budget), [f.values for f in found.values()])
        if best is not None:
            found[budget] = best
    return found


def _begun(search: Search, row: int, budgets: Sequence[int], known: Sequence[Floats]) -> _Part:
    """Relaxations, largest budget first, and the whole kits found near them; each kit serves every budget that it keeps."""
    part, offers = _Part(search, row, [], [], {}), list(known)
    kits: list[tuple[float, Found]] = []
    for budget in reversed(budgets):
        asked = part.question(budget)
        relaxed = search.relaxation.solve(asked.limits)
        if relaxed is None:
            continue
        offers += search.rounded(asked, relaxed)
        kits += [(part.used(f.values), f) for v in offers if (f := search.offered(v, asked)) is not None]
        offers = []
        fitting = [f for used, f in kits if used <= budget]
        best = max(fitting, key=lambda f: f.objective) if fitting else search.best(asked.limits)
        if best is None:
            continue
        part.budgets.insert(0, budget)
        part.kits.insert(0, replace(best, bound=max(best.objective, relaxed.bound)))
        part.relaxed[budget] = relaxed
    for kit in list(part.kits):
        part.offer(kit.values)
    return part


@dataclass
class _Part:
    """Neighbouring budgets, rising, with the best kit known for each, and the relaxations there, as far as they are known."""

    search: Search
    row: int
    budgets: list[int]
    kits: list[Found]
    relaxed: dict[int, Relaxed]

    def question(self, budget: int, effort: float | None = None) -> Question:
        return self.search.question(self.search.program.limited(self.row, budget), effort=effort)

    def used(self, values: Floats) -> float:
        """What a kit takes of the limit."""
        return float((self.search.matrix.rows[[self.row]] @ values)[0])

    def offer(self, values: Floats) -> None:
        """A kit serves every budget that it keeps."""
        limits = self.search.program.limited(self.row, self.budgets[-1])
        found = sound(self.search.matrix, self.search.valued(values), limits)
        used = self.used(values)
        for place, budget in enumerate(self.budgets):
            old = self.kits[place]
            if budget >= used and found.objective > old.objective:
                self.kits[place] = replace(found, bound=max(found.objective, old.bound))

    def _relaxed(self, place: int) -> Relaxed:
        """The relaxation at a place; where the simplex method gives none, what holds without prices."""
        budget = self.budgets[place]
        if budget not in self.relaxed:
            table, asked = self.search.matrix, self.question(budget)
            bare = np.zeros(len(table.upper_rows))
            self.relaxed[budget] = self.search.relaxation.solve(asked.limits) or proved(
                table, asked.limits, asked.lower, asked.upper, self.kits[place].values, bare
            )
        return self.relaxed[budget]

    def _bound(self, place: int) -> None:
        kit = self.kits[place]
        self.kits[place] = replace(kit, bound=max(kit.objective, min(kit.bound, self._relaxed(place).bound)))

    def _reaching(self, places: Sequence[int]) -> tuple[Floats, Floats]:
        """Bounds that every kit keeps which betters one of some budgets' kits, (columns,) each."""
        bounds = [self._relaxed(p).reaching(self.kits[p].objective + 1) for p in places]
        lower, upper = (np.array(b) for b in zip(*bounds, strict=True))
        return lower.min(axis=0), upper.max(axis=0)

    def refine(self, place: int, reach: int, effort: float | None = None) -> None:
        """Look for a better kit between the relaxation's and those of the neighbours."""
        near = range(max(0, place - reach), min(len(self.kits), place + reach + 1))
        pool = [self.kits[p].values for p in near]
        pool += around(self._relaxed(place).values)
        found = self.search.between(self.question(self.budgets[place], effort), pool, self.kits[place])
        if found.objective > self.kits[place].objective:
            self.offer(found.values)

    def prove(self, places: Sequence[int], effort: Effort) -> None:
        """Better the kits of some neighbouring budgets until none can be bettered, or the effort is spent."""
        limits = self.search.program.limits
        for place in places:
            self._bound(place)
        for _ in range(MOST_ROUNDS * len(places)):
            places = [p for p in places if self.kits[p].short > 0]
            if not places:
                return
            kits, bounds = [self.kits[p] for p in places], self._reaching(places)
            budgets = [self.budgets[p] for p in places]
            better, more = self.search.model.above(limits, self.row, budgets, kits, effort.most, *bounds)
            for place, kit in zip(places, kits, strict=True):
                self.kits[place] = replace(kit, bound=max(kit.objective, min(kit.bound, kit.objective + more)))
            if not better:
                return
            for values in better:
                self.offer(values)


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
