"""Pages of the field repairs, in the fixed order of the form."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from functools import lru_cache
from typing import Any

from markupsafe import Markup

from fieldkit.handbook.facts import Facts, Page, RepairTitles, Spot, text_title
from fieldkit.handbook.markup import Step, html_of, inline, lines_of_list, steps_of, values_in
from fieldkit.handbook.words import minutes
from fieldkit.specs.library import Hazard, Procedure
from fieldkit.specs.trip import Vehicle

SIGNAL_ORDER = ("DANGER", "WARNING", "CAUTION", "NOTICE")
REPEATS_TO_TOP = 3
SHORT_COMMAND = 8  # words
BEFORE_UNDER = "before-going-under"


def repair_pages(facts: Facts) -> list[Page]:
    """One page per field repair, and their index by chapter."""
    return [_index(facts), *(_page(facts, p) for p in facts.numbered)]


def _index(facts: Facts) -> Page:
    chapters = []
    for chapter, name in facts.library.subsystems.items():
        refs = [_listed(facts, p) for p in facts.numbered if p.subsystem == chapter]
        if refs:
            chapters.append({"id": chapter, "name": name, "repairs": refs})
    return Page("repairs/index", facts.words["titles"]["repairs"], "repairs.html", "repairs", {"chapters": chapters})


def _listed(facts: Facts, procedure: Procedure) -> dict[str, Any]:
    ref = facts.repair_ref(procedure)
    covered = [c["vehicle"] for c in ref["cover"] if not c["lacks"]]
    short = [c["vehicle"] for c in ref["cover"] if c["lacks"]]
    return {
        **ref,
        "covered": covered,
        "short": short,
        "lacks": next((c["lacks"] for c in ref["cover"] if c["lacks"]), []),
    }


def _page(facts: Facts, procedure: Procedure) -> Page:
    head, number = procedure.head, facts.numbers[procedure.id]
    vehicles = facts.suits(procedure.id)
    top, by_step = place_hazards(head.hazards, len(steps_of(procedure.sections["Steps"])))
    context = {
        "id": procedure.id,
        "number": number,
        "chapter_name": facts.chapter_name(procedure.subsystem),
        "kind": facts.words.label("kinds", head.kind),
        "kind_id": head.kind,
        "kind_meaning": facts.words.label("kind_meanings", head.kind),
        "applies_to": inline(head.applies_to),
        "cover": _together(facts, facts.repair_ref(procedure)["cover"]),
        "vehicles": [v.name for v in vehicles],
        "modes": [facts.mode_ref(m) for m in head.repairs],
        "when": section(facts, procedure, "When to use"),
        "not_for": section(facts, procedure, "Not for"),
        "slots": slots(facts, procedure, vehicles),
        "hazards": top,
        "standing_only": head.standing_rules_only,
        "raised": _raised(facts, procedure),
        "steps": _numbered_steps(procedure, by_step),
        "values": _values(procedure),
        "check": section(facts, procedure, "Check"),
        "held": _held(procedure),
        "limits": limits(facts, procedure),
        "leaves": facts.words.label("leaves", head.leaves),
        "afterwards": close_up(facts, procedure),
        "fails": section(facts, procedure, "If it fails"),
        "on_return": section(facts, procedure, "On return"),
        "holds": facts.words.chance_figure(head.holds),
        "trained": head.skill == "trained",
        "evidence": head.evidence,
    }
    return Page(
        f"repairs/{procedure.id}",
        head.title,
        "repair.html",
        "repairs",
        context,
        also=tuple(facts.mode(m).title for m in head.repairs),
        about=tuple(v.id for v in vehicles),
    )


def _held(procedure: Procedure) -> bool:
    """Whether something holds the vehicle that must come away before a check that moves it."""
    held = {"wheel-chocks", "axle-stand", "bottle-jack"} & set(procedure.head.tools)
    return bool(held) or any("chock" in line.lower() for line in procedure.head.conditions)


def _raised(facts: Facts, procedure: Procedure) -> dict[str, str] | None:
    """The rule to read before a vehicle is raised, where this repair takes a jack or a stand."""
    if BEFORE_UNDER not in facts.library.texts or not {"bottle-jack", "axle-stand"} & set(procedure.head.tools):
        return None
    return {"key": f"rules/{BEFORE_UNDER}", "title": text_title(facts, BEFORE_UNDER)}


# ------------------------------------------------------------------------------------------ hazards
def hazard_box(messages: list[Hazard]) -> dict[str, Any]:
    """Messages in one box: it takes the highest signal word of those in it."""
    word = min((m.word for m in messages), key=SIGNAL_ORDER.index)
    return {"word": word, "alert": word != "NOTICE", "messages": [_message(m) for m in messages]}


def _message(hazard: Hazard) -> dict[str, Any]:
    """The first command leads where it is short; then what the hazard is and what happens."""
    first, rest = hazard.avoid[0], hazard.avoid[1:]
    lead = first if len(first.split()) <= SHORT_COMMAND else ""
    return {
        "lead": inline(lead),
        "hazard": inline(hazard.hazard),
        "consequence": inline(hazard.consequence),
        "avoid": [inline(a) for a in (rest if lead else hazard.avoid)],
    }


def place_hazards(hazards: tuple[Hazard, ...], steps: int) -> tuple[list[dict[str, Any]], dict[int, dict[str, Any]]]:
    """Boxes before step 1, one per signal word, and boxes right before their step.

    A message that would stand at three steps or more, or at a step that is not there, moves to the top.
    """
    texts = [h.hazard for h in hazards if h.step]
    often = {t for t in texts if texts.count(t) >= REPEATS_TO_TOP}
    top: dict[str, list[Hazard]] = {}
    by_step: dict[int, list[Hazard]] = {}
    for hazard in hazards:
        if hazard.step and hazard.step <= steps and hazard.hazard not in often:
            by_step.setdefault(hazard.step, []).append(hazard)
        elif hazard.hazard not in [h.hazard for h in top.get(hazard.word, [])]:
            top.setdefault(hazard.word, []).append(hazard)
    boxes = [hazard_box(top[word]) for word in SIGNAL_ORDER if word in top]
    return boxes, {step: hazard_box(found) for step, found in by_step.items()}


# -------------------------------------------------------------------------------------------- steps
def _numbered_steps(procedure: Procedure, by_step: dict[int, dict[str, Any]]) -> list[dict[str, Any]]:
    return [
        {"number": n, "step": step, "hazard": by_step.get(n)}
        for n, step in enumerate(steps_of(procedure.sections["Steps"]), 1)
    ]


def _values(procedure: Procedure) -> list[dict[str, str]]:
    """Every measurable value of the steps and the check, and where it stands."""
    found = []
    for n, step in enumerate(steps_of(procedure.sections["Steps"]), 1):
        found += values_in(_plain(step), f"step {n}")
    found += values_in(procedure.sections["Check"], "check")
    return [{"where": v.where, "text": v.text} for v in dict.fromkeys(found)]


def _plain(step: Step) -> str:
    return " ".join(str(Markup(t).striptags()) for t in (step.text, step.expect or "", *step.parts, *step.notes))


# --------------------------------------------------------------------------------- what it takes
def slots(facts: Facts, procedure: Procedure, vehicles: tuple[Vehicle, ...]) -> dict[str, Any]:
    """The six fixed slots; an empty one says so on the page."""
    head = procedure.head
    return {
        "conditions": [inline(c) for c in head.conditions],
        "people": head.people,
        "skill": facts.words.label("skills", head.skill),
        "minutes": minutes(head.minutes),
        "tools": [gear_line(facts, i, float(n), vehicles) for i, n in head.tools.items()],
        "supplies": [gear_line(facts, i, float(n), vehicles) for i, n in head.supplies.items()],
        "spares": [gear_line(facts, i, float(n), vehicles) for i, n in head.spares.items()],
    }


def gear_line(facts: Facts, item: str, quantity: float, vehicles: tuple[Vehicle, ...]) -> dict[str, Any]:
    """One line of a slot: name, quantity with its unit, and where it is packed or that it is not."""
    spots = _that_suit(facts.spots.get(item, ()), vehicles)
    stand_ins = [] if spots else _stand_ins(facts, item, vehicles)
    return {
        "id": item,
        "name": facts.item_name(item),
        "quantity": quantity_text(quantity, facts.library.items[item].pack_size if item in facts.library.items else 1),
        "packs": quantity,
        "places": _places(facts, spots),
        "stand_ins": stand_ins,
        "packed": bool(spots),
    }


def _together(facts: Facts, cover: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Vehicles that lack the same things said once."""
    groups: dict[tuple[str, ...], list[str]] = {}
    for c in cover:
        groups.setdefault(tuple(c["lacks"]), []).append(c["vehicle"])
    return [{"vehicles": facts.names_together(names), "lacks": list(lacks)} for lacks, names in groups.items()]


