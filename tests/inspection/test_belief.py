"""Findings are evidence: how sure the look is, who looked, and what came later."""

from __future__ import annotations

from datetime import date

import pytest
from small_case import exposure, loads, mode, trip

from fieldkit.inspection import beliefs
from fieldkit.inspection.belief import bayes
from fieldkit.inspection.result import Beliefs
from fieldkit.likelihood import hazards
from fieldkit.specs.trip import Trip

ARM = {"sudden": 0.5, "warning": "30000 km", "positions": 2, "position_names": ["left", "right"]}
EARLY, LATE = date(2027, 3, 1), date(2027, 3, 20)


def believed(*findings: tuple[object, ...]) -> tuple[Trip, Beliefs, float]:
    case = trip({"arm": mode(**ARM)}, findings=findings)
    hazard = hazards(case, exposure(), loads())
    return case, beliefs(case, hazard), hazard.modes[("wagon", "arm")].positions[0].prior_degraded


def test_sound_and_worn_follow_bayes() -> None:
    _, found, prior = believed(("wagon", "arm", "left", "sound"), ("wagon", "arm", "right", "worn"))
    left, right = found.by_key[("wagon", "arm")]
    assert left.degraded == pytest.approx(bayes(prior, 0.8, 0.1, False))
    assert right.degraded == pytest.approx(bayes(prior, 0.8, 0.1, True))
    assert left.degraded < prior < right.degraded
    assert (left.finding, right.finding) == ("sound", "worn")
    assert left.inspector == "A. Nyone"


def test_defective_is_surer_than_worn() -> None:
    _, worn, _ = believed(("wagon", "arm", "", "worn"))
    _, bad, _ = believed(("wagon", "arm", "", "defective"))
    key = ("wagon", "arm")
    assert bad.by_key[key][0].degraded > worn.by_key[key][0].degraded


def test_a_blank_position_means_all() -> None:
    _, found, _ = believed(("wagon", "arm", "", "worn"))
    one, other = found.by_key[("wagon", "arm")]
    assert one == other


def test_not_seen_leaves_the_prior() -> None:
    _, found, prior = believed(("wagon", "arm", "", "not-seen"))
    assert found.by_key[("wagon", "arm")][0].degraded == prior
    _, found, prior = believed(("wagon", "arm", "left", "sound"))
    assert found.by_key[("wagon", "arm")][1].degraded == prior
    assert found.by_key[("wagon", "arm")][1].finding == "not-seen"


def test_weak_points_nobody_looked_at_are_not_there() -> None:
    _, found, _ = believed()
    assert found.by_key == {}


def test_the_same_inspector_counts_once_and_the_later_look_stands() -> None:
    _, once, _ = believed(("wagon", "arm", "", "worn", {"date": LATE}))
    _, twice, _ = believed(("wagon", "arm", "", "worn", {"date": EARLY}), ("wagon", "arm", "", "worn", {"date": LATE}))
    assert once.by_key == twice.by_key
    _, mended, _ = believed(
        ("wagon", "arm", "", "worn", {"date": EARLY}), ("wagon", "arm", "", "sound", {"date": LATE})
    )
    assert mended.by_key[("wagon", "arm")][0].finding == "sound"
    same_day = believed(("wagon", "arm", "", "sound", {"date": LATE}), ("wagon", "arm", "", "worn", {"date": LATE}))[1]
    assert same_day.by_key[("wagon", "arm")][0].finding == "worn"


def test_two_named_inspectors_are_two_looks() -> None:
    both = (("wagon", "arm", "", "sound", {"inspector": "B. Oth"}), ("wagon", "arm", "", "sound"))
    _, found, prior = believed(*both)
    once = bayes(prior, 0.8, 0.1, False)
    assert found.by_key[("wagon", "arm")][0].degraded == pytest.approx(bayes(once, 0.8, 0.1, False))


def test_inspectors_who_differ_are_named() -> None:
    _, found, prior = believed(
        ("wagon", "arm", "left", "sound"), ("wagon", "arm", "left", "worn", {"inspector": "B. Oth"})
    )
    assert found.conflicts == ("wagon: Part worn, left: sound for A. Nyone, not for B. Oth",)
    left = found.by_key[("wagon", "arm")][0]
    assert left.finding == "worn"
    assert left.degraded == pytest.approx(bayes(bayes(prior, 0.8, 0.1, False), 0.8, 0.1, True))


def test_a_nameless_look_is_not_independent() -> None:
    """It counts only where it is worse than the named ones."""
    _, found, prior = believed(("wagon", "arm", "", "sound"), ("wagon", "arm", "", "sound", {"inspector": ""}))
    assert found.by_key[("wagon", "arm")][0].degraded == pytest.approx(bayes(prior, 0.8, 0.1, False))
    _, worse, _ = believed(("wagon", "arm", "", "sound"), ("wagon", "arm", "", "worn", {"inspector": ""}))
    assert worse.by_key[("wagon", "arm")][0].finding == "worn"


def test_renewed_ends_what_was_found_before() -> None:
    _, found, _ = believed(
        ("wagon", "arm", "", "defective", {"date": EARLY}), ("wagon", "arm", "", "renewed", {"date": LATE})
    )
    assert found.by_key[("wagon", "arm")][0].finding == "renewed"
    assert found.by_key[("wagon", "arm")][0].degraded == 0.0
