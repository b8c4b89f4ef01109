"""Rounding cuts off no whole answer, dual values prove their bound whatever they are, and slopes lose no answer that is good enough.

Held against enumeration of small rows and against answers found without any of it.
"""

from __future__ import annotations

import sys
from itertools import product
from pathlib import Path

import numpy as np
import pytest

from fieldkit.kit.relax import Relaxation, proved
from fieldkit.kit.rounding import Row, rounded_rows
from fieldkit.kit.search import Search
from fieldkit.kit.solver import Model

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))
from kit_instances import kit_instance, small_program


@pytest.mark.parametrize("seed", range(60))
def test_a_rounded_row_holds_for_every_whole_point_of_its_row_and_not_for_the_one_it_was_asked_about(seed: int) -> None:
    draw = np.random.default_rng(seed)
    size = int(draw.integers(2, 6))
    upper = draw.integers(1, 4, size).astype(float)
    row = Row(
        np.arange(size),
        draw.choice([-1000, -600, -400, 50, 100, 250, 300, 500, 1000], size),
        int(draw.integers(-1, 2)) * 100,
    )
    whole = [p for p in product(*(range(int(u) + 1) for u in upper)) if row.values @ p <= row.high]
    for _ in range(20):
        point = draw.uniform(0, upper)
        for tight in rounded_rows([row], point, upper):
            assert tight.values @ point[tight.columns] > tight.high
            assert all(tight.values @ np.array(p)[tight.columns] <= tight.high for p in whole)


def test_three_half_packs_take_one_pack_or_two() -> None:
    """By hand: one pack serves two such repairs, so three of them need two packs; a pack and a half is no answer."""
    halves = Row(np.arange(4), np.array([500, 500, 500, -1000]), 0)
    (tight,) = rounded_rows([halves], np.array([1.0, 1.0, 1.0, 1.5]), np.array([1.0, 1.0, 1.0, 9.0]))
    assert (tight.values.tolist(), tight.high) == ([1, 1, 1, -1], 1)
    assert rounded_rows([halves], np.array([1.0, 1.0, 0.0, 1.0]), np.array([1.0, 1.0, 1.0, 9.0])) == []


@pytest.mark.parametrize("seed", range(12))
def test_any_dual_values_prove_a_bound(seed: int) -> None:
    """Right ones, disturbed ones and senseless ones: none is below the best answer, which was found without them."""
    program = small_program(seed)
    search = Search(program)
    best = Model(search.matrix, len(program.limits)).ask(program.limits)
    relaxation = Relaxation(search.matrix, program.limits)
    relaxed = relaxation.solve(program.limits)
    if best is None or relaxed is None:
        pytest.skip("no answer at all")
    assert best.objective <= relaxed.bound
    draw = np.random.default_rng(seed)
    for spread in (0.01, 1.0, 100.0):
        duals = draw.normal(0.0, spread, len(relaxation.table.upper_rows))
        found = proved(relaxation.table, program.limits, relaxation.lower, relaxation.upper, relaxed.values, duals)
        assert best.objective <= found.bound
        lower, upper = found.reaching(best.objective)
        assert np.all(lower <= best.values)
        assert np.all(best.values <= upper)


@pytest.mark.parametrize(("size", "left"), [((120, 60, 120), 0.8), ((400, 250, 600), 0.1)])
def test_rounding_takes_from_the_distance_to_the_best_kit(size: tuple[int, int, int], left: float) -> None:
    """Of a large program nearly all; the best kit, found without rows or slopes, keeps the rows and lies where the slopes say."""
    program = kit_instance(*size, 2, chained=False)
    search = Search(program)
    best = Model(search.matrix, len(program.limits)).ask(program.limits)
    relaxation = Relaxation(search.matrix, program.limits)
    tight = relaxation.solve(program.limits)
    assert best is not None
    assert tight is not None
    assert best.objective <= tight.bound
    assert tight.bound - best.objective <= left * (_without_rows(search) - best.objective)
    assert np.all(relaxation.table.rows @ best.values <= relaxation.table.ends(program.limits))
    lower, upper = tight.reaching(best.objective)
    assert np.all(lower <= best.values)
    assert np.all(best.values <= upper)
    assert np.count_nonzero(lower == upper) > 0


def _without_rows(search: Search) -> int:
    """The bound of the plain relaxation, by scipy's own solver."""
    from scipy.optimize import linprog

    table, limits = search.matrix, search.program.limits
    found = linprog(
        -table.objective, A_ub=table.rows, b_ub=table.ends(limits), bounds=np.stack([table.lower, table.upper], axis=1)
    )
    return int(np.floor(-found.fun + 1e-3))
