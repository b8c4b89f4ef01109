"""Every sixteenth point of the convoy's curve is the optimum of its whole plain program, and so is half a gram below what its kit weighs."""

from __future__ import annotations

import pytest
from example_curve import agree, asked

from fieldkit.kit.curve import proven, settled, swept
from fieldkit.kit.search import Search


def test_points_of_the_convoy_are_the_plain_program_s_optimum(monkeypatch: pytest.MonkeyPatch) -> None:
    program, budgets = asked(False, monkeypatch)
    some = budgets[5::16]
    search = Search(program)
    points = settled(search, 0, proven(search, swept(search, some)))
    assert len(points) == len(some)
    agree(program, points)
