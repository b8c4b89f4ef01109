"""Curves of the example trips against their whole plain programs, answered by a second solver.

scipy's HiGHS, gap 0, is given a program written apart from the package's (tests/crosscheck/whole_program.py). Half a gram below a whole number of
grams is the next smaller whole number, since packs weigh whole grams.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

import pytest

from fieldkit.kit import choosing
from fieldkit.kit.curve import Point, trace
from fieldkit.kit.program import Program
from fieldkit.kit.search import Search
from fieldkit.plan import PlanOptions, make_plan
from fieldkit.report import example_folder
from fieldkit.specs.read_trip import load_trip

sys.path.insert(0, str(Path(__file__).parent / "crosscheck"))
from whole_program import second_optimum


class _Enough(Exception):
    """The curve's program and budgets are known; the rest of the plan is not wanted."""


def asked(solo: bool, monkeypatch: pytest.MonkeyPatch) -> tuple[Program, list[int]]:
    """Program and budgets of an example trip's curve."""
    found: list[tuple[Program, list[int]]] = []

    def watched(case: choosing.Case, rows: Search, options: choosing.KitOptions, *_: object) -> None:
        found.append((rows.program, choosing.curve_budgets(case, options)))
        raise _Enough

    monkeypatch.setattr(choosing, "whole_curve", watched)
    with pytest.raises(_Enough):
        make_plan(load_trip(example_folder(solo)), PlanOptions())
    return found[0]


def agree(program: Program, points: Sequence[Point]) -> None:
    """Every point is the optimum of the whole plain program, and so is half a gram below what its kit weighs."""
    must, seen = int(program.weights[0] @ program.least), set[int]()
    for point in points:
        assert point.bound == point.objective == second_optimum(program, point.budget), point.budget
        if point.used > must and point.used not in seen:
            seen.add(point.used)
            below = trace(Search(program), [point.used - 1])[0]
            assert below.bound == below.objective == second_optimum(program, point.used - 1), point.used
