"""How the figures were made: every formula in words, every source, and what is judgement."""

from __future__ import annotations

from typing import Any

from fieldkit.handbook.facts import Facts, Page
from fieldkit.handbook.library_texts import text_body


def method_page(facts: Facts) -> Page:
    """The method with its sources; addresses are printed as text."""
    context = {
        "text": text_body(facts, "method"),
        "sources": _sources(facts),
        "quick": bool(getattr(facts.plan.options, "quick", False)),
        "climate": facts.trip.head.climate.source,
        "warnings": list(facts.trip.warnings),
        "tried": facts.words["words"]["not_tried"],
    }
    return Page("method", facts.words["titles"]["method"], "method.html", "method", context)


def _sources(facts: Facts) -> list[dict[str, Any]]:
    """Each evidence text of the library's numbers with how many entries rest on it."""
    library = facts.library
    groups: dict[str, dict[str, int]] = {}
    for kind, entries in (
        ("weak points", library.failure_modes.values()),
        ("gear", library.items.values()),
        ("surfaces", library.surfaces.values()),
        ("builds", library.archetypes.values()),
        ("fitted parts", library.modifications.values()),
        ("matching sets", library.matching.values()),
        ("must-carry rules", library.must_carry.values()),
    ):
        for entry in entries:
            found = groups.setdefault(entry.evidence, {})
            found[kind] = found.get(kind, 0) + 1
    for procedure in library.procedures.values():
        found = groups.setdefault(procedure.head.evidence, {})
        found["field repairs"] = found.get("field repairs", 0) + 1
    ordered = sorted(groups.items(), key=lambda g: (-sum(g[1].values()), g[0]))
    return [{"evidence": text, "uses": ", ".join(f"{n} {k}" for k, n in uses.items())} for text, uses in ordered]
