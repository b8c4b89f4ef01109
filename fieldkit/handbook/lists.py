"""Checklists: a declared way of use and trigger, short chunks, an end line, and boxes to tick."""

from __future__ import annotations

from typing import Any

from fieldkit.handbook.facts import Facts, Page
from fieldkit.handbook.markup import inline
from fieldkit.specs.checklists import along_the_walk, fits, pauses, seconds

MODES = {
    "READ-DO": "Read a line, do it, tick it.",
    "DO-CONFIRM": "Do it from habit, then read the list and confirm each line.",
}


def list_pages(facts: Facts) -> list[Page]:
    """The index of checklists and one page each."""
    found = checklists(facts)
    refs = [{"key": f"lists/{key}", "title": data["title"], "trigger": data["trigger"]} for key, data in found.items()]
    index = Page("lists/index", facts.words["titles"]["lists"], "lists.html", "lists", {"lists": refs})
    return [index, *(_page(facts, key, data) for key, data in found.items())]


def checklists(facts: Facts) -> dict[str, dict[str, Any]]:
    return {
        name.removeprefix("checklist-"): data
        for name, data in sorted(facts.library.settings.items())
        if name.startswith("checklist-")
    }


def _page(facts: Facts, key: str, data: dict[str, Any]) -> Page:
    parts = enumerate(pauses(data), 1)
    chunks = [chunk for n, part in parts if (chunk := _chunk(facts, n, part))["lines"]]
    context = {
        "id": key,
        "mode": data["mode"],
        "how": MODES[data["mode"]],
        "trigger": inline(data["trigger"]),
        "chunks": chunks,
        "complete": facts.words["words"]["list_complete"],
        "tried": data.get("tried") or facts.words["words"]["not_tried"],
        "vehicles": [{"id": v.id, "name": v.name} for v in facts.vehicles],
    }
    return Page(f"lists/{key}", data["title"], "checklist.html", "lists", context)


def _chunk(facts: Facts, part: int, data: dict[str, Any]) -> dict[str, Any]:
    """One pause point: the lines that a vehicle of the trip has the part for, along the way round the vehicle."""
    lines = [(n, item) for n, item in enumerate(along_the_walk(data["item"]), 1) if _suits(facts, item)]
    title = data.get("title", "")
    return {
        "title": title,
        "trigger": inline(data.get("trigger", "")),
        "seconds": seconds([item for _, item in lines]),
        "end": f"{part}-complete" if title else "complete",
        "lines": [
            {
                "id": f"{part}-{n}",
                "object": inline(item["object"]),
                "state": inline(item["state"]),
                "why": inline(item.get("why", "")),
            }
            for n, item in lines
        ],
    }


def _suits(facts: Facts, item: dict[str, Any]) -> bool:
    return any(fits(item, facts.features[v.id]) for v in facts.vehicles)
