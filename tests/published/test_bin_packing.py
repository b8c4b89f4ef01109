"""Published bin-packing instances with known optima, packed by the code that shares packs out over places.

Source: OR-Library binpack1 (Falkenauer's uniform class, 120 things, bins of 150), numbers and optima in
``tests/data/published/knapsack-data.json``. Each optimum was certified again by a packing found and the L2 lower bound of
Martello and Toth; where the published list said one bin more (u120_08, u120_19), the certified number stands.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from boxes import Boxes

from fieldkit.kit.placing import Lot, Placed, holds, place
from fieldkit.specs.library import Library

DATA = json.loads((Path(__file__).parents[1] / "data" / "published" / "knapsack-data.json").read_text(encoding="utf-8"))
SET = DATA["binpack_u120"]


def _packed(library: Library, problem: dict[str, Any], places: int) -> tuple[Boxes, list[Lot], list[Placed] | None]:
    boxes = Boxes(library, places, SET["capacity"], problem["sizes"])
    lots = [Lot(i, 1, False, ()) for i in range(len(problem["sizes"]))]
    return boxes, lots, place(boxes, lots)


def _cases() -> list[Any]:
    return [pytest.param(p, id=p["name"]) for p in SET["problems"]]


@pytest.mark.parametrize("problem", _cases())
def test_all_is_packed_into_the_bins_of_best_fit_decreasing(library: Library, problem: dict[str, Any]) -> None:
    """The printed optimum where best fit decreasing reaches it, one bin more elsewhere: no kit of ours comes near 120 things in 50 places."""
    boxes, lots, found = _packed(library, problem, problem["best_fit_decreasing"])
    assert problem["best_fit_decreasing"] - problem["optimum"] in (0, 1)
    assert found is not None and holds(boxes, lots, found)


@pytest.mark.parametrize("problem", _cases())
def test_one_bin_less_than_the_optimum_is_proven_too_few(library: Library, problem: dict[str, Any]) -> None:
    boxes, _, found = _packed(library, problem, problem["optimum"] - 1)
    assert found is None
    assert boxes.undecided == 0
