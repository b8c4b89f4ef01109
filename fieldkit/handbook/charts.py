"""Drawings as plain data: numbers already scaled to the drawing, words beside them. Templates turn them into SVG."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from fieldkit.handbook.facts import Facts
from fieldkit.handbook.words import hours
from fieldkit.loads.result import VehicleLoads
from fieldkit.specs.trip import Vehicle

#: Drawings are laid out for a phone: 320 units wide, text of 12.5 units, so that no letter falls below 11 px there.
WIDTH = 320.0
LEFT, RIGHT = 34.0, 314.0


def r1(value: float) -> float:
    """Rounded for a drawing: a tenth of a unit."""
    return round(float(value), 1) + 0.0


def nice_ticks(low: float, high: float, most: int = 6) -> list[float]:
    """Round values between two ends, at most ``most`` of them.

    >>> nice_ticks(0, 43)
    [0.0, 10.0, 20.0, 30.0, 40.0]
    """
    span = max(high - low, 1e-9)
    step = 10 ** np.floor(np.log10(span / most))
    while span / step > most:
        step = step * (2.5 if str(step / 10 ** np.floor(np.log10(step)))[0] == "2" else 2)
    first = np.ceil(low / step - 1e-9) * step
    return [round(float(v), 6) + 0.0 for v in np.arange(first, high + step * 1e-6, step)]


def along(km: float, end: float) -> float:
    """Where a kilometre of the route stands in a drawing."""
    return r1(LEFT + km / (end or 1.0) * (RIGHT - LEFT))


def polyline(x: Sequence[float], y: Sequence[float], within: float = 0.05) -> str:
    """A drawn line's corners; a point is left out where the line without it passes it by less than ``within`` units (Douglas and Peucker).

    >>> polyline([34.0, 40.0, 46.04, 50.0], [140.0, 130.0, 120.01, 120.0])
    '34,140 46,120 50,120'
    """
    at = np.column_stack([np.asarray(x, dtype=float), np.asarray(y, dtype=float)])
    kept = np.zeros(len(at), dtype=bool)
    kept[[0, -1]] = True
    spans = [(0, len(at) - 1)]
    while spans:
        first, last = spans.pop()
        if last - first < 2:
            continue
        between = at[first + 1 : last] - at[first]
        way = at[last] - at[first]
        length = float(np.hypot(*way))
        share = np.clip(between @ way / length**2, 0, 1) if length else np.zeros(len(between))
        off = np.hypot(*(between - share[:, None] * way).T)
        worst = int(off.argmax())
        if off[worst] > within:
            middle = first + 1 + worst
            kept[middle] = True
            spans += [(first, middle), (middle, last)]
    return " ".join(f"{r1(a):g},{r1(b):g}" for a, b in at[kept])


def mass_bars(loads: VehicleLoads) -> dict[str, Any]:
    """Each limit as a bar: kilograms used against the limit; beyond it the bar runs past the limit's mark."""
    rows = []
    for n, margin in enumerate(loads.margins):
        share = margin.actual_kg / margin.limit_kg if margin.limit_kg else 0.0
        over = margin.left_kg < 0
        rows.append(
            {
                "y": 38 + n * 38,
                "label": margin.words,
                "width": r1(min(share, 1.2) * 250),
                "over": over,
                "text": f"{margin.actual_kg:.0f} of {margin.limit_kg:.0f} kg",
                "left": f"{-margin.left_kg:.0f} kg over" if over else f"{margin.left_kg:.0f} kg left",
            }
        )
    return {"rows": rows, "height": 24 + 38 * len(rows), "limit_x": 250.0}


def side_view(facts: Facts, vehicle: Vehicle) -> dict[str, Any]:
    """The vehicle from the left with its stowage places numbered, and what lies in each."""
    mine = [e for e in facts.plan.kit.items if e.vehicle == vehicle.id and e.quantity]
    wheelbase = vehicle.archetype.wheelbase_m
    left, right = -1.2, wheelbase + 1.0
    scale = 310 / (right - left)

    def x(at: float) -> float:
        return r1(315 - (at - left) * scale)

    def y(at: float) -> float:
        return r1(150 - at * scale)

    spots = []
    for n, key in enumerate(sorted({e.place for e in mine}), 1):
        place = vehicle.places.get(key)
        if place:
            mass = sum(e.mass_kg * e.quantity for e in mine if e.place == key)
            spots.append({"n": n, "x": x(place.x_m), "y": y(place.z_m), "name": place.name, "mass": f"{mass:.0f}"})
    _spread(spots)
    return {
        "spots": spots,
        "rear": x(0),
        "front": x(wheelbase),
        "ground": y(0),
        "radius": r1(0.4 * scale),
        "axle": y(0.4),
        "outline": _outline(x, y, wheelbase, vehicle),
        "loads": _axle_text(facts.plan.loads[vehicle.id]),
    }


