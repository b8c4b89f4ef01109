"""Bayes' rule: which cause, and what a look is worth as evidence."""

from __future__ import annotations

import numpy as np
import pytest

from fieldkit.inspection.belief import bayes
from fieldkit.likelihood.diagnosis import posterior
from fieldkit.likelihood.result import Diagnosis


def table(prior: list[float], link: list[float]) -> Diagnosis:
    """Causes by letter, one symptom, no leak."""
    causes = tuple("abcd"[: len(prior)])
    return Diagnosis("v", causes, ("symptom",), np.array(prior), np.array([link]), np.zeros(1))


def test_system_down() -> None:
    """McClave and Sincich, Statistics, 13th edition, exercise 3.183 (solution page): hardware, software, power.

    The priors do not add to 1: causes listed share the posterior. The third figure is truncated on the page (56.9 for 56.96).
    """
    prior, link = [0.01, 0.05, 0.02], [0.73, 0.12, 0.88]
    assert float(np.dot(prior, link)) == pytest.approx(0.0309, abs=5e-5)
    found = posterior(table(prior, link), present=["symptom"])
    assert found.tolist() == pytest.approx([0.236, 0.194, 0.569], abs=1e-3)
    assert found.sum() == pytest.approx(1.0, abs=1e-12)


def test_circuit_failure() -> None:
    """A published exercise with two solution pages: four makers' shares .40 .25 .30 .05, failing .05 .05 .04 .01.

    P(fails) = .045; P(C given fails) = 4/15 (one page prints .2637, by dividing through .0455); P(C given not) = .30157.
    """
    sheet = table([0.40, 0.25, 0.30, 0.05], [0.05, 0.05, 0.04, 0.01])
    assert float(sheet.prior @ sheet.link[0]) == pytest.approx(0.045, abs=1e-12)
    assert posterior(sheet, present=["symptom"])[2] == pytest.approx(4 / 15, abs=1e-5)
    assert posterior(sheet, absent=["symptom"])[2] == pytest.approx(0.30157, abs=1e-5)


def test_screening() -> None:
    """Rice, Mathematical Statistics and Data Analysis (quoted): 1 % ill, test finds 80 %, 10 % false alarms: 7.5 % of alarms are real."""
    assert bayes(0.01, 0.80, 0.10, True) == pytest.approx(0.075, abs=5e-4)
