"""What must hold for any valid input: chances, chains of trips, stress, looks."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from small_case import exposure, leg, loads, mode, trip, vehicle

from fieldkit.inspection.belief import bayes
from fieldkit.inspection.look import Stakes, look_value
from fieldkit.likelihood import count_tail, hazards, risks
from fieldkit.likelihood.counts import count_positions
from fieldkit.likelihood.delay import means, under_stress
from fieldkit.likelihood.result import Wear
from fieldkit.likelihood.weibull import expected_failures, renewals

shapes = st.sampled_from([0.6, 0.9, 1.0, 1.4, 2.0, 3.0, 4.5, 8.0])
lives = st.floats(1.0, 1e6)
shares = st.floats(0.0, 1.0)
worths = st.sampled_from([0.5, 1.0, 2.0, 7.0, 50.0, np.inf])
wears = st.builds(
    lambda shape, age, duty, warning, warned, kind, early: Wear(
        life=1.0,
        shape=shape,
        warning=warning if shape >= 1 else None,
        warned=warned,
        kind=kind,
        age=age,
        spread=0.0,
        duty=np.cumsum(duty),
        km=np.cumsum(duty),
        early=early,
    ),
    shapes,
    st.floats(0.0, 12.0),
    st.lists(st.floats(0.0, 1.5), min_size=1, max_size=4),
    st.floats(0.001, 2.0),
    shares,
    st.sampled_from(["known", "unknown", "steady"]),
    st.floats(0.0, 0.2),
)


@given(wears)
def test_means_are_finite_and_never_fall_along_the_legs(wear: Wear) -> None:
    found = means([wear])
    for mean in (found.own, found.sound, found.degraded):
        assert np.isfinite(mean).all()
        assert (mean >= -1e-12).all()
        assert (np.diff(mean, axis=1) >= -1e-9).all()
    assert 0 <= found.prior[0] <= 0.9


@given(wears)
def test_sound_and_degraded_average_back_to_the_prior(wear: Wear) -> None:
    """At the middle estimate, wherever nothing is capped or smoothed."""
    found = means([replace(wear, early=0.0)])
    own, sound, worn = (-np.expm1(-m[0]) for m in (found.own, found.sound, found.degraded))
    mixed = found.prior[0] * worn + (1 - found.prior[0]) * sound
    if found.own.max() < 20 and wear.kind == "known" and wear.shape >= 1:
        assert np.allclose(mixed, own, atol=1e-9)


@given(wears, st.floats(1.0, 4.0))
def test_more_stress_on_the_trip_never_lowers_a_chance(wear: Wear, factor: float) -> None:
    """For a sound history and a shape of 1 or more: seen sound, seen worn, or not looked at."""
    if wear.kind != "known" or wear.shape < 1:
        return
    less, more = means([wear]), means([under_stress(wear, factor)])
    for before, after in ((less.own, more.own), (less.sound, more.sound), (less.degraded, more.degraded)):
        assert (after >= before - 1e-9).all()


@given(shapes, st.floats(0.0, 20.0), st.floats(0.0, 3.0), st.floats(0.0, 3.0))
def test_two_trips_chained_are_one(shape: float, age: float, first: float, second: float) -> None:
    one = expected_failures(age, first + second, 1.0, shape)
    two = expected_failures(age, first, 1.0, shape) + expected_failures(age + first, second, 1.0, shape)
    assert np.isclose(one, two, rtol=1e-9, atol=1e-9)
    unknown = [float(renewals(x, shape)) for x in (age, age + first, age + first + second)]
    assert unknown[0] <= unknown[1] + 1e-12 <= unknown[2] + 2e-12


@given(shapes, st.floats(0.0, 5.0), st.floats(0.0, 2.0), st.floats(0.1, 3.0))
def test_older_is_never_likelier_to_last_when_wear_grows(shape: float, age: float, older: float, duty: float) -> None:
    young, old = expected_failures(age, duty, 1.0, shape), expected_failures(age + older, duty, 1.0, shape)
    if shape > 1:
        assert old >= young - 1e-9
    elif shape == 1:
        assert np.isclose(old, young)
    else:
        assert old <= young + 1e-9


@given(st.integers(0, 8), st.floats(0.0, 60.0), st.integers(0, 6), worths)
def test_tails_are_chances_that_fall_with_the_count(count: int, mean: float, positions: int, worth: float) -> None:
    here, more = (float(count_tail(c, mean, positions, worth, worth)) for c in (count, count + 1))
    assert 0.0 <= more <= here + 1e-12 <= 1.0 + 2e-12


@given(
    st.integers(1, 4),
    st.lists(st.floats(0.0, 3.0), min_size=4, max_size=4),
    st.lists(shares, min_size=4, max_size=4),
    st.floats(0.0, 1.0),
    st.booleans(),
    worths,
)
def test_counts_of_any_mixture_are_chances(
    positions: int, sound: list[float], share: list[float], others: float, renews: bool, worth: float
) -> None:
    fine = np.array(sound[:positions])[:, None] * np.array([0.4, 1.0])
    found = count_positions(
        fine, 2.5 * fine, np.array(share[:positions]), np.full_like(fine, others), renews, (worth, worth), 6
    )
    assert (found.tails >= 0).all()
    assert (found.tails <= 1 + 1e-12).all()
    assert (np.diff(found.tails, axis=0) <= 1e-12).all()
    assert (np.diff(found.tails, axis=1) >= -1e-9).all()
    assert (found.mean >= found.tails.sum(axis=0) - 1e-9).all()


@given(st.floats(0.0, 1.0), shares, shares, st.lists(st.tuples(*[st.floats(0.0, 200.0)] * 3), min_size=1, max_size=4))
def test_a_look_is_never_worth_less_than_nothing(
    q: float, hit: float, alarm: float, hours: list[tuple[float, ...]]
) -> None:
    look = SimpleNamespace(detects=hit, false_alarm=alarm)
    stakes = [Stakes(min(a, b), max(a, b), c) for a, b, c in hours]
    value = look_value(q, look, stakes)  # type: ignore[arg-type]
    assert value >= 0.0
    assert value <= sum(s.least(q) for s in stakes) + 1e-9


@given(shares, shares, shares)
def test_outcomes_of_a_look_average_back(prior: float, hit: float, alarm: float) -> None:
    found = prior * hit + (1 - prior) * alarm
    after = found * bayes(prior, hit, alarm, True) + (1 - found) * bayes(prior, hit, alarm, False)
    assert np.isclose(after, prior, atol=1e-9)


@given(st.lists(st.floats(1.0, 400.0), min_size=2, max_size=5), st.floats(0.0, 0.9))
def test_splitting_a_leg_changes_nothing(kms: list[float], where: float) -> None:
    """One leg cut in two of the same day and surface: figures of the whole trip and of every other leg stand."""
    modes = {
        "arm": mode(
            sudden=0.4, warning="9000 km", positions=2, early_life=0.01, damages=[{"mode": "cut", "probability": 0.2}]
        ),
        "cut": mode(clock="event", rates={"rough": 0.7, "day": 0.02}, repair="patches"),
        "hose": mode(clock="days", life=None, life_days="9 years", channels={}, shape=3.0),
    }
    renewed = [{"failure_mode": "arm", "km": "199950 km", "positions": ["1"]}]
    case = trip(modes, [vehicle(renewed=renewed)], days=len(kms))
    ends = np.cumsum([0.0, *kms])
    whole = [leg(i, km, "rough" if i % 2 else "sealed", ends[i], day=i + 1) for i, km in enumerate(kms)]
    first, cut = whole[0], kms[0] * (0.05 + where)
    halves = [
        replace(first, to_km=cut, hours=cut / 50),
        replace(first, from_km=cut, hours=(kms[0] - cut) / 50, index=1),
    ]
    split = [*halves, *[replace(x, index=x.index + 1) for x in whole[1:]]]
    if cut >= kms[0]:
        return
    one = risks(case, hazards(case, exposure(whole), loads()))
    two = risks(case, hazards(case, exposure(split), loads()))
    for key, risk in one.by_key.items():
        assert np.isclose(risk.expected.value, two.by_key[key].expected.value, rtol=1e-9)
        assert np.allclose(risk.by_leg[1:], two.by_key[key].by_leg[2:], rtol=1e-7, atol=1e-12)
        assert np.isclose(risk.by_leg[0], two.by_key[key].by_leg[:2].sum(), rtol=1e-9)
