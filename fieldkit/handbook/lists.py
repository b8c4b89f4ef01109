"""Checklists: a declared way of use and trigger, short chunks, an end line, and boxes to tick."""

from __future__ import annotations

from typing import Any

from fieldkit.handbook.facts import Facts, Page
from fieldkit.handbook.markup import inline

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
    chunks = [
        {"title": c.get("title", ""), "lines": _lines(facts, n, c["item"])} for n, c in enumerate(_parts(data), 1)
    ]
    context = {
        "id": key,
        "mode": data["mode"],
        "how": MODES[data["mode"]],
        "trigger": inline(data["trigger"]),
        "chunks": [c for c in chunks if c["lines"]],
        "complete": facts.words["words"]["list_complete"],
        "tried": data.get("tried") or facts.words["words"]["not_tried"],
        "vehicles": [{"id": v.id, "name": v.name} for v in facts.vehicles],
    }
    return Page(f"lists/{key}", data["title"], "checklist.html", "lists", context)


def _parts(data: dict[str, Any]) -> list[dict[str, Any]]:
    return list(data["part"]) if "part" in data else [{"title": "", "item": data.get("item", [])}]


def _lines(facts: Facts, part: int, items: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Lines that a vehicle of the trip has the part for, along the way round the vehicle."""
    ordered = sorted(items, key=lambda i: i.get("station", 0))
    return [
        {
            "id": f"{part}-{n}",
            "object": inline(item["object"]),
            "state": inline(item["state"]),
            "why": inline(item.get("why", "")),
        }
        for n, item in enumerate(ordered, 1)
        if _suits(facts, item)
    ]


def _suits(facts: Facts, item: dict[str, Any]) -> bool:
    needs = set(item.get("needs", ()))
    return not needs or any(needs <= facts.features[v.id] for v in facts.vehicles)
