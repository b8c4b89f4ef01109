"""The inputs that move a total most are found, and named as people say them."""

from __future__ import annotations

from small_case import exposure, loads, mode, modification, trip, vehicle

from fieldkit.likelihood import hazards, risks, what_moves
from fieldkit.likelihood.moves import disabling
from fieldkit.likelihood.risk import expected_by_leg


def test_the_largest_inputs_come_first_and_undo_exactly() -> None:
    heavy = ("bar", modification(name="steel bar", stress={"arm": 3.0}), {"since_km": "200000 km"})
    modes = {"arm": mode(drivers={"mass": 1.0}), "rattle": mode(severity="nuisance", life="20000 km")}
    case = trip(modes, [vehicle(parts=[heavy])])
    weighed = loads(ratios={"mass": 1.05})
    moves = what_moves(case, exposure(), weighed, "wagon")
    labels = [m.label for m in moves]
    assert labels[0] == "400 km of rough"
    assert labels.index("steel bar") < labels.index("laden mass")
    plain = trip(modes)
    without = disabling(plain, expected_by_leg(plain, hazards(plain, exposure(), weighed)), exposure())
    bar = next(m for m in moves if m.label == "steel bar")
    assert bar.without == without
    assert bar.change > 0


def test_no_more_than_asked_for() -> None:
    case = trip({"arm": mode()})
    assert len(what_moves(case, exposure(), loads(), "wagon", most=1)) == 1


def test_the_quick_means_are_those_of_the_risks() -> None:
    modes = {"arm": mode(damages=[{"mode": "bolt", "probability": 0.5, "if_driven_on": False}]), "bolt": mode()}
    case = trip(modes)
    means = hazards(case, exposure(), loads())
    full, quick = risks(case, means), expected_by_leg(case, means)
    assert list(quick) == list(full.by_key)
    for key, found in quick.items():
        assert found.tolist() == full.by_key[key].by_leg.tolist()


def test_care_moves_what_the_driver_can_help_and_is_named() -> None:
    modes = {"cut": mode(causes_in_common=["driver"]), "arm": mode()}
    expected = {}
    for care in ("careful", "usual", "hard"):
        case = trip(modes, driving={"care": care})
        found = risks(case, hazards(case, exposure(), loads()))
        expected[care] = found.by_key[("wagon", "cut")].expected.value
        arm = found.by_key[("wagon", "arm")].expected.value
        assert arm == expected.setdefault("arm", arm)
        labels = [m.label for m in what_moves(case, exposure(), loads(), "wagon", most=99)]
        assert (f"{care} driving" in labels) is (care != "usual")
    assert expected["careful"] < expected["usual"] < expected["hard"]
