"""Sheets of the trip: route, convoy, a side for each driver, emergency card, papers, and the leader's private page."""

from __future__ import annotations

import re
from typing import Any

from fieldkit.exposure import map_drawing
from fieldkit.handbook import charts
from fieldkit.handbook.emergencies import longest_wait
from fieldkit.handbook.facts import Facts, Page
from fieldkit.handbook.library_texts import text_body
from fieldkit.handbook.map_labels import Box, Label, Labels, spread
from fieldkit.handbook.markup import inline
from fieldkit.handbook.vehicles import figure_lines, state_words, tyres, vehicle_ref
from fieldkit.handbook.words import day_text, hours, joined
from fieldkit.inspection.settings import rules_of
from fieldkit.likelihood.result import Risk
from fieldkit.loads.fitted_tyres import features_of
from fieldkit.route.geodesic import written_position
from fieldkit.specs.trip import Vehicle


def trip_pages(facts: Facts) -> list[Page]:
    """Every sheet of the trip; the leader's page only in the leader's copy."""
    pages = [_route(facts), _convoy(facts), _card(facts), _key_figures(facts), _papers(facts)]
    pages += [_driver(facts, v) for v in facts.vehicles]
    if facts.trip.head.private and facts.trip.private:
        pages.append(_leader(facts))
    return pages


# ------------------------------------------------------------------------------------------------ route
def _route(facts: Facts) -> Page:
    head, exposure = facts.trip.head, facts.plan.exposure
    context = {
        "length": f"{facts.plan.route.length_km:.0f} km",
        "days": head.days,
        "legs": [_leg(facts, leg) for leg in exposure.legs],
        "stops": [_stop(s) for s in head.stop],
        "help": [_help(facts, h) for h in head.help],
        "escapes": [_escape(facts, e) for e in head.escape],
        "map": route_map(facts),
        "profile": charts.height_profile(facts),
        "help_profile": charts.help_profile(facts),
        "worst": exposure.remoteness.worst,
        "refused": exposure.remoteness.refused,
        "alternatives": [_alternative(row) for row in exposure.remoteness.alternatives],
        "turn_back_rules": text_body(facts, "turn-back"),
        "turn_back": [_turn_back(row) for row in exposure.remoteness.turn_back],
        "cautions": [inline(c) for c in exposure.cautions],
        "days_by_clock": list(exposure.sun),
        "supplies": _supplies(facts),
        "climate": head.climate,
        "margin": f"{head.limits.water_margin_days:g}",
    }
    return Page("trip/route", facts.words["titles"]["route"], "route.html", "route", context)


def _leg(facts: Facts, leg: Any) -> dict[str, Any]:
    return {
        "number": leg.index + 1,
        "day": leg.day,
        "way": f"km {leg.from_km:.0f} to {leg.to_km:.0f}",
        "surface": charts.surface_name(facts, leg.surface),
        "difficulty": f"{leg.difficulty} of 4, {facts.words.label('difficulty', leg.difficulty)}",
        "reasons": [r for r in leg.reasons if r and r != charts.surface_name(facts, leg.surface)],
        "speed": f"{leg.speed_kmh:.0f} km/h",
        "hours": hours(leg.hours),
        "water": f"{leg.water_depth_m:g} m" if leg.water_depth_m else "",
        "reach": _reach(facts, leg.hours_to_help),
        "out": hours(leg.out_h),
        "workshop": leg.workshop,
    }


def _reach(facts: Facts, hours_to: dict[str, float | None]) -> list[tuple[str, str]]:
    """Kinds of help by how far away they are, nearest first; kinds equally far are said together."""
    said: dict[str, list[str]] = {}
    for kind, value in sorted(hours_to.items(), key=lambda k: (k[1] is None, k[1] or 0.0, k[0])):
        words = _short(value) if value is not None else "none in reach"
        said.setdefault(words, []).append(facts.words.label("help_kinds", kind))
    return [(joined(kinds), words) for words, kinds in said.items()]


