"""Published knapsack sets with known optima, solved as kits.

Source of each set stands in ``tests/data/published/knapsack-data.json`` beside its numbers: KNAPSACK_01 (Burkardt, Florida State
University), OR-Library mknap1 (Petersen 1967, 0/1 with several limits), and instances made from Pisinger's published generator
definitions (2005). Printed optima are whole numbers (mknap1-2: one decimal), so the tolerance is nought.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from fieldkit.kit import Column, Solution, make_program, solve

DATA = json.loads((Path(__file__).parents[1] / "data" / "published" / "knapsack-data.json").read_text(encoding="utf-8"))


def _cases(name: str) -> list[Any]:
    return [pytest.param(p, id=p["name"]) for p in DATA[name]["problems"]]


def _kit(profits: list[float], weights: list[list[int]], capacities: list[int], scale: int = 1) -> Solution:
    """Each thing of the knapsack is a tool that one failure wants."""
    size = len(profits)
    columns = [Column(i, round(profits[i] * scale), {i: 1}) for i in range(size)]
    program = make_program(
        [f"thing-{i:03d}" for i in range(size)],
        [0] * size,
        [f"limit-{r}" for r in range(len(capacities))],
        weights,
        capacities,
        columns,
    )
    return solve(program)


@pytest.mark.parametrize("problem", _cases("knapsack_01"))
def test_kit_reaches_the_printed_optimum_of_knapsack_01(problem: dict[str, Any]) -> None:
    """KNAPSACK_01, p01 to p08: printed optimum and, where only one choice reaches it, the printed selection."""
    found = _kit(problem["profits"], [problem["weights"]], [problem["capacity"]])
    assert found.objective == problem["optimum"]
    assert found.optimal and found.bound == found.objective
    printed = np.array(problem["selection"])
    assert int(np.array(problem["weights"]) @ found.packs) <= int(np.array(problem["weights"]) @ printed)


@pytest.mark.parametrize("problem", _cases("mknap1"))
def test_kit_reaches_the_printed_optimum_of_mknap1(problem: dict[str, Any]) -> None:
    """OR-Library mknap1, 5 to 10 limits at once; profits carry one decimal at most."""
    found = _kit(problem["profits"], problem["weights"], problem["capacities"], scale=10)
    assert found.objective == round(10 * problem["optimum"])
    assert found.optimal


@pytest.mark.parametrize("problem", _cases("pisinger_type"))
def test_kit_reaches_the_optimum_of_pisinger_kinds(problem: dict[str, Any]) -> None:
    """Pisinger's kinds, hard ones among them: optimum by dynamic programming, not by this program."""
    found = _kit(problem["profits"], [problem["weights"]], [problem["capacity"]])
    assert found.objective == problem["optimum"]
    assert found.optimal
