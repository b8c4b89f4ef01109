"""One lookup of what a vehicle has: features that follow from its figures count like stated ones."""

from __future__ import annotations

from small_case import exposure, loads, mode, trip, vehicle

from fieldkit.likelihood import hazards
from fieldkit.likelihood.hazard import has_part
from fieldkit.loads.fitted_tyres import derived_features, features_of
from fieldkit.specs.trip import DERIVED_FEATURES


def test_a_weak_point_may_hang_on_a_derived_feature() -> None:
    tall = vehicle(tyres={"size": "305/80R16"})
    found = derived_features(tall)
    assert "tyres-10-percent-taller" in found
    modes = {
        "rub": mode(needs=["tyres-10-percent-taller"]),
        "tall-free": mode(without=["tyres-10-percent-taller"]),
        "winch": mode(needs=["winch"]),
    }
    assert [has_part(m, features_of(tall)) for m in modes.values()] == [True, False, False]
    assert [tall.may_have(m) for m in modes.values()] == [True, True, False]
    assert list(hazards(trip(modes, [tall]), exposure(), loads()).modes) == [("wagon", "rub")]


def test_the_reader_knows_every_derived_feature() -> None:
    odd = vehicle(tyres={"size": "305/80R16", "spare_size": "215/75R15"})
    assert derived_features(odd) <= DERIVED_FEATURES
    assert len(DERIVED_FEATURES) == 5
