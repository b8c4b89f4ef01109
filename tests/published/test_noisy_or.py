"""Causes joined by a noisy or, and exact against added-up chances of fault trees."""

from __future__ import annotations

import itertools
from fractions import Fraction

import numpy as np
import pytest

from fieldkit.likelihood.diagnosis import noisy_or
from fieldkit.likelihood.ranges import at_least_once
from fieldkit.likelihood.totals import lost_altogether

FEVER = {"C": 0.4, "F": 0.8, "M": 0.9}
PRINTED = {"": 0.0, "M": 0.9, "F": 0.8, "FM": 0.98, "C": 0.4, "CM": 0.94, "CF": 0.88, "CFM": 0.988}


@pytest.mark.parametrize("sick", PRINTED)
def test_fever(sick: str) -> None:
    """Russell and Norvig, Artificial Intelligence, noisy-or table of fever (lecture slides; inhibitors .6, .2, .1)."""
    assert noisy_or([FEVER[c] for c in sick]) == pytest.approx(PRINTED[sick], abs=1e-12)


def test_strengths_as_fractions() -> None:
    """A cognitive-science course sheet: strengths 1/6, 1/3, 7/10 give 4/9, 3/4 and 4/5 in pairs and 5/6 together."""
    strengths = [Fraction(1, 6), Fraction(1, 3), Fraction(7, 10)]
    pairs = [noisy_or([float(s) for s in pair]) for pair in itertools.combinations(strengths, 2)]
    assert pairs == pytest.approx([4 / 9, 3 / 4, 4 / 5], abs=1e-12)
    assert noisy_or([float(s) for s in strengths]) == pytest.approx(5 / 6, abs=1e-12)


def test_power_lost_in_a_theatre() -> None:
    """SCRAM test input (Theatre, from OpenFTA): (generator .02 or relay .05) and mains .03: exact 0.00207, added up 0.00210."""
    assert lost_altogether([[0.02, 0.05], [0.03]]) == pytest.approx(0.00207, abs=1e-12)
    added_up = (0.02 + 0.05) * 0.03
    assert added_up == pytest.approx(0.00210, abs=1e-12)


def test_two_trains() -> None:
    """SCRAM test input (TwoTrain): two trains of valve .5 and pump .7: exact 0.7225; added up it is 1.44, no chance at all."""
    assert lost_altogether([[0.5, 0.7], [0.5, 0.7]]) == pytest.approx(0.7225, abs=1e-12)


def test_any_of_three() -> None:
    """SCRAM core tests: A or B or C at .1, .2, .3: exact 0.496 (added up 0.6)."""
    assert lost_altogether([[0.1, 0.2, 0.3]]) == pytest.approx(0.496, abs=1e-12)
    means = -np.log1p(-np.array([0.1, 0.2, 0.3]))
    assert at_least_once(float(means.sum()), 0.0).value == pytest.approx(0.496, abs=1e-12)
