"""Emergency pages: one stream, one side of a sheet, values worked out for this trip."""

from __future__ import annotations

from collections.abc import Sequence

from fieldkit.handbook.facts import Facts, Page, Spot, text_title
from fieldkit.handbook.lists import checklists
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
        "then": [inline(t) for t in (*data.then, *(data.alone if len(facts.vehicles) == 1 else data.in_convoy))],
        "never": [inline(t) for t in data.never],
        "values": [row for name in data.values for row in _value(facts, name)],
        "tell": list(facts.words["help_call"]["tell"]) if data.tell else [],
        "onward": _onward(facts, data),
        "call_title": _settings(facts)["overdue"].title,
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
        "worst": [("Longest wait", longest_wait(facts)), ("Water in hand", facts.plan.exposure.remoteness.worst)],
    }
    return [{"label": label, "text": text} for label, text in known.get(name, []) if text]


def _gear(facts: Facts, item: str) -> list[dict[str, str]]:
    """Where a thing lies, or what stands in for it; that it is not packed only where neither is aboard."""
    known = facts.library.items.get(item)
    if known is None:
        return []
    aboard = [i for i in (item, *known.substitutes) if facts.spots.get(i)]
    shown = aboard[:1] if item in aboard else aboard or [item]
    return [{"label": _first_upper(facts.item_name(i)), "text": _where(facts, facts.spots.get(i, ()))} for i in shown]


def _where(facts: Facts, spots: Sequence[Spot]) -> str:
    """Places with the vehicles that have the thing there, each place once: short enough to be read out."""
    places: dict[tuple[str, tuple[str, ...]], dict[str, None]] = {}
    for s in spots:
        places.setdefault((s.place_name, s.suits), {})[s.vehicle_name] = None
    said = [f"{', '.join(names)}: {place}{_only_for(facts, suits)}" for (place, suits), names in places.items()]
    return "; ".join(said) or facts.words["words"]["not_packed"]


def _only_for(facts: Facts, suits: Sequence[str]) -> str:
    return f" (only for {facts.meant_for(suits)})" if suits else ""


def _first_upper(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def _onward(facts: Facts, data: Emergency) -> list[dict[str, str]]:
    """Pages to go to afterwards, by the name that also stands on their sheet of paper."""
    library = facts.library
    found = [
        {"key": f"symptoms/{s}", "title": library.symptoms[s].text} for s in data.symptoms if s in library.symptoms
    ]
    for procedure in facts.numbered:
        if procedure.id in data.repairs:
            title = f"{procedure.head.title} (repair {facts.numbers[procedure.id]})"
            found.append({"key": f"repairs/{procedure.id}", "title": title})
    titles = {f"rules/{k}": text_title(facts, k) for k in library.texts}
    titles |= {f"lists/{k}": str(v["title"]) for k, v in checklists(facts).items()}
    return found + [{"key": key, "title": titles[key]} for key in data.pages if key in titles]


def _medical(facts: Facts) -> str:
    points = [h for h in facts.trip.head.help if "medical" in h.kind]
    return "; ".join(f"{h.name} ({h.open})" for h in points) or "none on this route: call"


def _water(facts: Facts) -> str:
    spots = facts.spots.get("drinking-water", ())
    per_day = facts.plan.exposure.supplies.water_l_per_person_day
    return f"{round(per_day, 1):g} L a day for each person. {_where(facts, spots) if spots else ''}".strip()


def longest_wait(facts: Facts) -> str:
    """The longest time until help can be with people in need, and until it stands beside a dead vehicle, in words."""
    exposure = facts.plan.exposure
    vehicle = hours(max(leg.out_h for leg in exposure.legs))
    help_h = exposure.remoteness.help_h
    if help_h is None or not len(help_h):
        return f"{vehicle} for a dead vehicle"
    at = int(help_h.argmax())
    people = f"{hours(float(help_h[at]))} for people in need (km {exposure.remoteness.km[at]:.0f})"
    return f"{people}; {vehicle} for a dead vehicle"
