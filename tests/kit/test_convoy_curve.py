"""Points of the convoy's curve are the optimum of its whole plain program, and so is half a gram below what their kits weigh.

Every sixteenth point; all 132 where ``FIELDKIT_EVERY_POINT`` is set (some 25 minutes of one processor).
"""

from __future__ import annotations

import os

import pytest
from example_curve import agree, asked

from fieldkit.kit.curve import apart, settled
from fieldkit.kit.search import Search

#: One point of so many, and the first ones.
EVERY, SOME = 16, (5,)


@pytest.mark.parametrize("first", range(EVERY) if os.environ.get("FIELDKIT_EVERY_POINT") else SOME)
def test_points_of_the_convoy_are_the_plain_program_s_optimum(first: int, monkeypatch: pytest.MonkeyPatch) -> None:
    program, budgets = asked(False, monkeypatch)
    search, some = Search(program), budgets[first::EVERY]
    points = settled(search, 0, apart(search, some, 0, {}))
    assert len(points) == len(some)
    agree(program, points)