def _short(value: float) -> str:
    """Hours for a cell of a table: halves below ten."""
    return f"{max(round(value * 2) / 2, 0.5):g} h" if value < 10 else f"{value:.0f} h"


def _stop(stop: Any) -> dict[str, Any]:
    return {"name": stop.name, "km": f"{stop.km:.0f}", "day": stop.day, "camp": stop.camp}


def _help(facts: Facts, point: Any) -> dict[str, Any]:
    return {
        "name": point.name,
        "kinds": joined([facts.words.label("help_kinds", k) for k in point.kind]),
        "where": _where(point),
        "open": point.open,
        "fuels": joined(list(point.fuels)),
        "lead": f"{point.lead_days:g} days" if point.lead_days else "",
        "at": position(*point.at) if point.at else "",
    }


def _where(point: Any) -> str:
    if point.km is None:
        return "off the route, by the roads out"
    return f"km {point.km:.0f}" + (f", {point.off_km:.0f} km off the route" if point.off_km else "")


def _escape(facts: Facts, escape: Any) -> dict[str, Any]:
    return {
        "from": f"km {escape.km:.0f}",
        "to": escape.to,
        "distance": f"{escape.distance_km:.0f} km",
        "surface": charts.surface_name(facts, escape.surface),
    }


def _turn_back(row: dict[str, Any]) -> dict[str, Any]:
    return {
        "resource": str(row["resource"]),
        "where": f"km {float(row['km']):.0f}, {row['place']}, day {row['day']}",
        "text": inline(str(row["text"])),
        "no_return": bool(row.get("no_return", False)),
    }


def _alternative(row: dict[str, Any]) -> dict[str, str]:
    """One way of calling help: the worst of the route with it, in words."""
    margin = float(row["water_margin_days"])
    return {
        "carried": str(row["carried"]),
        "alarm": hours(float(row["alarm_h"])) if row["alarm_h"] is not None else "nobody is told",
        "help": hours(float(row["help_h"])),
        "dead": hours(24 * float(row["dead_days"])),
        "margin": f"{margin:.1f} days of water left" if margin >= 0 else f"water gone {-margin:.1f} days before",
    }


def _supplies(facts: Facts) -> dict[str, Any]:
    supplies = facts.plan.exposure.supplies
    return {
        "fuel": [
            {
                "vehicle": facts.name(f.vehicle),
                "from": f.from_name,
                "to": f.to_name,
                "km": f"{f.km:.0f} km",
                "needed": f"{f.needed_l:.0f} L",
                "reserve": f"{f.reserve_l:.0f} L",
                "carried": f"{f.carried_l:.0f} L",
                "margin": f"{f.margin_l:.0f} L left" if f.margin_l >= 0 else f"{-f.margin_l:.0f} L short",
            }
            for f in supplies.fuel
        ],
        "water_day": f"{supplies.water_l_per_person_day:.1f} L",
        "water_needed": f"{supplies.water_needed_l:.0f} L",
        "water_carried": f"{supplies.water_carried_l:.0f} L",
        "food": f"{supplies.food_days:.0f} days",
        "cans": [f"{facts.name(c.vehicle)}: {c.count} × {facts.item_name(c.item)}" for c in supplies.cans if c.count],
        "faults": list(supplies.faults),
        "notes": [inline(n) for n in supplies.notes],
    }


def position(lat: float, lon: float) -> str:
    """A position as it is read out over a radio: decimal degrees, and degrees with minutes.

    >>> position(-24.5, 131.25)
    '-24.5000, 131.2500 (S 24° 30.000′, E 131° 15.000′)'
    """
    decimal, minutes = written_position(lat, lon)
    return f"{decimal} ({minutes})"


#: Line patterns by surface, in the order of their first leg; tones go with them, so that either alone tells surfaces apart.
DASHES = ("", "9 4", "2 4", "12 4 2 4", "5 3", "14 6", "1 6", "8 3 2 3 2 3", "3 7")
TONES = (1.0, 0.75, 0.55)
#: Width of the map drawing.
WIDE = 320


