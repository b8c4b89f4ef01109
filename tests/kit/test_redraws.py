"""A redraw has other benefits and else the same program: what is taken over leaves its answers sound, and as good where repairs rank alike."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fieldkit.kit.search import Search

sys.path.insert(0, str(Path(__file__).parents[1] / "crosscheck"))
sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))
from kit_instances import kit_instance
from whole_program import second_optimum


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_repairs_that_all_save_more_alike_are_chosen_as_by_the_whole_program(seed: int) -> None:
    program = kit_instance(40, 20, 40, seed)
    tripled = replace(program, benefit=program.benefit * 3)
    found = Search(tripled, rounds=0, like=Search(program)).best()
    assert found is not None
    assert found.objective == second_optimum(tripled, int(program.limits[0]))


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_whatever_repairs_save_a_redraw_promises_no_more_than_the_whole_program(seed: int) -> None:
    """Each weak point's hours multiplied by a factor of its own, from a fifth to five times."""
    program = kit_instance(40, 20, 40, seed)
    factors = np.exp(np.random.default_rng(seed).uniform(-1.6, 1.6, int(program.slot.max()) + 1))
    redrawn = replace(program, benefit=np.rint(program.benefit * factors[program.slot]).astype(np.int64))
    search = Search(redrawn, rounds=0, like=Search(program))
    found = search.best()
    assert found is not None
    whole = second_optimum(redrawn, int(program.limits[0]))
    assert found.objective <= whole
    assert found.objective >= 0.98 * whole
    assert np.all(program.weights @ search.packs(found) <= program.limits)


def test_rows_are_kept_or_broken_by_whole_numbers() -> None:
    """The best kit keeps its rows; one pack more than its limit allows, or one unit less of limit than it takes, does not."""
    program = kit_instance(40, 20, 40, 6, weight_only=True)
    search = Search(program)
    best = search.best()
    assert best is not None
    used = int(program.weights[0] @ search.packs(best))
    assert search.matrix.keeps(best.values, program.limits)
    assert search.matrix.keeps(best.values, program.limited(0, used))
    assert not search.matrix.keeps(best.values, program.limited(0, used - 1))
    more = best.values.copy()
    more[0] = search.matrix.upper[0] + 1
    assert not search.matrix.keeps(more, program.limited(0, 10 * used))
