"""Secondary damage: totals, evidence, and rounds that must be refused or must not."""

from __future__ import annotations

import numpy as np
import pytest
from small_case import exposure, library, loads, mode, trip

from fieldkit.errors import InputFaults
from fieldkit.likelihood import hazards, risks
from fieldkit.likelihood.cascade import cascade, combined_evidence, damage_matrix, library_faults


def damage(target: str, probability: float, driven: bool = False) -> list[dict[str, object]]:
    return [{"mode": target, "probability": probability, "if_driven_on": driven}]


def test_totals_follow_every_path() -> None:
    """a -> b -> c and a -> c: c gets 0.5 * 0.5 + 0.2 of a."""
    matrix = damage_matrix(["a", "b", "c"], [("a", "b", 0.5), ("b", "c", 0.5), ("a", "c", 0.2)])
    total, shares = cascade(np.array([[0.1, 0.2], [0.0, 0.0], [0.0, 0.0]]), matrix)
    assert total[2] == pytest.approx([0.045, 0.09])
    assert shares[0, 2] == pytest.approx(0.45)


def test_a_shrinking_round_is_not_amplifying() -> None:
    """A pump widens its own gap, and pump and housing wear each other: a wear loop, refused by nobody."""
    matrix = damage_matrix(
        ["pump", "housing"], [("pump", "pump", 0.3), ("pump", "housing", 0.6), ("housing", "pump", 0.5)]
    )
    total, _ = cascade(np.array([0.1, 0.0]), matrix)
    assert total[0] == pytest.approx(0.1 / (1 - 0.3 - 0.3))


def test_an_amplifying_round_is_refused_by_name() -> None:
    with pytest.raises(InputFaults) as odd:
        damage_matrix(["hub", "shaft", "stop"], [("hub", "shaft", 1.0), ("shaft", "hub", 1.0), ("stop", "hub", 0.2)])
    assert str(odd.value) == (
        "failure_modes: damage goes round and grows: hub -> shaft -> hub; "
        "expected probabilities in 'damages' whose rounds shrink (product below 1)"
    )


def test_a_library_with_an_amplifying_round_is_refused_when_risks_are_asked_for() -> None:
    modes = {
        "hub": mode(damages=damage("shaft", 1.0)),
        "shaft": mode(damages=[*damage("hub", 0.7), *damage("shaft", 0.5)]),
    }
    assert [f.found for f in library_faults(library(modes))] == ["damage goes round and grows: hub -> shaft -> hub"]
    case = trip(modes)
    with pytest.raises(InputFaults, match="hub -> shaft -> hub"):
        risks(case, hazards(case, exposure(), loads()))


def test_evidence_of_a_sum_weighs_each_root() -> None:
    """k' = mu^2 / sum (part^2 / k): equal halves of k = 2 make k' = 4."""
    shares = np.array([[1.0, 0.5], [0.0, 1.0]])
    own = np.array([0.2, 0.1])
    assert combined_evidence(own, shares, np.array([2.0, 2.0])).tolist() == pytest.approx([2.0, 4.0])


def test_a_lost_bump_stop_raises_damper_failure() -> None:
    """Common practice, no source."""
    modes = {
        "bump-stop": mode(severity="nuisance", damages=damage("damper", 0.3, True)),
        "damper": mode(severity="limp"),
    }
    case = trip(modes)
    found = risks(case, hazards(case, exposure(), loads()))
    damper = found.by_key[("wagon", "damper")]
    stop = found.by_key[("wagon", "bump-stop")]
    assert damper.from_others.sum() == pytest.approx(-np.log(1 - 0.3 * stop.expected.value))
    assert damper.story[-1].label == "damage from other failures"
    assert damper.story[-1].factor > 1
    assert found.damage_edges == (("wagon", "bump-stop", "damper", 0.3),)


def test_damage_that_needs_driving_on_is_smaller_after_a_stop() -> None:
    def extra(severity: str) -> float:
        modes = {"first": mode(severity=severity, damages=damage("then", 0.3, True)), "then": mode()}
        case = trip(modes)
        return float(risks(case, hazards(case, exposure(), loads())).by_key[("wagon", "then")].from_others.sum())

    assert extra("nuisance") > extra("limp") > extra("disabled") > 0
