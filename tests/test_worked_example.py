"""docs/model.md and the program say the same: every figure of the worked trip is read from the page and worked out again."""

from __future__ import annotations

import re
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from fieldkit.exposure import expose
from fieldkit.exposure.result import Exposure
from fieldkit.inspection import beliefs
from fieldkit.inspection.result import Beliefs
from fieldkit.likelihood import any_of, hazards, risks
from fieldkit.likelihood.ranges import factor_range
from fieldkit.likelihood.result import Hazards, Risks
from fieldkit.likelihood.totals import mean_hazard
from fieldkit.likelihood.weibull import cumulative_hazard, hazard_rate
from fieldkit.loads import weigh
from fieldkit.loads.result import Loads
from fieldkit.route import trip_route
from fieldkit.specs.read_library import load_library
from fieldkit.specs.read_trip import load_trip
from fieldkit.specs.trip import Trip

HERE = Path(__file__).parent
ROW = re.compile(r"^\| (W\d+) \| .+ \| ([-\d.e+]+) \|$", re.M)


@cache
def page() -> dict[str, str]:
    """Every figure of the page by its number, as printed."""
    text = (HERE.parent / "docs" / "model.md").read_text(encoding="utf-8")
    rows = ROW.findall(text)
    assert len(dict(rows)) == len(rows), "a number stands twice"
    return dict(rows)


@cache
def worked() -> tuple[Trip, Loads, Exposure, Hazards, Beliefs, Risks]:
    trip = load_trip(HERE / "data" / "worked" / "trip", load_library(base=HERE / "data" / "worked" / "library"))
    loads = weigh(trip)
    exposure = expose(trip, trip_route(trip), loads)
    hazard = hazards(trip, exposure, loads)
    belief = beliefs(trip, hazard)
    return trip, loads, exposure, hazard, belief, risks(trip, hazard, belief.degraded)


def _vehicle() -> dict[str, float]:
    _, loads, _, hazard, *_ = worked()
    return {
        "W1": loads["wagon"].states["with-budget"].gross_kg,
        "W2": loads["wagon"].ratios["mass"],
        "W3": hazard.modes[("wagon", "damper")].wear_ratio,
    }


def _duty() -> dict[str, float]:
    _, _, exposure, hazard, *_ = worked()
    hose, damper = (hazard.modes[("wagon", m)].positions[0].wear for m in ("hose", "damper"))
    assert hose and damper
    vibration, heat = exposure.intensity[0, 1], exposure.intensity[3, 1]
    return {
        "W4": hose.duty[0],
        "W5": hose.duty[1] - hose.duty[0],
        "W6": 0.8 * vibration + 0.2 * heat,
        "W7": damper.duty[0],
        "W8": damper.duty[1] - damper.duty[0],
    }


def _hose() -> dict[str, float]:
    *_, hazard, belief, found = worked()
    position = hazard.modes[("wagon", "hose")].positions[0]
    wear, risk = position.wear, found.by_key[("wagon", "hose")]
    assert wear
    unseen = risks(worked()[0], hazard).by_key[("wagon", "hose")]
    figures = {
        "W9": float(cumulative_hazard(wear.age, wear.life, wear.shape)),
        "W10": position.own[0],
        "W11": position.own[1],
        "W12": float(hazard_rate(wear.age, wear.life, wear.shape)),
        "W13": position.prior_degraded,
        "W24": belief.by_key[("wagon", "hose")][0].degraded,
        "W25": risk.by_leg[0],
        "W26": risk.chance.value,
        "W27": risk.by_leg[1],
        "W28": unseen.chance.value,
    }
    for leg in (0, 1):
        chance = [-np.expm1(-m[leg]) for m in (position.own, position.degraded, position.sound)]
        names = [f"W{14 + 5 * leg + i}" for i in range(5)]
        figures.update(zip(names, [*chance, position.sound[leg], position.degraded[leg]], strict=True))
    return figures


def _dampers() -> dict[str, float]:
    *_, hazard, _, found = worked()
    positions, risk = hazard.modes[("wagon", "damper")].positions, found.by_key[("wagon", "damper")]
    once = risk.weights.sum(axis=1)
    return {
        "W29": positions[0].own[0],
        "W30": positions[0].own[1],
        "W31": sum(p.own[1] for p in positions),
        **{f"W{32 + i}": once[i] for i in range(4)},
        "W36": risk.expected.value,
        "W37": risk.weights[0, 1],
    }


def _tyres() -> dict[str, float]:
    *_, found = worked()
    risk = found.by_key[("wagon", "tyre-cut")]
    once = risk.weights.sum(axis=1)
    return {"W38": risk.by_leg[0], "W39": risk.by_leg.sum(), "W40": once[0], "W41": once[1], "W42": risk.expected.value}


def _ranges() -> dict[str, float]:
    trip, _, exposure, _, _, found = worked()
    risk = found.by_key[("wagon", "hose")]
    low, high = factor_range(risk.failures_worth)
    return {
        "W43": risk.failures_worth,
        "W44": low,
        "W45": high,
        "W46": risk.chance.low,
        "W47": risk.chance.high,
        "W48": mean_hazard(risk),
        "W49": any_of(found, trip, exposure, vehicle="wagon").value,
    }


def _story() -> dict[str, float]:
    *_, found = worked()
    steps = [s.factor for s in found.by_key[("wagon", "damper")].story]
    return {**{f"W{50 + i}": step for i, step in enumerate(steps)}, "W55": float(np.prod(steps))}


PARTS: tuple[Callable[[], dict[str, float]], ...] = (_vehicle, _duty, _hose, _dampers, _tyres, _ranges, _story)


def test_every_figure_of_the_page_is_held() -> None:
    held = {name for part in PARTS for name in part()}
    assert held == set(page())


@pytest.mark.parametrize("part", PARTS, ids=lambda p: p.__name__.strip("_"))
def test_figures_are_those_of_the_page(part: Callable[[], dict[str, float]]) -> None:
    for name, value in part().items():
        printed = page()[name]
        digits = len(re.sub(r"e.*|[-.]", "", printed).lstrip("0"))
        assert value == pytest.approx(float(printed), rel=0.51 * 10.0 ** (1 - max(digits, 6))), (name, printed, value)