def _spread(spots: list[dict[str, Any]]) -> None:
    """Numbers of places that lie close together moved apart, so that each can be read."""
    for n, spot in enumerate(spots):
        while any(abs(spot["x"] - o["x"]) < 21 and abs(spot["y"] - o["y"]) < 21 for o in spots[:n]):
            spot["x"] = r1(spot["x"] + 11)
            spot["y"] = r1(spot["y"] - 11)


def _outline(x: Any, y: Any, wheelbase: float, vehicle: Vehicle) -> str:
    """A plain body: bonnet, cabin, and a tail that is a box or a tray."""
    roof, waist, sill = 1.9, 1.15, 0.55
    tail = waist if "load-tray" in vehicle.features else roof
    points = [
        (-1.05, sill), (-1.05, tail), (wheelbase * 0.22, tail), (wheelbase * 0.24, roof), (wheelbase * 0.62, roof),
        (wheelbase * 0.8, waist + 0.08), (wheelbase + 0.7, waist - 0.05), (wheelbase + 0.75, sill),
    ]  # fmt: skip
    return " ".join(f"{x(a)},{y(b)}" for a, b in points)


def _axle_text(loads: VehicleLoads) -> dict[str, str]:
    state = loads.states.get("with-kit") or loads.states.get("departure") or next(iter(loads.states.values()))
    return {"front": f"front {state.front_kg:.0f} kg", "rear": f"rear {state.rear_kg:.0f} kg"}


def risk_by_leg(facts: Facts, vehicle: str) -> dict[str, Any]:
    """For each leg, the chance that something fails there which stops or slows the vehicle, as bars."""
    legs = facts.plan.exposure.legs
    serious = [r for r in facts.risks_of(vehicle) if facts.mode(r.mode).severity != "nuisance"]
    means = np.sum([r.by_leg for r in serious], axis=0) if serious else np.zeros(len(legs))
    chances = 1 - np.exp(-means)
    top = max(float(chances.max()), 1e-9)
    end = max(leg.to_km for leg in legs)
    bars = [
        {
            "x": along(leg.from_km, end),
            "width": r1(max(along(leg.to_km, end) - along(leg.from_km, end) - 1, 1)),
            "height": r1(90 * chance / top),
            "said": facts.words.chance(float(chance)),
            "name": f"km {leg.from_km:.0f} to {leg.to_km:.0f}",
            "surface": surface_name(facts, leg.surface),
            "day": leg.day,
        }
        for leg, chance in zip(legs, chances, strict=True)
    ]
    worst = max(bars, key=lambda b: b["height"])
    return {"bars": bars, "worst": worst, "top": facts.words.chance(top), "ticks": _km_ticks(end)}


def _km_ticks(end: float) -> list[dict[str, Any]]:
    return [{"x": along(t, end), "text": f"{t:.0f}"} for t in nice_ticks(0, end, 5)]


def surface_name(facts: Facts, surface: str) -> str:
    found = facts.library.surfaces.get(surface)
    return found.name if found else surface


def kit_curve(facts: Facts) -> dict[str, Any] | None:
    """Hours lost against kilograms carried, with the chosen kit marked."""
    points = facts.plan.kit.curve
    if len(points) < 2:
        return None
    mass = [p.mass_kg for p in points]
    lost = [p.hours_lost for p in points]
    high, far = max(lost) or 1.0, max(mass) or 1.0

    def x(kg: float) -> float:
        return along(kg, far)

    def y(h: float) -> float:
        return r1(140 - h / high * 112)

    chosen = facts.plan.kit.mass_kg - facts.plan.kit.must_carry_kg
    return {
        "line": " ".join(f"{x(m)},{y(h)}" for m, h in zip(mass, lost, strict=True)),
        "x_ticks": [{"x": x(t), "text": f"{t:g}"} for t in nice_ticks(0, far, 5)],
        "y_ticks": [{"y": y(t), "text": f"{t:g}"} for t in nice_ticks(0, high, 4)],
        "chosen_x": x(min(chosen, far)),
        "chosen": f"{chosen:.0f} kg",
        "rows": [{"mass": f"{p.mass_kg:.0f} kg", "lost": hours(p.hours_lost)} for p in _some(points, 9)],
    }


