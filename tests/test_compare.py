"""Two plans side by side: every difference is shown, nothing that is the same is called different, bad input is told plainly."""

from __future__ import annotations

import json
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from fieldkit.cli import cli
from fieldkit.compare import compare_plans, read_plan
from fieldkit.errors import InputFaults

PLAN: dict[str, Any] = {
    "format": 1,
    "trip": {
        "title": "Salt loop", "revision": "aaaa", "start": "2031-05-03", "days": 3, "km": 300.0, "people": 2,
        "currency": "units", "quick": True,
    },
    "vehicles": [
        {
            "id": "one", "name": "One",
            "readiness": {"as_found": "repair-first", "after_work": "fit-with-limits"},
            "loads": {"payload_left_kg": 40.0},
            "risks": [
                {"mode": "hose", "title": "Hose bursts", "chance": {"value": 0.1}, "hours_lost": 0.5, "hours_lost_without_kit": 4.0},
                {"mode": "belt", "title": "Belt breaks", "chance": {"value": 0.1}, "hours_lost": 0.2, "hours_lost_without_kit": 2.0},
                {"mode": "odd", "title": "Not in the kit's sum", "chance": {"value": 0.1}, "hours_lost": None, "hours_lost_without_kit": None},
            ],
        }
    ],
    "kit": {
        "items": [{"id": "hose-set", "quantity": 1}, {"id": "hose-set", "quantity": 1}, {"id": "drive-belt-set", "quantity": 1}],
        "mass_kg": 30.0, "must_carry_kg": 12.0, "hours_without": 9.0, "hours_with": 2.0,
        "limits": {"money": {"used": 250.0, "limit": 400.0}}, "proof": {"optimal": True, "gap": 0.0},
    },
    "workshop": [
        {"vehicle": "one", "title": "Fit new hoses", "hours": 2.0, "cost_low": 40.0, "cost_high": 80.0, "chosen": True},
        {"vehicle": "one", "title": "Fit a new belt", "hours": 1.0, "cost_low": 10.0, "cost_high": 20.0, "chosen": False},
    ],
    "trials": {"unassisted": 0.7, "stranded": 0.1, "hours_lost": 2.5},
}  # fmt: skip


def written(folder: Path, data: Any) -> Path:
    folder.mkdir(parents=True)
    (folder / "plan.json").write_text(json.dumps(data), encoding="utf-8")
    return folder


@pytest.fixture
def pair(tmp_path: Path) -> tuple[Path, Path]:
    """The plan above, and one without the work, with the hose spares left out."""
    other = deepcopy(PLAN)
    other["trip"]["revision"] = "bbbb"
    other["workshop"][0]["chosen"] = False
    other["vehicles"][0]["readiness"]["after_work"] = "repair-first"
    other["vehicles"][0]["risks"][0]["hours_lost"] = 3.5
    other["kit"]["items"] = other["kit"]["items"][2:]
    other["kit"]["proof"] = {"optimal": False, "gap": 0.004}
    return written(tmp_path / "with", PLAN), written(tmp_path / "without", other)


def run(*words: object) -> Result:
    return CliRunner().invoke(cli, ["compare", *map(str, words)])


def test_what_differs_is_shown_with_both_figures(pair: tuple[Path, Path]) -> None:
    found = compare_plans(*map(read_plan, pair), names={"hose-set": "set of hoses"})  # type: ignore[misc]
    assert [(r.what, r.first, r.second) for r in found.work] == [("One: Fit new hoses", 1, 0)]
    assert [(r.what, r.first, r.second) for r in found.items] == [("set of hoses", 2, 0)]
    assert [(r.what, r.first, r.second) for r in found.weak_points] == [("One: Hose bursts", 0.5, 3.5)]
    states = {r.what: r for r in dict(found.sections)["Fit to leave"]}
    assert states["One, as found"].same
    assert not states["One, after the work"].same
    kit = {r.what: (r.first, r.second) for r in dict(found.sections)["Kit"]}
    assert kit["workshop hours"] == (2.0, 0)
    assert kit["gap to the best possible"] == (0.0, 0.004)


