"""Figures as people say them."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.handbook.words import LADDER, hours, in_words, kilograms, minutes, percent


@given(st.floats(0.0007, 0.97))
def test_a_chance_is_said_by_a_near_rung(p: float) -> None:
    """The odds said are never off by more than a factor of 1.75 (0.97, the end of the ladder, is said as 19 in 20)."""
    top, bottom = map(int, re.findall(r"\d+", in_words(p).replace(",", "")))
    said = top / bottom
    assert 1 / 1.75 <= (said / (1 - said)) / (p / (1 - p)) <= 1.75


def test_the_ladder_falls_from_top_to_bottom() -> None:
    chances = [a / b for a, b in LADDER]
    assert chances == sorted(chances, reverse=True)


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (0.1283, "about 1 in 8"),
        (1.0, "nearly certain"),
        (0.0, "none"),
        (1e-9, "less than 1 in 1,000"),
    ],
)
def test_chances_at_the_ends(value: float, said: str) -> None:
    assert in_words(value) == said


@given(st.floats(0.0, 4000.0))
def test_hours_are_never_said_with_a_decimal(value: float) -> None:
    assert "." not in hours(value)
    assert hours(value)


@pytest.mark.parametrize(
    ("value", "said"),
    [
        (37.4, "about a day and a half"),
        (0.5, "about half an hour"),
        (float("inf"), "out of reach"),
        (24.0, "about a day"),
    ],
)
def test_hours_as_people_say_them(value: float, said: str) -> None:
    assert hours(value) == said


def test_percent_and_minutes() -> None:
    assert percent(0.5) == "50.0 %"
    assert percent(1.0) == "100.0 %"
    assert minutes(90) == "90 min"
    assert minutes(120) == "120 min (2 h)"


@given(st.floats(0.0005, 300.0))
def test_nothing_that_weighs_is_listed_as_nought(kg: float) -> None:
    """A valve tool of 40 g reads 0.04 kg; from 0.1 kg one decimal is enough."""
    assert float(kilograms(kg)) > 0
    assert abs(float(kilograms(kg)) - kg) <= (0.05 if kg >= 0.095 else 0.01) + 1e-9
