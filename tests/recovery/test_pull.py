"""Pulls by surface, slope, depth and damage."""

from __future__ import annotations

from math import cos, radians, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st
from loaded_case import library, surfaces

from fieldkit.errors import InputFaults
from fieldkit.recovery import recovery_pull
from fieldkit.recovery.figures import recovery_figures

DEPTHS = ["none", "rim", "axle", "sills"]
SURFACES = st.sampled_from(sorted(surfaces()))


def test_parts_add_to_the_pull_and_the_slope_is_the_true_sine() -> None:
    """3,000 kg in sand at 10 degrees to the axle with a wheel locked."""
    pull = recovery_pull(3000, surfaces()["sand"], 10, "axle", "one-wheel-locked")
    parts = {name: (low, high) for name, low, high in pull.parts}
    assert list(parts) == ["rolling", "slope", "mire", "damage"]
    assert parts["slope"] == (pytest.approx(3000 * sin(radians(10))),) * 2
    assert parts["rolling"][1] == pytest.approx(3000 * 0.3333 * cos(radians(10)))
    assert parts["mire"] == (1500, 3000)
    assert pull.low_kgf == pytest.approx(sum(p[0] for p in parts.values()))
    assert pull.high_kgf == pytest.approx(sum(p[1] for p in parts.values()))


@given(st.floats(500, 8000), SURFACES, st.floats(-45, 45), st.sampled_from(DEPTHS))
def test_low_is_never_above_high_and_neither_below_nought(mass: float, surface: str, slope: float, depth: str) -> None:
    pull = recovery_pull(mass, surfaces()[surface], slope, depth)
    assert 0 <= pull.low_kgf <= pull.high_kgf


@given(st.floats(500, 8000), SURFACES, st.floats(0, 45), st.floats(0, 45))
def test_steeper_never_pulls_easier_in_the_mire(mass: float, surface: str, one: float, other: float) -> None:
    low, high = sorted((one, other))
    at = [recovery_pull(mass, surfaces()[surface], s, "axle").high_kgf for s in (low, high)]
    assert at[1] >= at[0] - 1e-9


@given(st.floats(500, 4000), SURFACES, st.floats(-30, 45))
def test_deeper_and_heavier_never_pull_easier(mass: float, surface: str, slope: float) -> None:
    highs = [recovery_pull(mass, surfaces()[surface], slope, d).high_kgf for d in DEPTHS]
    assert highs == sorted(highs)
    assert recovery_pull(2 * mass, surfaces()[surface], slope, "axle").high_kgf == pytest.approx(2 * highs[2])


def test_downhill_helps_but_never_below_nought() -> None:
    down = recovery_pull(2000, surfaces()["sealed"], -20)
    assert down.low_kgf == 0
    assert (
        recovery_pull(2000, surfaces()["sand"], -5, "axle").high_kgf
        < recovery_pull(2000, surfaces()["sand"], 0, "axle").high_kgf
    )


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"gross_kg": 0}, "mass 0 kg must be above 0"),
        ({"slope_deg": 46}, "slope 46 degrees is beyond -45 to 45"),
        ({"depth": "axles"}, "unknown depth 'axles'; one of: none, rim, axle, sills; did you mean 'axle'?"),
        ({"damage": "flat"}, "unknown damage 'flat'; one of: none, flat-tyre, "),
    ],
)
def test_impossible_questions_are_refused_with_the_way_to_ask(changes: dict[str, object], said: str) -> None:
    with pytest.raises(ValueError) as odd:
        recovery_pull(**{"gross_kg": 2000, "surface": surfaces()["sand"], **changes})  # type: ignore[arg-type]
    assert said in str(odd.value)


def test_a_clubs_own_mire_factors_are_used() -> None:
    own = library(settings={"recovery": {"mire": {"axle": {"high": 1.5}}}})
    figures = recovery_figures(own)
    assert figures.mire["axle"].high == 1.5
    assert figures.mire["axle"].low == recovery_figures().mire["axle"].low
    pull = recovery_pull(1000, surfaces()["rock"], depth="axle", figures=figures)
    assert {n: h for n, _, h in pull.parts}["mire"] == 1500
    with pytest.raises(InputFaults, match=r"mire\.axle\.high"):
        recovery_figures(library(settings={"recovery": {"mire": {"axle": {"high": "much"}}}}))
