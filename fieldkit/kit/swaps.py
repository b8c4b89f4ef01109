"""Other budgets told as changes: what another 5 kg buys, what to drop to save 5 kg, and the kit built up by adding alone."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np

from fieldkit.kit.curve import Point, at_budget
from fieldkit.kit.program import Ints
from fieldkit.kit.result import AddStep, Swap
from fieldkit.kit.search import Search

#: Kilograms and money in the program's whole units.
GRAMS, HUNDREDTHS = 1000, 100
#: Steps of the path that are shown: those that save this much [0.001 h].
SHOWN = 100

Names = Callable[[Ints], tuple[str, ...]]


def swap(search: Search, old: Ints, new: Ints, hours: float, names: Names) -> Swap:
    """The change from some packs to others."""
    change = new - old
    weight = int(search.program.weights[0] @ change)
    return Swap(
        weight / GRAMS,
        (_paid(search, new) - _paid(search, old)) / HUNDREDTHS,
        hours,
        names(np.maximum(change, 0)),
        names(np.maximum(-change, 0)),
    )


def _paid(search: Search, packs: Ints) -> int:
    program = search.program
    return int(program.weights[program.money] @ np.maximum(0, packs - program.owned)) if program.money >= 0 else 0


def swap_at(
    search: Search, points: Sequence[Point], packs: Ints, objective: int, budget: int, names: Names
) -> Swap | None:
    """The change to the best kit found at another budget of weight; None where that is off the curve, or buys nothing."""
    point = at_budget(points, budget)
    if point is None or (budget > int(search.program.limits[0]) and point.objective <= objective):
        return None
    return swap(search, packs, point.packs, (point.objective - objective) / 1000.0, names)


def add_only(search: Search, points: Sequence[Point], names: Names) -> tuple[tuple[AddStep, ...], int]:
    """The kit built up by always adding what saves most per kilogram, nothing ever taken out, and what it saves in the end.

    Returns
    -------
    steps : AddStep
        Additions, small ones joined.
    saved : int
        [0.001 h].
    """
    program = search.program
    prices = np.zeros(len(program.limits))
    prices[0] = 1.0
    found: list[AddStep] = []
    last, saved, end = program.least.copy(), search.filler.value(program.least), 0
    must = int(program.weights[0] @ program.least)
    for packs, end in search.filler.path(program.least, program.limits, prices):
        if end - saved >= SHOWN:
            weight = int(program.weights[0] @ packs)
            best = at_budget(points, weight)
            behind = max(0, best.objective - end) if best is not None else 0
            entered = names(np.maximum(packs - last, 0))
            found.append(AddStep((weight - must) / GRAMS, entered, (end - saved) / 1000.0, behind / 1000.0))
            last, saved = packs, end
    return tuple(found), end
