"""The exact search finds what the quick way misses, and ends at its limit with a plain "not decided" where it does not."""

from __future__ import annotations

from random import Random

import pytest
from boxes import Boxes

from fieldkit.kit import placing
from fieldkit.kit.placing import Lot, holds, place
from fieldkit.specs.library import Library


def _full_places(library: Library, places: int, seed: int) -> tuple[Boxes, list[Lot]]:
    """Three things fill each place of 1,000 L to the litre, so a packing exists and next to none does."""
    rnd, sizes = Random(seed), []
    for _ in range(places):
        first = rnd.randint(380, 490)
        second = rnd.randint(250, 750 - first)
        sizes += [first, second, 1000 - first - second]
    return Boxes(library, places, 1000, sizes), [Lot(i, 1, False, ()) for i in range(len(sizes))]


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_the_exact_search_packs_what_the_quick_way_cannot(library: Library, seed: int) -> None:
    boxes, lots = _full_places(library, 4, seed)
    assert placing._quickly(boxes, lots, {}) is None
    found = place(boxes, lots)
    assert found is not None and holds(boxes, lots, found)
    assert boxes.undecided == 0


def test_a_tight_case_ends_at_its_limit_of_nodes_and_says_so(library: Library) -> None:
    """Twelve places filled to the litre: without a limit the search goes on; with one it ends, counted as undecided, not as proven."""
    boxes, lots = _full_places(library, 12, 0)
    found = place(boxes, lots)
    assert (found is None) == (boxes.undecided == 1)
    assert found is None or holds(boxes, lots, found)


def test_too_much_volume_is_a_proof(library: Library) -> None:
    boxes, lots = _full_places(library, 4, 0)
    boxes.volume = boxes.volume - 1.0
    assert place(boxes, lots) is None
    assert boxes.undecided == 0
