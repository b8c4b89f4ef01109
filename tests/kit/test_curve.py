"""Every point of a proven curve is the plain program's own optimum at its budget, and both solvers agree half a gram below each step.

A second solver (scipy's HiGHS on the plain program, gap 0) is asked again for each step of three invented programs of 30
items. Half a gram below a whole number of grams is the next smaller whole number, since packs weigh whole grams.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from fieldkit.kit import solve
from fieldkit.kit.curve import Effort, Point, proven, settled, swept, trace
from fieldkit.kit.program import Program
from fieldkit.kit.search import Search
from fieldkit.plan import make_plan
from fieldkit.specs.library import Library
from fieldkit.specs.read_trip import load_trip

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))
sys.path.insert(0, str(Path(__file__).parents[1] / "crosscheck"))
from kit_instances import kit_instance
from test_repair_kit import second_solver

GRID = 12


def _within(program: Program, budget: int) -> Program:
    return replace(program, limits=program.limited(0, budget))


def _curve(program: Program) -> list[Point]:
    full = int(program.limits[0])
    return trace(Search(program), [full * n // GRID for n in range(1, GRID + 1)])


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_each_point_is_the_optimum_of_the_plain_program(seed: int) -> None:
    program = kit_instance(30, 15, 30, seed)
    points = _curve(program)
    assert len(points) == GRID
    for point in points:
        assert point.bound == point.objective
        assert second_solver(_within(program, point.budget)) == pytest.approx(point.objective, abs=0.01)


def test_half_a_gram_below_what_a_step_uses_both_solvers_agree() -> None:
    """What a step's kit weighs is enough for it; with half a gram less, our optimum and the plain program's are one."""
    program = kit_instance(30, 15, 30, 3)
    rises = [b for a, b in pairwise(_curve(program)) if b.objective > a.objective]
    assert len(rises) >= 3
    for point in rises:
        assert second_solver(_within(program, point.used)) == pytest.approx(point.objective, abs=0.01)
        below = _within(program, point.used - 1)
        assert solve(below, ties=False).objective == round(second_solver(below)) <= point.objective


@pytest.mark.parametrize("seed", [4, 5])
def test_a_curve_put_together_from_parts_holds_the_optimum_between_kit_and_bound(seed: int) -> None:
    """Each part has a search of its own; kits serve larger budgets of other parts, bounds hold for smaller ones."""
    program = kit_instance(30, 15, 30, seed)
    full = int(program.limits[0])
    budgets = [full * n // GRID for n in range(1, GRID + 1)]
    answers = {}
    for part in (budgets[:5], budgets[5:]):
        answers.update(swept(Search(program), part, stride=1, reach=1, effort=1e-3).kits)
    points = settled(Search(program), 0, answers)
    assert [p.budget for p in points] == budgets
    assert all(a.objective <= b.objective and a.bound <= b.bound for a, b in pairwise(points))
    for point in points:
        best = round(second_solver(_within(program, point.budget)))
        assert point.objective <= best <= point.bound


@pytest.mark.parametrize("together", [1, 5])
def test_a_curve_is_proven_however_many_budgets_a_question_is_about(together: int) -> None:
    """No kit of a point's weight saves more than the one shown; a second solver finds none either."""
    program = kit_instance(40, 20, 40, 6)
    full = int(program.limits[0])
    budgets = [full * n // GRID for n in range(1, GRID + 1)]
    for point in trace(Search(program), budgets, effort=Effort(together=together)):
        assert point.objective == round(second_solver(_within(program, point.budget))) == point.bound


def test_an_effort_that_is_spent_leaves_bounds_that_hold() -> None:
    program = kit_instance(40, 20, 40, 6)
    full = int(program.limits[0])
    budgets = [full * n // GRID for n in range(1, GRID + 1)]
    search = Search(program)
    points = settled(search, 0, proven(search, swept(search, budgets, effort=1e-3), effort=Effort(most=1e-3)))
    assert any(p.bound > p.objective for p in points)
    for point in points:
        assert point.objective <= round(second_solver(_within(program, point.budget))) <= point.bound


def test_a_plan_leaves_no_point_of_its_curve_open(spoil: Callable[[str, str, str], Path], library: Library) -> None:
    """Every point's kit meets its bound, and the notes name none that does not."""
    folder = spoil("trip.toml", 'kit_mass = "90 kg"', 'kit_mass = "12 kg"')
    kit = make_plan(load_trip(folder, library)).kit
    assert not any("points of the curve" in n for n in kit.notes)
    assert all(p.hours_lost == pytest.approx(p.bound, abs=1e-9) for p in kit.curve)
