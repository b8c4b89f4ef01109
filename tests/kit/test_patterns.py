"""Failure patterns: stock that two failures may share is counted by how often they come together, and its bound is told when asked for."""

from __future__ import annotations

import shutil
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner

from fieldkit.cli import cli
from fieldkit.kit import solve
from fieldkit.kit.demand import Needs
from fieldkit.kit.patterns import pattern_program
from fieldkit.kit.program import UNITS, Column, Program, make_program
from fieldkit.kit.sample import Events
from fieldkit.plan import PlanOptions, make_plan
from fieldkit.specs.library import Library
from fieldkit.specs.read_library import shipped_folder
from fieldkit.specs.read_trip import load_trip
from fieldkit.trials import trial_runs

BLANK = shipped_folder("vehicle_specs") / "example_trips" / "blank"


def one_spare_for_two(packs: int) -> Any:
    """Failures a (4 h saved) and b (2 h saved) that take one pack of the same spare each; so many packs weigh what may be carried."""
    demands = [
        SimpleNamespace(
            members=(("v", mode),),
            chains=((0,),),
            chain_needs=lambda _: Needs({}, {0: UNITS}),
            saved=np.full((1, 1, 1), hours),
        )
        for mode, hours in (("a", 4.0), ("b", 2.0))
    ]
    entry = SimpleNamespace(name="spare", item="spare", needed=0)
    catalogue = SimpleNamespace(entries=[entry], refused=frozenset(), stand_ins={})
    budget = SimpleNamespace(
        weights=np.array([[500], [0], [0]]),
        with_must=lambda: np.array([500 * packs, 0, 0]),
        needed=np.zeros(1, np.int64),
        free=np.zeros(1, np.int64),
    )
    members = {("v", "a"): None, ("v", "b"): None}
    return SimpleNamespace(demands=demands, members=members, catalogue=catalogue, budget=budget)


def four_trips() -> Events:
    """Nothing fails; a fails; a and b fail; b fails."""
    trip, member = np.array([1, 2, 2, 3]), np.array([0, 0, 1, 1])
    return Events(trip, member, np.zeros(4, np.int64), np.zeros(4, np.int64), np.zeros(4))


def plain(packs: int) -> Program:
    """The same as the plain program has it: each fails on two trips of four, and each planned repair has its own stock."""
    columns = [Column(0, 2000, {}, {0: UNITS}), Column(1, 1000, {}, {0: UNITS})]
    return make_program(["spare"], [UNITS], ["mass"], [[500]], [500 * packs], columns)


@pytest.mark.parametrize(("packs", "shared", "apart"), [(0, 0, 0), (1, 2500, 2000), (2, 3000, 3000)])
def test_two_failures_that_seldom_meet_share_a_spare(packs: int, shared: int, apart: int) -> None:
    """By hand, over four trips: one pack serves a, then a of a and b, then b: (4 + 4 + 2) / 4 h; two packs serve all: 12 / 4 h."""
    found = solve(pattern_program(one_spare_for_two(packs), four_trips(), 4))
    assert found.objective == found.bound == shared
    assert solve(plain(packs)).objective == apart


def test_trips_on_which_nothing_fails_have_no_patterns() -> None:
    nothing = np.zeros(0, np.int64)
    events = Events(nothing, nothing, nothing, nothing, np.zeros(0))
    assert solve(pattern_program(one_spare_for_two(1), events, 4)).objective == 0


def test_the_bound_asked_for_lies_below_what_trips_lose(library: Library, tmp_path: Path) -> None:
    """Nobody gives out stock better than one who knows what is coming: within noise the plan's repairs from real stock lose no less."""
    trip = load_trip(Path(shutil.copytree(BLANK, tmp_path / "trip")), library)
    plan = make_plan(trip, PlanOptions(foresight=True))
    assert plan.kit.tried is not None
    least = plan.kit.tried.foresight_hours
    assert least is not None
    runs = trial_runs(trip, plan.exposure, plan.risks, plan.kit, 20_000, seed=7, policy="plan-shared")
    assert 0.0 < least <= runs.hours_lost + 4.0 * runs.standard_error["hours_lost"]
    assert least < plan.kit.hours_without
    assert any("no kit of these limits gets below" in note for note in plan.kit.notes)


def test_a_bound_and_a_quick_plan_do_not_go_together() -> None:
    told = CliRunner().invoke(cli, ["plan", "somewhere", "--quick", "--foresight"])
    assert told.exit_code == 2
    assert "not both" in told.output
