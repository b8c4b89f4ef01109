"""Diagnosis on a small vehicle: likelier causes first, evidence moves them, and the best question is asked next."""

from __future__ import annotations

import numpy as np
import pytest
from small_case import exposure, loads, mode, trip

from fieldkit.likelihood import diagnosis_table, hazards, next_look, posterior, risks
from fieldkit.likelihood.result import Diagnosis
from fieldkit.specs.trip import Trip


def case() -> tuple[Trip, Diagnosis]:
    modes = {
        "belt": mode(
            life="60000 km", symptoms=[{"id": "squeal", "probability": 0.9}, {"id": "hot", "probability": 0.5}]
        ),
        "pump": mode(symptoms=[{"id": "hot", "probability": 0.9}, {"id": "drip", "probability": 0.7}]),
        "fuse": mode(
            symptoms=[{"id": "dark", "probability": 1.0}],
            field_test={"question": "Is it blown?", "minutes": 1, "hit": 0.99, "false_alarm": 0.01},
        ),
        "never": mode(clock="event", rates={"sea": 1.0}),
    }
    trip_ = trip(modes)
    found = risks(trip_, hazards(trip_, exposure(), loads()))
    return trip_, diagnosis_table(trip_, found, "wagon")


def test_causes_that_cannot_happen_here_are_left_out() -> None:
    _, table = case()
    assert table.causes == ("belt", "fuse", "pump")
    assert table.symptoms == ("dark", "drip", "hot", "squeal")
    assert table.link[3].tolist() == [0.9, 0.0, 0.0]
    assert table.prior[0] > table.prior[1]


def test_evidence_moves_the_causes() -> None:
    _, table = case()
    assert posterior(table).sum() == pytest.approx(1.0)
    assert posterior(table, ["squeal"]).argmax() == 0
    assert posterior(table, ["hot"], ["squeal"])[2] > posterior(table, ["hot"])[2]
    assert posterior(table, ["hot", "drip"])[2] > 0.7
    assert posterior(table, ["no such symptom"]).tolist() == posterior(table).tolist()


def test_several_symptoms_by_hand() -> None:
    """Leak 0.05 everywhere: P(hot | belt) = 1 - 0.95 * 0.5, P(not drip | belt) = 0.95."""
    _, table = case()
    hot = 1 - 0.95 * (1 - np.array([0.5, 0.0, 0.9]))
    dry = 0.95 * (1 - np.array([0.0, 0.0, 0.7]))
    weight = table.prior * hot * dry
    assert posterior(table, ["hot"], ["drip"]) == pytest.approx(weight / weight.sum(), abs=1e-12)


def test_the_next_question_teaches_most_per_minute() -> None:
    trip_, table = case()
    looks = next_look(table, trip_.library, ["dark"])
    assert looks[0].cause == "fuse"  # one minute and nearly sure
    assert all(look.bits >= 0 for look in looks)
    assert [x.bits_per_minute for x in looks] == sorted((x.bits_per_minute for x in looks), reverse=True)


def test_an_answer_counts_as_evidence_and_is_not_asked_again() -> None:
    trip_, table = case()
    test = trip_.library.failure_modes["fuse"].field_test
    after = posterior(table, answers={"fuse": (test, False)})
    assert after[1] == pytest.approx(
        table.prior[1] * 0.01 / (table.prior[1] * 0.01 + 0.99 * (table.prior[0] + table.prior[2]))
    )
    assert "fuse" not in [x.cause for x in next_look(table, trip_.library, answers={"fuse": (test, False)})]


def test_no_information_where_only_one_cause_is_left() -> None:
    table = Diagnosis("v", ("belt",), (), np.array([0.1]), np.zeros((0, 1)), np.zeros(0))
    trip_, _ = case()
    assert next_look(table, trip_.library)[0].bits == pytest.approx(0.0, abs=1e-12)
