"""Every point of a proven curve is the plain program's own optimum at its budget, and both solvers agree half a gram below each step.

A second solver (scipy's HiGHS on the plain program, gap 0) is asked again for each step of three invented programs of 30
items. Half a gram below a whole number of grams is the next smaller whole number, since packs weigh whole grams.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import pytest

from fieldkit.kit import solve
from fieldkit.kit.curve import Point, trace
from fieldkit.kit.program import Program
from fieldkit.kit.search import Search

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))
sys.path.insert(0, str(Path(__file__).parents[1] / "crosscheck"))
from kit_instances import kit_instance
from test_repair_kit import second_solver

GRID = 12


def _within(program: Program, budget: int) -> Program:
    limits = program.limits.copy()
    limits[0] = budget
    return replace(program, limits=limits)


def _curve(program: Program) -> list[Point]:
    full = int(program.limits[0])
    return trace(Search(program), [full * n // GRID for n in range(1, GRID + 1)], prove=True)


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
