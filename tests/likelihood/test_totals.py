"""Totals: one weak point exactly, many against a simulation of the factors, by vehicle, leg and subsystem."""

from __future__ import annotations

import numpy as np
import pytest
from small_case import Function, exposure, library, loads, mode, trip, vehicle

from fieldkit.likelihood import any_of, count_tail, hazards, risks, whole_trip
from fieldkit.likelihood.totals import functions_lost, mean_hazard


def test_one_sure_weak_point_is_its_own_chance() -> None:
    case = trip({"part": mode(failures_worth=1e9)})
    found = risks(case, hazards(case, exposure(), loads()))
    mean = mean_hazard(found.by_key[("wagon", "part")])
    shared = 1 / ((9 / 8) * (21 / 20) - 1)
    assert any_of(found, case, exposure()).value == pytest.approx(
        float(count_tail(1, mean, 1, shared, shared)), rel=1e-6
    )


def test_matched_gamma_is_within_a_percent_of_simulated_factors() -> None:
    """Twelve weak points, two vehicles, two common causes: every factor drawn.

    The chance is within 1 %; a Gamma is wider to the left than a product of factors, so its ends are held to 12 % and must not
    be narrower.
    """
    groups = [[], ["heat"], ["heat", "driver"]]
    modes = {
        f"m{i}": mode(life=f"{80_000 + 9_000 * i} km", causes_in_common=groups[i % 3], failures_worth=1 + i % 4)
        for i in range(12)
    }
    case = trip(
        modes, [vehicle("one"), vehicle("two", age={"odometer": "90000 km", "years": 7, "history_known": True})]
    )
    found = risks(case, hazards(case, exposure(), loads("one", "two")))
    rng, n = np.random.default_rng(5), 200_000

    def factor(k: float) -> np.ndarray:
        return rng.gamma(k, 1 / k, n)

    cause = {"heat": factor(6.0), "driver": factor(4.0)}
    common, own_vehicle = factor(20.0), {"one": factor(8.0), "two": factor(8.0)}
    total = np.zeros(n)
    for (owner, key), risk in found.by_key.items():
        theta = factor(modes[key].failures_worth) * own_vehicle[owner] * common
        for group in modes[key].causes_in_common:
            theta = theta * cause[group]
        total += theta * mean_hazard(risk)
    chance = -np.expm1(-total)
    ours = any_of(found, case, exposure())
    assert ours.value == pytest.approx(chance.mean(), rel=0.01)
    low, high = np.quantile(chance, [0.1, 0.9])
    assert 0.88 * low < ours.low < 1.01 * low
    assert 0.99 * high < ours.high < 1.12 * high


def test_what_does_not_disable_is_not_counted() -> None:
    modes = {"stop": mode(), "rattle": mode(severity="nuisance")}
    case = trip(modes)
    found = risks(case, hazards(case, exposure(), loads()))
    only = risks(case, hazards(trip({"stop": mode()}), exposure(), loads()))
    assert any_of(found, case, exposure()) == any_of(only, case, exposure())
    assert any_of(found, case, exposure(), severities=("nuisance",)).value > 0


def test_severity_by_what_the_leg_needs() -> None:
    """A lost front drive disables only where four driven wheels are needed; these legs need two and highway speed."""
    case = trip({"front": mode(severity="nuisance", severity_where={"highway": "disabled"})})
    found = risks(case, hazards(case, exposure(), loads()))
    assert any_of(found, case, exposure(), legs=(0,)).value == 0.0
    assert any_of(found, case, exposure(), legs=(1,)).value == any_of(found, case, exposure()).value > 0


def test_parts_of_the_whole_never_exceed_it() -> None:
    modes = {"a": mode(), "b": mode(life="60000 km")}
    lib = library(modes, subsystem_of={"a": "suspension", "b": "brakes"}, subsystems={"suspension": "S", "brakes": "B"})
    case = trip(lib, [vehicle("one"), vehicle("two")])
    found = risks(case, hazards(case, exposure(), loads("one", "two")))
    said = whole_trip(case, found, exposure())
    whole = said["disabling"].value  # type: ignore[attr-defined]
    by_vehicle, by_leg, by_subsystem = said["by_vehicle"], said["by_leg"], said["by_subsystem"]
    assert all(v["disabling"].value < whole for v in by_vehicle.values())  # type: ignore[attr-defined]
    assert all(x.value < whole for x in by_leg)  # type: ignore[attr-defined]
    assert set(by_subsystem) == {"suspension", "brakes"}  # type: ignore[call-overload]
    assert by_subsystem["brakes"].value > by_subsystem["suspension"].value  # type: ignore[index]


def test_a_function_is_lost_when_every_way_is() -> None:
    modes = {"front-shaft": mode(function="front-drive"), "rear-shaft": mode(function="rear-drive"), "other": mode()}
    both = Function(name="drive", ways=("front-drive", "rear-drive"), loss_of_all="disabled", why="No axle drives.")
    case = trip(library(modes, functions={"drive": both}))
    found = risks(case, hazards(case, exposure(), loads()))
    one = found.by_key[("wagon", "front-shaft")].chance.value
    assert functions_lost(case, found, "wagon") == {"drive": pytest.approx(one**2)}
