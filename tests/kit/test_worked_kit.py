"""docs/model.md and the program say the same of the worked trip's kit: every K figure is read from the page and worked out again."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest

from fieldkit.exposure import expose
from fieldkit.inspection import beliefs
from fieldkit.kit import KitOptions, choose_kit
from fieldkit.kit.case import make_case
from fieldkit.likelihood import hazards, risks
from fieldkit.loads import weigh
from fieldkit.route import trip_route
from fieldkit.specs.read_library import load_library
from fieldkit.specs.read_trip import load_trip

ROOT = Path(__file__).parent.parent
ROW = re.compile(r"^\| (K\d+) \| .+ \| ([-\d.e+]+) \|$", re.M)
PRINTED = dict(ROW.findall((ROOT.parent / "docs" / "model.md").read_text(encoding="utf-8")))


@cache
def figures() -> dict[str, float]:
    """Every K figure from the program."""
    worked = ROOT / "data" / "worked"
    trip = load_trip(worked / "trip", load_library(base=worked / "library"))
    loads = weigh(trip)
    exposure = expose(trip, trip_route(trip), loads)
    hazard = hazards(trip, exposure, loads)
    risk = risks(trip, hazard, beliefs(trip, hazard).degraded)
    case = make_case(trip, exposure, risk, loads)
    kit = choose_kit(trip, exposure, risk, loads, (), KitOptions(curve_step_kg=1.0))
    hose, damper, tyre = (case.worths[("wagon", m)] for m in ("hose", "damper", "tyre-cut"))
    problem = case.problem()
    by_mode = {d.members[0][1]: (d, c) for d, c in zip(problem.demands, problem.counted, strict=True)}
    saved = {m: d.saved[0, 0] for m, (d, _) in by_mode.items()}
    weights = {m: c.weights for m, (_, c) in by_mode.items()}
    gains = {
        (problem.demands[c].members[0][1], k): int(problem.program.benefit[j])
        for j, (c, k, _) in enumerate(problem.columns)
    }
    first, _ = exposure.legs
    at_7 = next(p for p in kit.curve if p.mass_kg == 7)
    values = [
        first.out_h, first.back_h, *hose.loss, *damper.loss, tyre.loss[0],
        *saved["hose"], *saved["damper"], saved["tyre-cut"][0],
        *weights["hose"][0], *weights["damper"][0], *weights["damper"][1], *weights["tyre-cut"][0],
        gains[("hose", 1)], gains[("damper", 1)], gains[("damper", 2)], gains[("tyre-cut", 1)],
        kit.hours_without, kit.proof.objective, kit.hours_with, kit.mass_kg, at_7.hours_lost,
    ]  # fmt: skip
    assert kit.proof.optimal
    assert {(i.item, i.quantity) for i in kit.items} == {("spanner-set", 1), ("spare-damper", 1), ("spare-hose", 1)}
    return {f"K{n}": float(v) for n, v in enumerate(values, 1)}


def test_the_page_has_every_figure() -> None:
    assert set(PRINTED) == set(figures())


@pytest.mark.parametrize("name", sorted(PRINTED, key=lambda n: int(n[1:])))
def test_a_figure_of_the_page_is_the_programs(name: str) -> None:
    """Printed to six digits; whole where it is rounded to whole thousandths."""
    assert figures()[name] == pytest.approx(float(PRINTED[name]), rel=1e-5)