def route_map(facts: Facts) -> dict[str, Any] | None:
    """The track on the ground, north up: legs by surface pattern and number, stops, help points, roads out; None without a track."""
    plan = facts.plan
    if len(plan.route.lat) < 2:
        return None
    drawn = map_drawing(plan.route, plan.exposure, facts.trip)
    scale = min(264 / max(drawn["width_km"], 1e-9), 300 / max(drawn["height_km"], 1e-9))
    place = _Placer(scale, drawn["height_km"])
    surfaces = list(dict.fromkeys(leg["surface"] for leg in drawn["legs"]))
    step = max(1, sum(len(leg["points"]) for leg in drawn["legs"]) // 600)
    legs = [_drawn_leg(leg, place, surfaces, step) for leg in drawn["legs"] if len(leg["points"]) > 1]
    stops = [{"name": s["name"], "at": place(s["x"], s["y"])} for s in drawn["stops"] if s["x"] is not None]
    points = [{"name": h["name"], "at": place(h["x"], h["y"])} for h in drawn["help"] if h["x"] is not None]
    labels = Labels(WIDE, place.low + 22, [p for leg in legs for p in spread(leg["way"])])
    for box in (Box(0, place.low - 4, 70, place.low + 22), Box(300, 8, WIDE, 58)):  # the scale and the north arrow
        labels.taken.append(box)
    for mark in (*stops, *points):
        labels.mark(mark["at"], 5.0)
    marks = [{"x": m["at"][0], "y": m["at"][1]} for m in points]
    named = _gathered([*stops, *(m for m in points if all(_near(m["at"], s["at"]) > 12 for s in stops))])
    names = [_written(m, labels.name(m["at"], m["name"])) for m in named]
    for leg in legs:
        leg["x"], leg["y"] = map(charts.r1, labels.number(leg["way"]))
    bottom = place.low + 34
    legend = [
        {
            **_pattern(surfaces.index(x)),
            "name": charts.surface_name(facts, x),
            "x": 6 + 156 * (n % 2),
            "y": bottom + 18 * (n // 2),
        }
        for n, x in enumerate(surfaces)
    ]
    return {
        "legs": legs,
        "stops": [{"x": m["at"][0], "y": m["at"][1]} for m in stops],
        "help": marks,
        "names": names,
        "legend": legend,
        "bar": charts.r1(drawn["scale_km"] * scale),
        "bar_text": f"{drawn['scale_km']:g} km",
        "bar_y": charts.r1(place.low + 14),
        "height": charts.r1(bottom + 18 * ((len(surfaces) + 1) // 2) + 4),
    }


class _Placer:
    """Kilometres on the map drawing to places on the page, 320 wide."""

    def __init__(self, scale: float, height_km: float) -> None:
        self.scale, self.height_km = scale, height_km
        self.low = 30 + height_km * scale

    def __call__(self, x: float, y: float) -> tuple[float, float]:
        return charts.r1(20 + x * self.scale), charts.r1(30 + (self.height_km - y) * self.scale)


def _gathered(marks: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Marks that lie on one another under one name: the start and the end of a loop."""
    found: list[dict[str, Any]] = []
    for mark in marks:
        same = next((f for f in found if _near(f["at"], mark["at"]) < 4), None)
        if same is None:
            found.append(dict(mark))
        elif mark["name"] not in same["name"]:
            same["name"] += f", {mark['name']}"
    return found


def _near(a: tuple[float, float], b: tuple[float, float]) -> float:
    return max(abs(a[0] - b[0]), abs(a[1] - b[1]))


def _written(mark: dict[str, Any], label: Label) -> dict[str, Any]:
    """A name's place, with the line to its mark where it stands off."""
    line = label.leader and [*mark["at"], *map(charts.r1, label.leader)]
    return {
        "name": mark["name"],
        "x": charts.r1(label.x),
        "y": charts.r1(label.y),
        "anchor": label.anchor,
        "line": line,
    }


def _pattern(number: int) -> dict[str, Any]:
    return {"dash": DASHES[number % len(DASHES)], "tone": TONES[number % len(TONES)]}


def _drawn_leg(leg: dict[str, Any], place: _Placer, surfaces: list[str], step: int) -> dict[str, Any]:
    rows = leg["points"]
    way = [place(*row) for row in (*rows[:-1:step], rows[-1])]
    return {
        "points": " ".join(f"{x},{y}" for x, y in way),
        **_pattern(surfaces.index(leg["surface"])),
        "number": leg["index"] + 1,
        "way": way,
    }


# ----------------------------------------------------------------------------------------------- convoy
def _convoy(facts: Facts) -> Page:
    ordered = sorted(facts.vehicles, key=lambda v: (v.entry.position or 99, v.id))
    words = facts.words["convoy"]
    context = {
        "alone": len(ordered) == 1,
        "order": [
            {**vehicle_ref(facts, v), **state_words(facts, facts.plan.readiness[v.id]), "role": _role(n, len(ordered))}
            for n, v in enumerate(ordered, 1)
        ],
        "channel": facts.trip.head.comms.channel,
        "comms": _comms(facts),
        "rules": text_body(facts, "convoy-rules"),
        "signals": words["signals"],
        "recovery_order": list(facts.plan.recovery.order),
        "rhythm": facts.words["rhythm"],
        "interchange": _interchange(facts),
        "backups": list(facts.plan.kit.backups),
        "days_by_clock": list(facts.plan.exposure.sun),
    }
    return Page("trip/convoy", facts.words["titles"]["convoy"], "convoy.html", "convoy", context)


def _role(place: int, count: int) -> str:
    if count == 1:
        return "alone"
    return "lead" if place == 1 else "last" if place == count else "middle"


def _comms(facts: Facts) -> dict[str, Any]:
    comms = facts.trip.head.comms
    return {
        "carried": [facts.item_name(i) for i in comms.carried],
        "alarm": hours(comms.alarm_h),
        "mobilise": hours(comms.mobilise_h),
        "channel": comms.channel,
        "shore": comms.shore_contact,
        "overdue": hours(comms.overdue_h),
    }


def _interchange(facts: Facts) -> list[dict[str, Any]]:
    """What fits what: a row per thing that must agree, a cell per vehicle, and whether all agree."""
    rows = []
    for label, of in (
        ("Tyre size", lambda v: v.spec.tyres.size if v.spec.tyres else v.archetype.tyre.size),
        ("Spare", lambda v: (v.spec.tyres.spare_size or v.spec.tyres.size) if v.spec.tyres else v.archetype.tyre.size),
        ("Fuel", lambda v: v.archetype.fuel),
        ("Voltage", lambda v: f"{v.archetype.volts} V"),
    ):
        rows.append(_agreeing(label, [str(of(v)) for v in facts.vehicles]))
    known = rules_of(facts.library).figures
    for key in facts.words["convoy"]["interchange"]:
        if key in known:
            rows.append(_agreeing(known[key], [v.spec.figures.get(key, "") for v in facts.vehicles]))
    return rows


def _agreeing(label: str, cells: list[str]) -> dict[str, Any]:
    filled = {c for c in cells if c}
    said = "to fill in" if not all(cells) else "the same" if len(filled) == 1 else "differ"
    return {"label": label, "cells": cells, "said": said}


# ------------------------------------------------------------------------------------------ driver sheet
def _driver(facts: Facts, vehicle: Vehicle) -> Page:
    """One side, about 200 words: what a driver who has never seen this vehicle must know, and nothing else."""
    words, head = facts.words["driver"], facts.trip.head
    points = [r for r in facts.risks_of(vehicle.id) if facts.mode(r.mode).severity != "nuisance"]
    context = {
        **vehicle_ref(facts, vehicle),
        "limits": _driver_limits(facts, vehicle),
        "tyres": _tyre_lines(facts, vehicle),
        "points": _felt(facts, points)[: facts.words["vehicle_page"]["driver_sheet_points"]],
        "where": _at_hand(facts, vehicle),
        "channel": head.comms.channel,
        "rules": words["rules"] if len(facts.vehicles) > 1 else "",
        "stops": [_stop(s) for s in head.stop if s.camp or s.hours][:12],
        "never": words["never"],
        "alone": words["alone"],
        "call": head.comms.shore_contact,
        "start": day_text(head.start),
    }
    title = f"Driver's sheet: {vehicle.name}"
    return Page(f"vehicles/{vehicle.id}/driver", title, "driver.html", "vehicles", context, about=(vehicle.id,))


def _driver_limits(facts: Facts, vehicle: Vehicle) -> list[str]:
    driving = facts.trip.head.driving
    lines = [f"On corrugations at most {facts.words.quantity(driving.corrugation_speed_kmh, 'km/h')}."]
    lines += [f"{limit[:1].upper()}{limit[1:]}." for limit in facts.plan.readiness[vehicle.id].limits]
    return [line.replace("..", ".") for line in lines]


def _felt(facts: Facts, risks: list[Risk]) -> list[dict[str, Any]]:
    """What a driver notices, likeliest first; weak points that show the same way are said together."""
    groups: dict[str, list[str]] = {}
    for risk in risks:
        mode = facts.mode(risk.mode)
        best = max(mode.symptoms, key=lambda s: s.probability)
        symptom = facts.library.symptoms.get(best.id)
        groups.setdefault(symptom.text if symptom else mode.effects, []).append(mode.title)
    return [{"feel": feel, "titles": titles} for feel, titles in groups.items()]


def _tyre_lines(facts: Facts, vehicle: Vehicle) -> dict[str, Any]:
    """Pressures and speeds, surfaces that share them in one line; units stand in the heads of the columns."""
    lines: dict[tuple[str, str, str], list[str]] = {}
    for s in tyres(facts, vehicle)["surfaces"]:
        lines.setdefault((s["front"], s["rear"], s["speed"]), []).append(s["name"])
    units = ("psi (kPa)", "mph (km/h)") if facts.words.imperial else ("kPa (psi)", "km/h (mph)")
    return {
        "caption": f"Tyres: pressures in {units[0]}, at most so many {units[1]}",
        "lines": [{"on": ", ".join(names), "cells": [_bare(text) for text in texts]} for texts, names in lines.items()],
    }


def _bare(text: str) -> str:
    """A quantity without its units.

    >>> _bare("180 kPa (26 psi)")
    '180 (26)'
    """
    return re.sub(r" (?:kPa|psi|km/h|mph)", "", text)


AT_HAND = ("extinguisher", "first-aid-kit", "drinking-water", "two-way-radio", "satellite")


def _at_hand(facts: Facts, vehicle: Vehicle) -> list[dict[str, str]]:
    """Where the things for the first minute lie in this vehicle, or in which vehicle they are."""
    found = []
    for start in AT_HAND:
        spots = [s for i, all_spots in sorted(facts.spots.items()) if i.startswith(start) for s in all_spots]
        mine = [s for s in spots if s.vehicle == vehicle.id] or spots
        if mine:
            here = mine[0].vehicle == vehicle.id
            place = mine[0].place_name if here else f"in {mine[0].vehicle_name}"
            found.append({"what": facts.item_name(mine[0].item), "place": place})
    return found


# ---------------------------------------------------------------------------------------- card, papers
#: Gear that calls for help.
DEVICES = ("distress-beacon", "satellite-messenger", "satellite-phone", "two-way-radio")


def _card(facts: Facts) -> Page:
    head = facts.trip.head
    context = {
        "comms": _comms(facts),
        "tell": facts.words["help_call"]["tell"],
        "position": facts.words["card"]["position"],
        "vehicles": [vehicle_ref(facts, v) for v in facts.vehicles],
        "people": head.party.people,
        "first_aid": head.party.first_aid_trained,
        "wait": longest_wait(facts),
        "devices": devices(facts),
        "worst": facts.plan.exposure.remoteness.worst,
        "help": [_help(facts, h) for h in head.help],
        "places": _places(facts),
        "start": day_text(head.start),
        "days": head.days,
    }
    return Page("trip/card", facts.words["titles"]["card"], "card.html", "card", context)


def devices(facts: Facts) -> list[str]:
    """What can call for help: what the trip says it carries, and what is packed beside it, with its vehicles."""
    known = set(facts.trip.head.comms.carried) | {i for i in DEVICES if facts.spots.get(i)}
    found = []
    for item in sorted(known):
        vehicles = list(dict.fromkeys(s.vehicle_name for s in facts.spots.get(item, ())))
        name = facts.item_name(item)
        found.append(f"{name} ({joined(vehicles)})" if vehicles else name)
    return found


def _places(facts: Facts) -> list[dict[str, str]]:
    """Stops with their positions, in decimal degrees and in degrees and minutes; none without a track."""
    if len(facts.plan.route.lat) < 2:
        return []
    drawn = map_drawing(facts.plan.route, facts.plan.exposure, facts.trip)
    return [
        {"name": s["name"], "km": f"{s['km']:.0f}", "decimal": s["position"][0], "minutes": s["position"][1]}
        for s in drawn["stops"]
        if s["position"]
    ]


def _key_figures(facts: Facts) -> Page:
    """Pressures and the owners' figures of every vehicle side by side: one sheet to keep at hand."""
    rows = [("Tyre size", [v.spec.tyres.size if v.spec.tyres else v.archetype.tyre.size for v in facts.vehicles])]
    rows += [
        (label, [_pressure(facts, v, axle) for v in facts.vehicles])
        for label, axle in (("Front tyres, road", "front_kpa"), ("Rear tyres, road", "rear_kpa"))
    ]
    rows += [
        (line["what"], [v.spec.figures.get(line["id"], "") for v in facts.vehicles])
        for line in figure_lines(facts, {}, frozenset().union(*(features_of(v) for v in facts.vehicles)))
    ]
    context = {"rows": rows, "vehicles": [vehicle_ref(facts, v) for v in facts.vehicles]}
    return Page("trip/key-figures", facts.words["titles"]["key_figures"], "key_figures.html", "key_figures", context)


def _pressure(facts: Facts, vehicle: Vehicle, axle: str) -> str:
    value = getattr(vehicle.spec.tyres, axle) if vehicle.spec.tyres else None
    return facts.words.quantity(value, "kPa", 0) if value else ""


def _papers(facts: Facts) -> Page:
    stock = [
        {"what": facts.item_name(s.item), "owner": s.owner, "until": day_text(s.good_until),
         "late": s.good_until < facts.trip.head.start}
        for s in sorted(facts.trip.inventory, key=lambda s: (s.good_until or facts.trip.head.start, s.item))
        if s.good_until
    ]  # fmt: skip
    context = {
        "papers": facts.words["paper"],
        "dated": stock,
        "vehicles": [vehicle_ref(facts, v) for v in facts.vehicles],
    }
    return Page("trip/papers", facts.words["titles"]["papers"], "papers.html", "papers", context)


def _leader(facts: Facts) -> Page:
    """People's medical and contact data; this page is made in the leader's copy alone."""
    sections = [
        {"name": str(name).replace("_", " "), "rows": list(_flat(value))} for name, value in facts.trip.private.items()
    ]
    return Page("trip/leader", facts.words["titles"]["leader"], "leader.html", "leader", {"sections": sections})


def _flat(value: Any, before: str = "") -> list[tuple[str, str]]:
    if isinstance(value, dict):
        return [row for k, v in value.items() for row in _flat(v, f"{before} {k}".replace("_", " ").strip())]
    if isinstance(value, list):
        if all(not isinstance(v, (dict, list)) for v in value):
            return [(before, ", ".join(map(str, value)))]
        return [row for n, v in enumerate(value, 1) for row in _flat(v, f"{before} {n}".strip())]
    return [(before, str(value))]