def _some(points: Sequence[Any], most: int) -> list[Any]:
    step = max(1, (len(points) - 1) // (most - 1))
    return list(points[::step])


def help_profile(facts: Facts) -> dict[str, Any]:
    """Hours to help along the route, one line per kind of help that can be reached."""
    remote = facts.plan.exposure.remoteness
    end = float(remote.km[-1]) or 1.0
    finite = [float(v) for values in remote.hours.values() for v in values if np.isfinite(v)]
    high = max(finite, default=1.0) or 1.0
    lines: list[dict[str, Any]] = []
    unreachable: list[str] = []
    for kind, values in sorted(remote.hours.items()):
        keep = np.isfinite(values)
        if not keep.any():
            unreachable.append(facts.words.label("help_kinds", kind))
            continue
        worst = int(np.argmax(np.where(keep, values, -1)))
        lines.append(
            {
                "name": facts.words.label("help_kinds", kind),
                "dash": ("", "7 4", "2 4", "12 4 2 4", "1 3", "9 3 1 3 1 3")[len(lines) % 6],
                "points": polyline(
                    LEFT + np.asarray(remote.km)[keep] / end * (RIGHT - LEFT), 140 - values[keep] / high * 112
                ),
                "worst": hours(float(values[worst])),
                "worst_km": f"{remote.km[worst]:.0f}",
            }
        )
    return {
        "lines": lines,
        "unreachable": unreachable,
        "x_ticks": _km_ticks(end),
        "y_ticks": [{"y": r1(140 - t / high * 112), "text": f"{t:g}"} for t in nice_ticks(0, high, 4)],
    }


def height_profile(facts: Facts) -> dict[str, Any] | None:
    """Height along the route; None where no heights are known."""
    route = facts.plan.route
    known = np.isfinite(route.height)
    if known.sum() < 2:
        return None
    km, height = route.km[known], route.height[known]
    step = max(1, len(km) // 240)
    km, height = km[::step], height[::step]
    low, high, end = float(height.min()), float(height.max()), float(km[-1]) or 1.0
    span = max(high - low, 1.0)
    return {
        "points": polyline(LEFT + km / end * (RIGHT - LEFT), 100 - (height - low) / span * 72),
        "low": f"{low:.0f} m",
        "high": f"{high:.0f} m",
        "x_ticks": _km_ticks(end),
    }


def damage_graph(facts: Facts, vehicle: str, most: int = 8) -> dict[str, Any] | None:
    """What one failure brings on: this vehicle's strongest links, and all of them as lines of text.

    A link's strength is the failures expected to follow: expected failures of the first times the chance per failure.
    Numbers are the places in the vehicle's ranking. None where there is no link.
    """
    place = {r.mode: n for n, r in enumerate(facts.risks_of(vehicle), 1)}
    links = sorted(_links(facts, vehicle), key=lambda e: (-e[3], e[0], e[1]))
    if not links:
        return None
    drawn = links[:most]
    left = sorted({a for a, _, _, _ in drawn}, key=lambda m: place[m])
    right = sorted({b for _, b, _, _ in drawn}, key=lambda m: place[m])
    height = 26 * max(len(left), len(right)) + 12

    def y(column: list[str], mode: str) -> float:
        return r1(height * (column.index(mode) + 0.5) / len(column))

    strongest = drawn[0][3] or 1.0
    return {
        "height": height,
        "lines": [
            {"y1": y(left, a), "y2": y(right, b), "width": r1(1 + 4 * worth / strongest)} for a, b, _, worth in drawn
        ],
        "left": [{"n": place[m], "y": y(left, m), "title": facts.mode(m).title} for m in left],
        "right": [{"n": place[m], "y": y(right, m), "title": facts.mode(m).title} for m in right],
        "first": [_link_words(facts, e) for e in drawn],
        "rest": _by_first(facts, links[most:]),
        "weaker": len(links[most:]),
    }


def _links(facts: Facts, vehicle: str) -> list[tuple[str, str, float, float]]:
    """(first, second, chance per failure, failures expected to follow) of one vehicle."""
    found = {}
    for owner, first, second, chance in facts.plan.risks.damage_edges:
        risk = facts.risk(vehicle, first)
        if owner == vehicle and risk is not None and facts.risk(vehicle, second) is not None:
            found[(first, second)] = (first, second, chance, chance * risk.expected.value)
    return list(found.values())


def _by_first(facts: Facts, links: list[tuple[str, str, float, float]]) -> list[dict[str, Any]]:
    """Weaker links, said once for each first failure."""
    groups: dict[str, list[dict[str, Any]]] = {}
    for link in links:
        groups.setdefault(link[0], []).append(_link_words(facts, link))
    return [{"title": facts.mode(first).title, "links": found} for first, found in groups.items()]


def _link_words(facts: Facts, link: tuple[str, str, float, float]) -> dict[str, Any]:
    return {"from": facts.mode_ref(link[0]), "to": facts.mode_ref(link[1]), "said": facts.words.chance(link[2])}
