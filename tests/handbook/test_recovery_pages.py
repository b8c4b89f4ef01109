"""Recovery figures: what is tried first said once for its slopes; loads beyond a rating and parts without a mark said as they are."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from html_tools import main, text, tree

from fieldkit.handbook.facts import Facts
from fieldkit.handbook.recovery_pages import recovery_pages
from fieldkit.handbook.render import render_bodies
from fieldkit.recovery.result import RigPart


def page_of(facts: Any, **changes: Any) -> Any:
    """The context of Tern's page with its figures changed."""
    recovery = facts.plan.recovery
    vehicles = tuple(replace(v, **changes) if v.vehicle == "tern" else v for v in recovery.vehicles)
    plan = SimpleNamespace(**{**vars(facts.plan), "recovery": replace(recovery, vehicles=vehicles)})
    changed = Facts(plan, facts.words)
    return changed, next(p for p in recovery_pages(changed) if p.key == "recovery/tern")


def tern(facts: Any) -> Any:
    return next(v for v in facts.plan.recovery.vehicles if v.vehicle == "tern")


def test_slopes_that_begin_alike_stand_under_one_line(facts: Any) -> None:
    """A phone shows what to try once for its slopes, not once a slope."""
    table = (
        ("sand", 0.0, "none", 100.0, 200.0, "let down"),
        ("sand", 5.0, "none", 150.0, 250.0, "let down"),
        ("sand", 20.0, "none", 300.0, 450.0, "let down, unload"),
        ("sand", 0.0, "rim", 900.0, 1800.0, "dig"),
    )
    _, page = page_of(facts, table=table)
    (surface,) = page.context["surfaces"]
    said = [(b["depth"], b["method"], [r["slope"] for r in b["rows"]]) for b in surface["blocks"]]
    assert said == [
        ("none", "let down", ["0°", "5°"]),
        ("none", "let down, unload", ["20°"]),
        ("rim", "dig", ["0°"]),
    ]
    assert surface["blocks"][2]["rows"][0]["pull"] == "900 to 1,800 kg"


def test_a_load_beyond_its_rating_keeps_its_size(facts: Any) -> None:
    """4,185 kg on what holds 1,537 kg is 272 %, not 100 %."""
    rig = replace(tern(facts).rigs[0], parts=(RigPart("held vehicle", 4185.0, 1537.0),), fits=False)
    _, page = page_of(facts, rigs=(rig,))
    assert page.context["rigs"][0]["parts"][0]["used"] == "272 %"


def test_a_part_without_a_mark_is_never_called_within_its_rating(facts: Any, built: Path) -> None:
    """The rig's line names what carries no mark: such a part does not go into a rig."""
    assert "Every part is within its rating." in text(main(built / "recovery" / "tern.html"))
    rig = replace(tern(facts).rigs[0], parts=(RigPart("winch", 800.0, 4000.0), RigPart("anchor", 1500.0, None)))
    changed, page = page_of(facts, rigs=(rig,))
    said = " ".join(str(b.html) for b in render_bodies(changed, [page]))
    assert "Every part is within its rating" not in said
    assert "anchor: not marked, not known." in said


def test_the_page_heads_its_groups_for_readers_too(built: Path) -> None:
    heads = [th for th in tree(built / "recovery" / "tern.html").iter("th") if th.get("scope") == "rowgroup"]
    assert [text(h) for h in heads] == ["Bogged to the rim First try: boards"]
