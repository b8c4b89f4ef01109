"""Emergency pages: one stream, one side of a sheet, values worked out for this trip."""

from __future__ import annotations

from fieldkit.handbook.facts import Facts, Page
from fieldkit.handbook.markup import inline
from fieldkit.handbook.settings import Emergency, EmergencySettings
from fieldkit.handbook.words import hours
from fieldkit.specs.settings import read_settings


def emergency_pages(facts: Facts) -> list[Page]:
    """One page per emergency, in the settings' order (most urgent first)."""
    return [_index(facts), *(_page(facts, key, data) for key, data in _settings(facts).items())]


def emergency_refs(facts: Facts) -> list[dict[str, str]]:
    """The list for the first screen: what you see, and the page."""
    return [{"key": f"emergency/{k}", "title": d.title} for k, d in _settings(facts).items()]


def _settings(facts: Facts) -> dict[str, Emergency]:
    return read_settings("emergencies", EmergencySettings, facts.library).emergency


def _index(facts: Facts) -> Page:
    """The first minute of every emergency on one sheet: the fallback on paper."""
    boxes = [
        {"key": f"emergency/{k}", "title": d.title, "now": [inline(t) for t in d.now]}
        for k, d in _settings(facts).items()
    ]
    title = facts.words["titles"]["emergencies"]
    return Page("emergency/index", title, "emergency_index.html", "emergencies", {"boxes": boxes})


def _page(facts: Facts, key: str, data: Emergency) -> Page:
    context = {
        "now": [inline(t) for t in data.now],
        "then": [inline(t) for t in data.then],
        "never": [inline(t) for t in data.never],
        "values": [row for name in data.values for row in _value(facts, name)],
        "tell": list(facts.words["help_call"]["tell"]) if data.tell else [],
    }
    return Page(f"emergency/{key}", data.title, "emergency.html", "emergencies", context)


def _value(facts: Facts, name: str) -> list[dict[str, str]]:
    """A named value of the trip as label and text; nothing where the trip does not know it."""
    comms = facts.trip.head.comms
    if name.startswith("gear:"):
        return [row for item in name[5:].split() for row in _gear(facts, item)]
    known = {
        "call": [("Call", comms.shore_contact), ("Channel", comms.channel)],
        "medical": [("Medical help", _medical(facts))],
        "water": [("Water", _water(facts))],
        "worst": [("Help", facts.plan.exposure.remoteness.worst)],
    }
    return [{"label": label, "text": text} for label, text in known.get(name, []) if text]


def _gear(facts: Facts, item: str) -> list[dict[str, str]]:
    spots = facts.spots.get(item, ())
    if item not in facts.library.items:
        return []
    text = "; ".join(f"{s.vehicle_name}, {s.place_name}" for s in spots) or facts.words["words"]["not_packed"]
    name = facts.item_name(item)
    return [{"label": f"{name[:1].upper()}{name[1:]}", "text": text}]


def _medical(facts: Facts) -> str:
    points = [h for h in facts.trip.head.help if "medical" in h.kind]
    return "; ".join(f"{h.name} ({h.open})" for h in points) or "none on this route: call"


def _water(facts: Facts) -> str:
    spots = facts.spots.get("drinking-water", ())
    per_day = facts.plan.exposure.supplies.water_l_per_person_day
    places = "; ".join(f"{s.vehicle_name}, {s.place_name}" for s in spots)
    return f"{per_day:.0f} L a day for each person. {places}".strip()


def longest_wait(facts: Facts) -> str:
    """The longest time until help stands beside a dead vehicle, in words."""
    return hours(max(leg.out_h for leg in facts.plan.exposure.legs))
