"""The whole curve: hours saved against kilograms (or money), every point with its bound; what to add next, what to drop first.

Neighbours bound each other: a larger budget's bound holds for every smaller one, a smaller budget's kit serves every larger
one. Points whose kit and bound are widest apart get more of the search's time than the others. What is then still open between kit and bound is shown, or (when asked)
searched until nothing is.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fieldkit.kit.program import Ints
from fieldkit.kit.search import Found, Search
from fieldkit.kit.solve import lightened

Floats = NDArray[np.float64]

#: For a proof: budgets in one tree, and relaxations for each of them before it is searched by itself.
RANGE, PROOF_SOLVES = 4, 250


@dataclass(frozen=True)
class Effort:
    """Relaxations spent on a curve.

    ``main``: on each of ``main_points`` points; ``between``: on each other one; ``pool``: on points where kit and bound are widest apart,
    ``wide`` the first time that one is asked again.
    """

    main_points: int = 36
    main: int = 8
    between: int = 3
    pool: int = 0
    wide: int = 60


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
    proven: bool = False,
    effort: Effort = Effort(),
) -> list[Point]:
    """The best kit at every budget of one limit, smallest first.

    Parameters
    ----------
    search : Search
    budgets : whole numbers; those too small for what must be carried are left out.
    row : int
        Index of the limit that changes.
    known : column values of kits to start from.
    proven : bool
        Whether every point is proven, however long it takes: what is open is searched by itself, largest first.
    effort : Effort
    """
    answers = answered(search, budgets, row, known, effort)
    if proven:
        prove(search, row, answers)
    return settled(search, row, answers)


def answered(
    search: Search, budgets: Sequence[int], row: int = 0, known: Sequence[Floats] = (), effort: Effort = Effort()
) -> dict[int, Found]:
    """A kit with its bound for every budget that allows one; parts of a curve may be answered apart and settled together.

    1. main points, largest first, each starting from the one before;
    2. the points between them, starting from the kits of their neighbours;
    3. again and again the point where kit and bound are widest apart, each time with twice the relaxations.
    """
    wanted = sorted(set(budgets))
    stride = -(-len(wanted) // effort.main_points) if wanted else 1
    main = [b for n, b in enumerate(reversed(wanted)) if n % stride == 0]
    answers: dict[int, Found] = {}
    for budget in main:
        _answer(search, row, [budget], [*known, *_near(answers, budget)], effort.main, answers)
    for budget in sorted(set(wanted) - set(main)):
        solves = min(effort.main, effort.between)
        _answer(search, row, [budget], [*known, *_near(answers, budget)], solves, answers)
    left, next_time = effort.pool, dict.fromkeys(answers, effort.wide)
    while left > 0 and (widest := _widest(answers)) is not None:
        _answer(search, row, [widest], _near(answers, widest), next_time[widest], answers)
        left -= next_time[widest]
        next_time[widest] *= 2
    return answers


def _answer(
    search: Search, row: int, budgets: list[int], known: Sequence[Floats], solves: int, answers: dict[int, Found]
) -> None:
    """Ask one tree about some budgets; a kit or a bound known already is only bettered."""
    limits = search.program.limits.astype(float)
    for budget, best in search.tree.search(limits, row, budgets, known, most_solves=solves * len(budgets)).items():
        if best.values is None:
            continue
        old = answers.get(budget)
        if old is None or best.objective > old.objective:
            bound = best.bound if old is None else min(old.bound, best.bound)
            answers[budget] = Found(best.values, best.objective, max(bound, best.objective))
        else:
            answers[budget] = replace(old, bound=max(old.objective, min(old.bound, best.bound)))


def _widest(answers: Mapping[int, Found]) -> int | None:
    """The budget where kits of smaller budgets and bounds of larger ones leave most open, as a share; None: nothing is open."""
    budgets = sorted(answers)
    kits = np.maximum.accumulate([answers[b].objective for b in budgets])
    bounds = np.minimum.accumulate([answers[b].bound for b in reversed(budgets)])[::-1]
    open_ = np.where(bounds > kits, (bounds - kits) / np.maximum(bounds, 1), 0.0)
    return budgets[int(np.argmax(open_))] if len(open_) and open_.max() > 0 else None


def _near(answers: Mapping[int, Found], budget: int) -> list[Floats]:
    """Kits of a budget and of the next smaller and the next larger one."""
    below, above = [b for b in answers if b < budget], [b for b in answers if b > budget]
    picks = [
        *([budget] if budget in answers else []),
        *([max(below)] if below else []),
        *([min(above)] if above else []),
    ]
    return [answers[b].values for b in picks]


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


def prove(search: Search, row: int, answers: dict[int, Found]) -> None:
    """Search what is open until nothing is: ranges of budgets in one tree each, largest first, then one by one. Changes the answers in place."""
    budgets = sorted(answers)
    for end in range(len(budgets), 0, -RANGE):
        part = [b for b in budgets[max(0, end - RANGE) : end] if _standing(answers, b).bound > answers[b].objective]
        if part:
            _answer(search, row, part, [answers[b].values for b in part], PROOF_SOLVES, answers)
    for budget in reversed(budgets):
        answers[budget] = _standing(answers, budget)
        if answers[budget].bound > answers[budget].objective:
            alone = search.program.limits.copy()
            alone[row] = budget
            best = search.best(limits=alone, known=answers[budget].values, hunt=False)
            answers[budget] = answers[budget] if best is None else best


def _standing(answers: Mapping[int, Found], budget: int) -> Found:
    """The best kit found for a budget or a smaller one, and the least bound of it and the larger ones."""
    kit = max((answers[b] for b in sorted(answers) if b <= budget), key=lambda f: f.objective)
    return replace(kit, bound=max(kit.objective, min(f.bound for b, f in answers.items() if b >= budget)))


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
