"""Every point of the solo traveller's curve is the optimum of its whole plain program, and so is half a gram below what its kit weighs."""

from __future__ import annotations

import pytest
from example_curve import agree, asked

from fieldkit.kit.curve import trace
from fieldkit.kit.search import Search


def test_each_point_of_the_solo_trip_is_the_plain_program_s_optimum(monkeypatch: pytest.MonkeyPatch) -> None:
    program, budgets = asked(True, monkeypatch)
    points = trace(Search(program), budgets)
    assert len(points) == len(budgets)
    agree(program, points)