def test_a_plan_does_not_differ_from_itself(pair: tuple[Path, Path]) -> None:
    one = read_plan(pair[0])
    found = compare_plans(one, one, names={})
    assert not (found.work or found.items or found.weak_points or found.notes)
    assert all(row.same for _, rows in found.sections for row in rows)


def test_a_vehicle_of_only_one_plan_is_shown(pair: tuple[Path, Path], tmp_path: Path) -> None:
    other = deepcopy(PLAN)
    other["vehicles"][0] |= {"id": "two", "name": "Two"}
    other["trip"] |= {"title": "Another loop", "quick": False}
    result = run(pair[0], written(tmp_path / "other", other))
    assert result.exit_code == 0, result.output
    assert f"  {'Two, as found':<34}{'not in it':<22}repair first" in result.output
    assert "two different trips" in result.output
    assert "made with --quick" in result.output


def test_the_terminal_keeps_to_80_columns(pair: tuple[Path, Path]) -> None:
    result = run(*pair)
    assert result.exit_code == 0, result.output
    assert max(map(len, result.output.splitlines())) <= 80
    assert f"  {'One: Fit new hoses':<34}{'done':<22}not done" in result.output
    assert f"{'proven best':<22}within 0.4 %" in result.output


def test_the_page_escapes_what_members_wrote_and_replaces_only_its_own(pair: tuple[Path, Path], tmp_path: Path) -> None:
    hostile = deepcopy(PLAN)
    hostile["vehicles"][0]["name"] = "<script>alert(1)</script>"
    other = written(tmp_path / "hostile", hostile)
    page = tmp_path / "out" / "two.html"
    for _ in range(2):
        assert run(pair[0], other, "-o", page).exit_code == 0
    text = page.read_text(encoding="utf-8")
    assert "<script" not in text
    assert "&lt;script&gt;alert(1)" in text
    mine = tmp_path / "mine.html"
    mine.write_text("my own page", encoding="utf-8")
    result = run(*pair, "-o", mine)
    assert result.exit_code == 1
    assert "was not made by 'compare'" in result.output
    assert mine.read_text(encoding="utf-8") == "my own page"


def test_every_fault_of_both_places_at_once(tmp_path: Path) -> None:
    broken = deepcopy(PLAN)
    del broken["trials"]
    broken["kit"]["mass_kg"] = "heavy"
    result = run(written(tmp_path / "broken", broken), tmp_path / "nowhere")
    assert result.exit_code == 1
    assert "trials: Field required" in result.output
    assert "kit.mass_kg" in result.output
    assert "nowhere: no plan.json here" in result.output


@pytest.mark.parametrize("text", ["", "[1]", '{"format": 9}', "\x00"])
def test_what_is_no_plan_is_refused(tmp_path: Path, text: str) -> None:
    place = tmp_path / "plan.json"
    place.write_text(text, encoding="utf-8")
    with pytest.raises(InputFaults):
        read_plan(place)


def test_without_the_workshop_nothing_is_chosen_and_the_revision_differs(tmp_path: Path) -> None:
    trip = tmp_path / "trip"
    runner = CliRunner()
    assert runner.invoke(cli, ["new", str(trip)]).exit_code == 0
    for out, words in (("full", []), ("bare", ["--no-workshop"])):
        result = runner.invoke(cli, ["plan", str(trip), "--quick", "-o", str(tmp_path / out), *words])
        assert result.exit_code == 0, result.output
    full, bare = (read_plan(tmp_path / out) for out in ("full", "bare"))
    assert any(w.chosen for w in full.workshop)
    assert not any(w.chosen for w in bare.workshop)
    assert full.trip.revision != bare.trip.revision
    assert full.kit.hours_with < bare.kit.hours_with
