"""What an item that stays at home would add, against the whole plain program solved with and without it by a second solver (scipy's HiGHS, gap 0)."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fieldkit.kit.additions import Additions
from fieldkit.kit.program import Column, Program, make_program
from fieldkit.kit.search import Search

sys.path.insert(0, str(Path(__file__).parents[1] / "crosscheck"))
sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))
from kit_instances import kit_instance
from whole_program import second_optimum


def _additions(program: Program, quick: bool = False) -> Additions:
    search = Search(program)
    best, relaxed = search.best(), search.relaxation.solve(program.limits)
    assert best is not None
    assert relaxed is not None
    return Additions(search, best, program.limits, relaxed.prices, quick)


def _given(program: Program, item: int, packs: int) -> Program:
    """One more pack of an item is there, and takes nothing of any limit."""
    least, gift = program.least.copy(), program.weights[:, item].copy()
    least[item] = packs
    if program.money >= 0 and packs <= program.owned[item]:
        gift[program.money] = 0
    return replace(program, least=least, limits=program.limits + gift)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_what_is_left_out_would_add_what_two_solves_say(seed: int) -> None:
    """Never more than that; the one that would add most is found, with nine tenths of its hours at least."""
    program = kit_instance(20, 10, 20, seed)
    additions = _additions(program)
    told = dict(additions.left_out(10))
    exact = {}
    for item in additions.candidates():
        given = _given(program, item, int(additions.packs[item]) + 1)
        exact[item] = (second_optimum(given, int(given.limits[0])) - additions.found.objective) / 1000.0
    assert max(exact.values()) > 0
    assert all(hours <= exact[item] + 1e-9 for item, hours in told.items())
    assert max(told.values()) >= 0.9 * max(exact.values())
    assert list(told.values()) == sorted(told.values(), reverse=True)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_quick_plan_tells_what_would_add_most_roughly(seed: int) -> None:
    """By the relaxation: the first one told is among the best, its hours within a half of what two solves say."""
    program = kit_instance(20, 10, 20, seed)
    additions = _additions(program, quick=True)
    told = additions.left_out(10)
    exact = {}
    for item in additions.candidates():
        given = _given(program, item, int(additions.packs[item]) + 1)
        exact[item] = (second_optimum(given, int(given.limits[0])) - additions.found.objective) / 1000.0
    assert exact[told[0][0]] >= 0.66 * max(exact.values())
    assert told[0][1] == pytest.approx(exact[told[0][0]], rel=0.5)


def test_scarce_stock_given_out_badly_hides_no_item() -> None:
    """Of one tube two repairs want, the program gives it to what saves most in all; a third repair's part is still told.

    By hand: the tube goes to the two small repairs (700 + 600) and not to the large one (1,000), which takes all of it. A part at
    home would save 250.
    """
    columns = [
        Column(0, 1000, {}, {0: 1000}),
        Column(1, 700, {}, {0: 500}),
        Column(2, 600, {}, {0: 500}),
        Column(3, 250, {1: 1}),
    ]
    program = make_program(["tube", "part"], [1000, 0], ["mass"], [[100, 900]], [100], columns)
    additions = _additions(program)
    assert additions.found.objective == 1300
    assert np.array_equal(additions.packs, [1, 0])
    assert dict(additions.left_out(10))[1] == pytest.approx(0.25)