def _that_suit(spots: Iterable[Spot], vehicles: Sequence[Vehicle]) -> list[Spot]:
    """Packs that suit one of the vehicles; all of them where the trip has no such vehicle."""
    ids = {v.id for v in vehicles}
    return [s for s in spots if not ids or not s.suits or ids & set(s.suits)]


def _places(facts: Facts, spots: Iterable[Spot]) -> list[dict[str, Any]]:
    """Where something is packed: each place's name once, with the vehicles that have it there, and whom it is for if not for them."""
    groups: dict[str, dict[tuple[str, tuple[str, ...]], dict[str, str]]] = {}
    for s in spots:
        other = facts.meant_for(s.suits) if s.suits not in ((), (s.vehicle,)) else ""
        link = {
            "vehicle": s.vehicle_name,
            "key": f"vehicles/{s.vehicle}/packing",
            "anchor": s.place,
            "meant_for": other,
        }
        groups.setdefault(s.place_name, {}).setdefault((s.vehicle, s.suits if other else ()), link)
    return [{"place": place, "spots": list(found.values())} for place, found in groups.items()]


def _stand_ins(facts: Facts, item: str, vehicles: tuple[Vehicle, ...]) -> list[dict[str, Any]]:
    others = facts.library.items[item].substitutes if item in facts.library.items else ()
    found = [(o, _that_suit(facts.spots.get(o, ()), vehicles)) for o in others]
    return [{"name": facts.item_name(o), "places": _places(facts, spots)} for o, spots in found if spots]


