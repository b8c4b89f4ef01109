"""Climb without the noise: what may never happen, whatever the heights are."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.route.climb import height_profile, steepness, turning_points
from fieldkit.route.settings import route_figures

FIGURES = route_figures().climb
HEIGHTS = st.lists(st.floats(-400, 6000, allow_nan=False), min_size=2, max_size=60)


@given(HEIGHTS, st.floats(0, 50))
def test_turning_points_are_a_subset_with_both_ends(heights: list[float], noise: float) -> None:
    kept = turning_points(np.array(heights), noise)
    assert kept[0] == 0
    assert kept[-1] == len(heights) - 1
    assert (np.diff(kept) > 0).all()


@given(HEIGHTS)
def test_climb_never_exceeds_the_plain_sum_and_closes_on_the_ends(heights: list[float]) -> None:
    """Rises between kept heights are at most the recorded rises, and climb less descent is the difference of the ends."""
    height = np.array(heights)
    profile = height_profile(np.arange(len(height), dtype=float), height, (0,), FIGURES)
    assert profile is not None
    plain = np.maximum(np.diff(height), 0).sum()
    assert profile.climb[-1] <= plain + 1e-6
    assert profile.climb[-1] - profile.descent[-1] == pytest.approx(height[-1] - height[0], abs=1e-6)


@given(HEIGHTS, st.floats(1, 20))
def test_a_swing_of_the_noise_or_more_is_never_lost(heights: list[float], noise: float) -> None:
    """The highest and lowest heights are kept whenever they differ by the noise or more."""
    height = np.array(heights)
    kept = height[turning_points(height, noise)]
    if np.ptp(height) >= noise:
        assert np.ptp(kept) == pytest.approx(np.ptp(height))


def test_a_receiver_that_wanders_while_parked_climbs_nothing_much() -> None:
    """2,000 heights wandering by 2 m: the plain sum is over a kilometre, the climb at most the noise."""
    height = 300 + 2 * np.sin(np.arange(2000) * 2.1)
    profile = height_profile(np.linspace(0, 0.1, 2000), height, (0,), FIGURES)
    assert profile is not None
    assert np.maximum(np.diff(height), 0).sum() > 1000
    assert profile.climb[-1] < FIGURES.noise_m


def test_a_rise_between_segments_is_not_counted() -> None:
    height = np.array([100.0, 110.0, 500.0, 520.0])
    profile = height_profile(np.arange(4.0), height, (0, 2), FIGURES)
    assert profile is not None
    assert profile.between(0, 3) == (30.0, 0.0)


def test_unknown_heights_are_passed_over_and_too_few_are_unknown() -> None:
    nan = float("nan")
    some = height_profile(np.arange(4.0), np.array([100.0, nan, 120.0, 130.0]), (0,), FIGURES)
    assert some is not None
    assert some.between(0, 3) == (30.0, 0.0)
    assert height_profile(np.arange(4.0), np.array([100.0, nan, nan, nan]), (0,), FIGURES) is None
    assert height_profile(np.arange(9.0), np.array([100.0, 120.0] + [nan] * 7), (0,), FIGURES) is None


def test_the_climb_of_parts_adds_to_the_whole() -> None:
    height = np.array([0.0, 80.0, 20.0, 60.0, 10.0])
    profile = height_profile(np.arange(5.0), height, (0,), FIGURES)
    assert profile is not None
    parts = [profile.between(a, a + 0.5) for a in np.arange(0, 4, 0.5)]
    assert sum(up for up, _ in parts) == pytest.approx(120.0)
    assert sum(down for _, down in parts) == pytest.approx(110.0)


def test_steepness_is_that_of_the_steepest_tenth() -> None:
    """20 km flat with 3 km at 10 %: the steepest tenth lies on the hill."""
    km = np.array([0.0, 10.0, 13.0, 23.0])
    profile = height_profile(km, np.array([0.0, 0.0, 300.0, 300.0]), (0,), FIGURES)
    assert profile is not None
    assert steepness(profile, 0, 23, FIGURES) == pytest.approx(0.10, abs=0.005)
    assert steepness(profile, 0, 10, FIGURES) == pytest.approx(0.0, abs=1e-9)
