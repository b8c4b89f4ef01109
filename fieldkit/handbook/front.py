"""The first page, the list of what to print, and the A to Z."""

from __future__ import annotations

from typing import Any

from fieldkit.handbook.emergencies import emergency_refs, longest_wait
from fieldkit.handbook.facts import Facts, Page
from fieldkit.handbook.vehicles import state_words, vehicle_ref
from fieldkit.handbook.words import Figure, day_text, in_words


def front_page(facts: Facts) -> Page:
    """Emergencies first, then finding a fault, then everything else."""
    head, trials = facts.trip.head, facts.plan.trials
    context = {
        "emergencies": emergency_refs(facts),
        "vehicles": [
            {**vehicle_ref(facts, v), **state_words(facts, facts.plan.readiness[v.id])} for v in facts.vehicles
        ],
        "start": day_text(head.start),
        "days": head.days,
        "people": head.party.people,
        "length": f"{facts.plan.route.length_km:.0f} km",
        "unassisted": Figure(in_words(trials.unassisted), f"{trials.unassisted:.3g} of the trial runs"),
        "wait": longest_wait(facts),
        "kit_mass": f"{facts.plan.kit.mass_kg:.0f} kg",
        "front": facts.words["front"],
        "stamp": facts.stamp,
        "chapters": _chapters(facts),
        "print_words": facts.words["print"]["must_have"],
        "leader": bool(head.private and facts.trip.private),
    }
    return Page("index", facts.words["titles"]["index"], "index.html", "index", context)


def _chapters(facts: Facts) -> list[dict[str, Any]]:
    titles = facts.words["titles"]
    counts = {
        "repairs/index": f"{len(facts.numbered)} repairs",
        "weak-points/index": f"{len(facts.library.failure_modes)} weak points",
        "symptoms/index": f"{len(facts.library.symptoms)} symptoms",
        "vehicles/index": f"{len(facts.vehicles)} vehicle{'s' if len(facts.vehicles) > 1 else ''}",
    }
    keys = (
        ("symptoms/index", "symptoms"), ("repairs/index", "repairs"), ("vehicles/index", "vehicles"), ("stock", "stock"),
        ("lists/index", "lists"), ("trip/route", "route"), ("trip/convoy", "convoy"), ("trip/card", "card"),
        ("recovery/index", "recovery"), ("rules/index", "rules"), ("weak-points/index", "weak_points"), ("kit", "kit"),
        ("workshop/index", "workshop"), ("trip/papers", "papers"), ("a-to-z", "a_to_z"), ("print/index", "print"), ("method", "method"),
    )  # fmt: skip
    return [{"key": key, "title": titles[name], "count": counts.get(key, "")} for key, name in keys]


def a_to_z(facts: Facts, pages: list[Page]) -> Page:
    """Every page and its other names in one alphabet: the search for paper, and for phones that run no scripts."""
    entries: dict[tuple[str, str], dict[str, str]] = {}
    for page in pages:
        for name in dict.fromkeys((page.title, *page.also)):
            if name and page.key != "index":
                entries[(name.lower(), page.key)] = {"name": name, "key": page.key, "chapter": page.chapter}
    letters: dict[str, list[dict[str, str]]] = {}
    for (sort_name, _), entry in sorted(entries.items()):
        first = sort_name[:1].upper()
        letters.setdefault(first if first.isalpha() else "0-9", []).append(entry)
    context = {"letters": [{"letter": k, "entries": v} for k, v in letters.items()], "titles": facts.words["titles"]}
    return Page("a-to-z", facts.words["titles"]["a_to_z"], "a_to_z.html", "a_to_z", context)


def print_page(facts: Facts) -> Page:
    """What is worth printing, and the ready-made sets."""
    context = {
        "must_have": facts.words["print"]["must_have"],
        "vehicles": [vehicle_ref(facts, v) for v in facts.vehicles],
        "sheets": [
            {"key": "trip/card", "title": facts.words["titles"]["card"]},
            {"key": "trip/route", "title": facts.words["titles"]["route"]},
            {"key": "trip/convoy", "title": facts.words["titles"]["convoy"]},
            {"key": "workshop/index", "title": facts.words["titles"]["workshop"]},
            {"key": "print/workshop", "title": facts.words["words"]["workshop_set"]},
        ],
    }
    return Page("print/index", facts.words["titles"]["print"], "print.html", "print", context, in_book=False)