def quantity_text(packs: float, pack_size: float) -> str:
    """A quantity in packs as a person would fetch it.

    >>> quantity_text(2, 1), quantity_text(0.1, 20), quantity_text(0.5, 1), quantity_text(1, 100)
    ('2 pieces', '2 of the 20 in a pack', 'about half a pack', '1 pack of 100')
    """
    if packs == round(packs):
        many = f"{packs:.0f}"
        if pack_size > 1:
            return f"{many} pack{'s' if packs > 1 else ''} of {pack_size:g}"
        return f"{many} piece{'s' if packs > 1 else ''}"
    pieces = packs * pack_size
    if pack_size >= 2 and pieces >= 0.95:
        return f"{pieces:.0f} of the {pack_size:g} in a pack"
    return f"about {_fraction(packs)} pack"


def _fraction(share: float) -> str:
    names = ((0.05, "a twentieth of a"), (0.1, "a tenth of a"), (0.2, "a fifth of a"), (0.25, "a quarter of a"),
             (0.33, "a third of a"), (0.5, "half a"), (0.67, "two thirds of a"), (0.75, "three quarters of a"),
             (1.0, "one"), (1.5, "one and a half"))  # fmt: skip
    return min(names, key=lambda n: abs(n[0] - share))[1]


def limits(facts: Facts, procedure: Procedure) -> dict[str, Any]:
    """How far the vehicle may go on this repair."""
    found = procedure.head.limits
    rows = []
    if found.speed_kmh is not None:
        rows.append(("At most", f"{found.speed_kmh:g} km/h"))
    if found.distance_km is not None:
        rows.append(("No further than", f"{found.distance_km:g} km"))
    if found.aboard is not None:
        rows.append(("People aboard", str(found.aboard)))
    return {
        "temporary": procedure.head.kind != "proper",
        "rows": rows,
        "stop_when": inline(found.stop_when),
    }


_CHOCKS_OUT = re.compile(
    r"\bchocks?\b[^.]*\b(?:out|away|up|clear|off|in)\b|\b(?:take|pull|remove|clear|stow|collect|count)\b[^.]*\bchock",
    re.I,
)
_LOGGED = re.compile(r"\blog|\bwrite\b|\bnote\b|\bphotograph", re.I)


def close_up(facts: Facts, procedure: Procedure) -> list[Any]:
    """What brings the vehicle back to use: the repair's own lines, and chocks and log where these do not name them."""
    own, steps = procedure.sections["Afterwards"], procedure.sections["Steps"]
    lines: list[Any] = list(lines_of_list(own))
    chocked = "wheel-chocks" in procedure.head.tools or "chock" in " ".join((steps, *procedure.head.conditions)).lower()
    named = "chock" in own.lower() or _CHOCKS_OUT.search(steps)
    if chocked and not named and procedure.head.leaves != "disabled":
        lines.append(facts.words["words"]["chocks_out"])
    if not _LOGGED.search(own):
        lines.append(facts.words["words"]["log_it"])
    return lines


# ------------------------------------------------------------------------------------ cross-references
def section(facts: Facts, procedure: Procedure, name: str) -> Markup:
    """A section's text, with the titles of other repairs in it made into numbered references."""
    return linked(facts, html_of(procedure.sections[name]), procedure.id)


def linked(facts: Facts, html: Markup, without: str = "") -> Markup:
    """Titles of field repairs in a text as links that also say the number, so that paper works."""
    return _linked(facts.repair_titles, html, without)


@lru_cache(maxsize=16384)
def _linked(titles: RepairTitles, html: Markup, without: str) -> Markup:
    def reference(match: re.Match[str]) -> str:
        found, number = titles.targets[match[0].lower()]
        return match[0] if found == without else f'<a href="~repairs/{found}">{match[0]} (repair {number})</a>'

    return Markup(titles.pattern.sub(reference, html)) if titles.targets else html
