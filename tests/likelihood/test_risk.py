"""Findings, damage and counts by leg come together; the story still multiplies exactly."""

from __future__ import annotations

import numpy as np
import pytest
from small_case import exposure, loads, mode, trip, vehicle

from fieldkit.likelihood import hazards, risks
from fieldkit.likelihood.result import Risks
from fieldkit.specs.trip import Trip

WARNS = {"sudden": 0.3, "warning": "20000 km", "positions": 4}


def small(**beliefs: list[float]) -> tuple[Trip, Risks]:
    modes = {
        "arm": mode(**WARNS, damages=[{"mode": "damper", "probability": 0.2, "if_driven_on": False}]),
        "damper": mode(severity="limp", positions=2, causes_in_common=["corrugations"]),
        "cut": mode(clock="event", rates={"rough": 1.0}, repair="patches"),
    }
    case = trip(modes)
    found = hazards(case, exposure(), loads())
    return case, risks(case, found, {("wagon", k): v for k, v in beliefs.items()})


def test_figures_by_leg_and_count_add_up() -> None:
    _, found = small(arm=[0.5, 0.1, 0.1, 0.1])
    for risk in found.by_key.values():
        assert risk.by_leg.sum() == pytest.approx(risk.expected.value)
        assert risk.weights.min() >= 0
        assert risk.weights.sum(axis=0) == pytest.approx(risk.by_leg, abs=1e-3)  # counts beyond the sixth are dropped
        assert risk.weights[0].sum() == pytest.approx(risk.chance.value)
        assert risk.expected.low <= risk.expected.value <= risk.expected.high
        assert risk.chance.low <= risk.chance.value <= risk.chance.high


def test_story_multiplies_to_the_trip_figure() -> None:
    for _, found in (small(), small(arm=[0.9, 0.05, 0.05, 0.05])):
        for risk in found.by_key.values():
            assert np.prod([s.factor for s in risk.story]) == pytest.approx(risk.expected.value, rel=1e-9)


def test_a_found_fault_raises_and_a_pass_lowers() -> None:
    _, plain = small()
    _, worn = small(arm=[0.95] * 4)
    _, sound = small(arm=[0.02] * 4)
    key = ("wagon", "arm")
    assert sound.by_key[key].expected.value < plain.by_key[key].expected.value < worn.by_key[key].expected.value
    step = next(s for s in worn.by_key[key].story if s.label == "what the look found")
    assert step.factor > 1
    damper = ("wagon", "damper")
    assert sound.by_key[damper].expected.value < worn.by_key[damper].expected.value


def test_without_a_finding_the_mixture_at_p0_is_used() -> None:
    _, plain = small()
    prior = plain.by_key[("wagon", "arm")].degraded
    assert prior == tuple(p.prior_degraded for p in plain.by_key[("wagon", "arm")].hazard.positions)
    _, said = small(arm=list(prior))
    assert said.by_key[("wagon", "arm")].expected == plain.by_key[("wagon", "arm")].expected


def test_ranges_widen_with_every_shared_factor() -> None:
    """1 + 1/k_eff = (1 + 1/k)(1 + 1/8)(1 + 1/20), and a common cause on top."""
    _, found = small()
    cut = found.by_key[("wagon", "cut")]
    assert cut.failures_worth == pytest.approx(1 / (1.5 * (9 / 8) * (21 / 20) - 1))
    modes = {"part": mode(causes_in_common=["corrugations"])}
    case = trip(modes)
    shared = risks(case, hazards(case, exposure(), loads())).by_key[("wagon", "part")]
    assert shared.failures_worth == pytest.approx(1 / (1.5 * (9 / 8) * (21 / 20) * (7 / 6) - 1))


def test_learning_narrows_and_moves() -> None:
    case = trip({"cut": mode(clock="event", rates={"rough": 1.0}, repair="patches")}, learned={"cut": (42.0, 22.0)})
    risk = risks(case, hazards(case, exposure(), loads())).by_key[("wagon", "cut")]
    assert risk.expected.value == pytest.approx(0.4 * 42 / 22)
    _, plain = small()
    before = plain.by_key[("wagon", "cut")].expected
    assert risk.expected.high / risk.expected.low < before.high / before.low


def test_vehicles_do_not_touch_each_other() -> None:
    modes = {"part": mode(damages=[{"mode": "other", "probability": 0.5}]), "other": mode()}
    one = trip(modes, [vehicle("one")])
    both = trip(
        modes, [vehicle("one"), vehicle("two", age={"odometer": "900000 km", "years": 60, "history_known": True})]
    )
    alone = risks(one, hazards(one, exposure(), loads("one")))
    together = risks(both, hazards(both, exposure(), loads("one", "two")))
    assert alone.by_key[("one", "other")].expected == together.by_key[("one", "other")].expected


def test_same_input_same_figures() -> None:
    one, two = small()[1], small()[1]
    assert list(one.by_key) == list(two.by_key)
    for key, risk in one.by_key.items():
        assert risk.expected == two.by_key[key].expected
        assert (risk.weights == two.by_key[key].weights).all()
