"""One page per weak point: how it fails, how likely that is here, how to look, what mends it."""

from __future__ import annotations

from typing import Any

from fieldkit.handbook.facts import Facts, Page
from fieldkit.handbook.markup import inline
from fieldkit.handbook.symptoms import severity_words
from fieldkit.handbook.words import day_text
from fieldkit.specs.library import FailureMode, WorkshopOption


def weak_point_pages(facts: Facts) -> list[Page]:
    """The index by chapter and one page each."""
    return [_index(facts), *(_page(facts, m) for m in facts.modes_in_order)]


def _index(facts: Facts) -> Page:
    chapters = []
    for chapter, name in facts.library.subsystems.items():
        refs = [
            {**facts.mode_ref(m), "vehicles": facts.names_together([v.name for v in facts.vehicles if facts.has(v, m)])}
            for m in facts.modes_in_order
            if facts.library.subsystem_of.get(m) == chapter
        ]
        if refs:
            chapters.append({"id": chapter, "name": name, "modes": refs})
    title = facts.words["titles"]["weak_points"]
    return Page("weak-points/index", title, "weak_points.html", "weak_points", {"chapters": chapters})


def _page(facts: Facts, mode_id: str) -> Page:
    mode = facts.mode(mode_id)
    vehicles = [v for v in facts.vehicles if facts.has(v, mode_id)]
    context = {
        "id": mode_id,
        "chapter_name": facts.chapter_name(facts.library.subsystem_of.get(mode_id, "")),
        "item": mode.item,
        "mode": mode.mode,
        "severity": severity_words(facts, mode),
        "severity_where": [
            (facts.words.label("needs", need), facts.words.label("severities", severity))
            for need, severity in mode.severity_where.items()
        ],
        "mechanism": inline(mode.mechanism),
        "effects": inline(mode.effects),
        "vehicles": [_on_vehicle(facts, v.id, v.name, mode_id) for v in vehicles],
        "symptoms": [
            {
                "key": f"symptoms/{s.id}",
                "text": facts.library.symptoms[s.id].text,
                "shows": facts.words.chance(s.probability),
            }
            for s in sorted(mode.symptoms, key=lambda s: -s.probability)
            if s.id in facts.library.symptoms
        ],
        "inspection": _inspection(facts, mode),
        "test": {"question": inline(mode.field_test.question), "minutes": mode.field_test.minutes},
        "repairs": [facts.repair_ref(p) for p in facts.repairs_of.get(mode_id, ())],
        "workshop": [_option(facts, o) for o in mode.workshop],
        "damages": [
            {**facts.mode_ref(d.mode), "chance": facts.words.chance(d.probability), "if_driven_on": d.if_driven_on}
            for d in mode.damages
        ],
        "raised_by": [
            facts.mode_ref(m) for m in facts.modes_in_order if any(d.mode == mode_id for d in facts.mode(m).damages)
        ],
        "evidence": mode.evidence,
        "positions": list(mode.position_names),
    }
    return Page(
        f"weak-points/{mode_id}", mode.title, "weak_point.html", "weak_points", context,
        also=(mode.item, mode.mode), about=tuple(v.id for v in vehicles),
    )  # fmt: skip


def _on_vehicle(facts: Facts, vehicle: str, name: str, mode: str) -> dict[str, Any]:
    risk = facts.risk(vehicle, mode)
    return {
        "key": f"vehicles/{vehicle}/index",
        "anchor": mode,
        "name": name,
        "chance": facts.words.chance_figure(risk.chance.value, risk.chance.low, risk.chance.high) if risk else None,
        "findings": findings_of(facts, vehicle, mode),
    }


def findings_of(facts: Facts, vehicle: str, mode: str) -> list[dict[str, str]]:
    """What was found, by whom and when, newest first."""
    return [
        {
            "position": f.position,
            "finding": f.finding,
            "date": day_text(f.date),
            "inspector": f.inspector or "no name given",
            "measured": f.measured,
            "note": f.note,
        }
        for f in sorted(facts.trip.findings, key=lambda f: (f.date, f.line), reverse=True)
        if f.vehicle == vehicle and f.failure_mode == mode
    ]


def _inspection(facts: Facts, mode: FailureMode) -> dict[str, Any] | None:
    look = mode.inspection
    if look is None:
        return None
    return {
        "how": inline(look.how),
        "accept": inline(look.accept),
        "minutes": look.minutes,
        "station": facts.words.label("stations", look.station),
        "sure": facts.words.chance(look.detects),
        "tools": [facts.item_name(t) for t in look.tools],
        "measured": look.measured,
    }


def _option(facts: Facts, option: WorkshopOption) -> dict[str, Any]:
    return {
        "title": option.title,
        "hours": option.hours,
        "cost": f"{option.cost_low:.0f} to {option.cost_high:.0f} {facts.trip.head.currency}",
        "lead_weeks": option.lead_weeks,
        "grade": option.grade,
        "stress": [(facts.mode(m).title, factor) for m, factor in sorted(option.stress.items())],
        "gives_up": inline(option.gives_up),
        "legality": inline(option.legality),
    }
