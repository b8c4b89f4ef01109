"""The inputs that move a total most are found, and named as people say them."""

from __future__ import annotations

from small_case import exposure, loads, mode, modification, trip, vehicle

from fieldkit.likelihood import hazards, risks, what_moves
from fieldkit.likelihood.moves import disabling


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
    without = disabling(plain, risks(plain, hazards(plain, exposure(), weighed)), exposure())
    bar = next(m for m in moves if m.label == "steel bar")
    assert bar.without == without
    assert bar.change > 0


def test_no_more_than_asked_for() -> None:
    case = trip({"arm": mode()})
    assert len(what_moves(case, exposure(), loads(), "wagon", most=1)) == 1
