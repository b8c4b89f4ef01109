"""The whole curve: hours saved against kilograms (or money), every point with its bound; what to add next, what to drop first.

Neighbours bound each other: a larger budget's bound holds for every smaller one, a smaller budget's kit serves every larger
one. Main points get more of the search's time than those between them. What is then still open between kit and bound is shown,
or (when asked) searched until nothing is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fieldkit.kit.program import Ints
from fieldkit.kit.search import Found, Search
from fieldkit.kit.solve import lightened

Floats = NDArray[np.float64]

#: Main points of a curve at most, and relaxations for each of them and for each point between.
MAIN_POINTS, MAIN_SOLVES, BETWEEN_SOLVES = 36, 8, 3
#: For a proof: budgets in one tree, and relaxations for each of them before it is searched by itself.
RANGE, PROOF_SOLVES = 4, 250


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
    search: Search,
    budgets: Sequence[int],
    row: int = 0,
    known: Sequence[Floats] = (),
    prove: bool = False,
    solves: int = MAIN_SOLVES,
) -> list[Point]:
    """The best kit at every budget of one limit, smallest first.

    1. main points, largest first, each starting from the one before;
    2. the points between them, starting from the kit of the smaller main point;
    3. a kit that fits a budget serves it, whatever budget it was found for; a bound holds downward;
    4. with ``prove``: what is still open is searched by itself, largest first, and 3 again.

    Parameters
    ----------
    search : Search
    budgets : whole numbers; those too small for what must be carried are left out.
    row : int
        Index of the limit that changes.
    known : column values of kits to start from.
    prove : bool
        Whether every point is proven, however long it takes.
    solves : int
        Relaxations for each main point.
    """
    wanted = sorted(set(budgets))
    stride = -(-len(wanted) // MAIN_POINTS)
    main = [b for n, b in enumerate(reversed(wanted)) if n % stride == 0]
    answers: dict[int, Found] = {}
    for budget in main:
        _answer(search, row, budget, [*known, *_near(answers, budget)], solves, answers)
    for budget in sorted(set(wanted) - set(main)):
        _answer(search, row, budget, [*known, *_near(answers, budget)], min(solves, BETWEEN_SOLVES), answers)
    points = _settled(search, row, answers)
    return _proven(search, row, points, answers) if prove else points


def _answer(
    search: Search, row: int, budget: int, known: Sequence[Floats], solves: int, answers: dict[int, Found]
) -> None:
    limits = search.program.limits.astype(float)
    best = search.tree.search(limits, row, [budget], known, most_solves=solves)[budget]
    if best.values is not None:
        answers[budget] = Found(best.values, best.objective, best.bound)


def _near(answers: dict[int, Found], budget: int) -> list[Floats]:
    """Kits of the next smaller and the next larger budget."""
    below, above = [b for b in answers if b < budget], [b for b in answers if b > budget]
    picks = ([max(below)] if below else []) + ([min(above)] if above else [])
    return [answers[b].values for b in picks]


def _settled(search: Search, row: int, answers: dict[int, Found]) -> list[Point]:
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


def _proven(search: Search, row: int, points: list[Point], answers: dict[int, Found]) -> list[Point]:
    """Search what is open: ranges of budgets in one tree each, largest first, then what that leaves one by one."""
    limits = search.program.limits.astype(float)
    for end in range(len(points), 0, -RANGE):
        part = [p.budget for p in points[max(0, end - RANGE) : end] if p.bound > p.objective]
        if part:
            known = [answers[b].values for b in part]
            found = search.tree.search(limits, row, part, known, most_solves=PROOF_SOLVES * len(part))
            answers.update({b: Found(x.values, x.objective, x.bound) for b, x in found.items() if x.values is not None})
    points = _settled(search, row, answers)
    for budget in [p.budget for p in reversed(points)]:
        point = next(p for p in points if p.budget == budget)
        if point.bound > point.objective:
            alone = search.program.limits.copy()
            alone[row] = budget
            best = search.best(limits=alone, known=answers[budget].values, hunt=False)
            if best is not None:
                answers[budget] = best
                points = _settled(search, row, answers)
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
