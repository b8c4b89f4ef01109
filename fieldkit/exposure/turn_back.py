"""Turn-back points: at each camp, what must be left to go on; past which kilometre there is no way back."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence

import numpy as np

from fieldkit.exposure.result import LegExposure, Remoteness
from fieldkit.exposure.schedule import Schedule
from fieldkit.exposure.settings import SupplyFigures, said
from fieldkit.exposure.supplies import Provisions
from fieldkit.exposure.water import WaterGap
from fieldkit.specs.trip import Stop, Trip

Row = dict[str, object]


def turn_back_rows(
    trip: Trip,
    legs: Sequence[LegExposure],
    schedule: Schedule,
    provisions: Provisions,
    remoteness: Remoteness,
    figures: SupplyFigures,
) -> tuple[Row, ...]:
    """The turn-back table, by kilometre and resource.

    Returns
    -------
    tuple of dict
        ``resource`` (fuel, water, rain, river, days, vehicles and people), ``km``, ``place``, ``day``, ``text``; fuel and water also
        ``back`` and ``ahead`` [L] (fuel by vehicle id) and ``no_return``, true where the row is a point past which there is no way back.
    """
    camps = [s for s in sorted(trip.head.stop, key=lambda s: s.km) if s.camp]
    rows = [
        *_fuel_rows(trip, camps, provisions, schedule, figures),
        *_water_rows(trip, camps, provisions, schedule, figures),
        *_road_rows(trip, camps, legs, provisions, figures),
        *_party_rows(camps, provisions, remoteness, trip, figures),
    ]
    order = ("fuel", "water", "rain", "river", "days", "vehicles and people")
    return tuple(sorted(rows, key=lambda row: (float(str(row["km"])), order.index(str(row["resource"])))))


def _row(resource: str, km: float, place: str, day: int, text: str, **more: object) -> Row:
    return {"resource": resource, "km": round(km, 1), "place": place, "day": day, "text": text, **more}


def _day_at(schedule: Schedule, km: float) -> int:
    return int(float(schedule.at(np.array([km]))[0]) // 24) + 1


# ------------------------------------------------------------------------------------------- fuel
def _fuel_rows(
    trip: Trip, camps: Sequence[Stop], provisions: Provisions, schedule: Schedule, figures: SupplyFigures
) -> list[Row]:
    rows: list[Row] = []
    for camp in camps:
        found = {v: both for v in provisions.uses if (both := _both_ways(provisions, v, camp.km))}
        if found:
            words = "; ".join(
                said(
                    figures.text,
                    "turn_fuel_vehicle",
                    vehicle=trip.vehicle(v).name,
                    back=f"{back:.0f}",
                    ahead=f"{ahead:.0f}",
                )
                for v, (back, ahead) in found.items()
            )
            text = said(figures.text, "turn_fuel", place=camp.name, figures=words)
            back, ahead = ({v: round(both[i], 1) for v, both in found.items()} for i in (0, 1))
            rows.append(_row("fuel", camp.km, camp.name, camp.day, text, back=back, ahead=ahead, no_return=False))
    for vehicle in provisions.uses:
        rows += _fuel_return(trip, vehicle, provisions, schedule, figures)
    return rows


def _both_ways(provisions: Provisions, vehicle: str, km: float) -> tuple[float, float] | None:
    """Litres back to the last station and on to the next, from a camp between two; None at a station."""
    use, halts = provisions.uses[vehicle], provisions.stops[vehicle]
    for here, there in itertools.pairwise(halts):
        if here.km + 1 < km < there.km - 1:
            return use.by(km) - use.by(here.km) + here.off_l, use.by(there.km) - use.by(km) + there.off_l
    return None


def _fuel_return(
    trip: Trip, vehicle: str, provisions: Provisions, schedule: Schedule, figures: SupplyFigures
) -> list[Row]:
    """The kilometre of each stretch past which the way back takes more than is left, the detour reserve kept."""
    use, halts, rows = provisions.uses[vehicle], provisions.stops[vehicle], list[Row]()
    for here, there, line in zip(halts, halts[1:], provisions.lines[vehicle], strict=False):
        detour = figures.fuel.detour_km * use.per_100_fuel_km / 100.0
        half = use.by(here.km) + (line.carried_l - detour - 2 * here.off_l) / 2
        km = _where(use.by, half, here.km, there.km)
        if km is not None:
            values = {"vehicle": trip.vehicle(vehicle).name, "from_": here.name, "to": there.name}
            text = said(figures.text, "turn_fuel_return", **values)
            rows.append(_row("fuel", km, f"km {km:.0f}", _day_at(schedule, km), text, vehicle=vehicle, no_return=True))
    return rows


def _where(used_by: Callable[[float], float], litres: float, low: float, high: float) -> float | None:
    """The kilometre between two at which so many litres have been used; None where it lies beyond."""
    if used_by(high) <= litres:
        return None
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if used_by(middle) < litres else (low, middle)
    return float(high)


# ------------------------------------------------------------------------------------------ water
def _water_rows(
    trip: Trip, camps: Sequence[Stop], provisions: Provisions, schedule: Schedule, figures: SupplyFigures
) -> list[Row]:
    party = provisions.supplies.water_l_per_person_day * trip.head.party.people
    rows = [
        _water_camp(camp, gap, schedule, party, figures)
        for camp in camps
        for gap in provisions.gaps
        if gap.from_km + 1 < camp.km < gap.to_km - 1
    ]
    for gap in provisions.gaps:
        at = gap.from_h + 12.0 * provisions.supplies.water_carried_l / party
        if at < gap.to_h:
            km = _km_at(schedule, at, gap)
            text = said(figures.text, "turn_water_return", from_=gap.from_name, to=gap.to_name)
            rows.append(_row("water", km, f"km {km:.0f}", int(at // 24) + 1, text, no_return=True))
    return rows


def _water_camp(camp: Stop, gap: WaterGap, schedule: Schedule, party: float, figures: SupplyFigures) -> Row:
    at = float(schedule.at(np.array([camp.km]))[0])
    back, ahead = party * (at - gap.from_h) / 24.0, party * ((gap.to_h - at) / 24.0 + figures.water.in_hand_days)
    text = said(
        figures.text,
        "turn_water",
        place=camp.name,
        back=f"{back:.0f}",
        ahead=f"{ahead:.0f}",
        from_=gap.from_name,
        to=gap.to_name,
        below=f"{ahead:.0f}",
    )
    return _row(
        "water", camp.km, camp.name, camp.day, text, back=round(back, 1), ahead=round(ahead, 1), no_return=False
    )


def _km_at(schedule: Schedule, at_h: float, gap: WaterGap) -> float:
    """The kilometre that the plan has reached by a time (between two legs: where the first ended)."""
    km = gap.from_km
    for leg, start, end in zip(schedule.legs, schedule.start_h, schedule.end_h, strict=True):
        if start <= at_h:
            km = leg.from_km + min((at_h - start) / (end - start), 1.0) * leg.km
    return float(min(max(km, gap.from_km), gap.to_km))


# ------------------------------------------------------------------------------- roads and party
def _camp_before(camps: Sequence[Stop], km: float) -> Stop | None:
    return max((c for c in camps if c.km <= km + 1e-6), key=lambda c: c.km, default=None)


def _road_rows(
    trip: Trip, camps: Sequence[Stop], legs: Sequence[LegExposure], provisions: Provisions, figures: SupplyFigures
) -> list[Row]:
    rows: list[Row] = []
    hand = provisions.supplies.food_days - trip.head.days
    for stretch in _stretches(legs, figures.food.closes_in_rain):
        first, last = stretch[0], stretch[-1]
        camp = _camp_before(camps, first.from_km)
        place = camp.name if camp else f"km {first.from_km:.0f}"
        values = {"from_km": f"{first.from_km:.0f}", "to_km": f"{last.to_km:.0f}", "place": place, "days": f"{hand:g}"}
        text = said(figures.text, "turn_rain", surface=trip.library.surfaces[first.surface].name, **values)
        rows.append(_row("rain", first.from_km, place, first.day, text))
    for leg in legs:
        if leg.water_depth_m > 0 and leg.crossings >= 1:
            text = said(figures.text, "turn_river", depth=f"{leg.water_depth_m:g}")
            rows.append(_row("river", leg.from_km, f"km {leg.from_km:.0f}", leg.day, text))
    return rows


def _stretches(legs: Sequence[LegExposure], surfaces: Sequence[str]) -> list[list[LegExposure]]:
    """Runs of legs on these surfaces; a crossing or a camp between does not part them, other ground of 10 km does."""
    runs: list[list[LegExposure]] = []
    for leg in legs:
        if leg.surface not in surfaces:
            continue
        if runs and leg.from_km - runs[-1][-1].to_km < 10:
            runs[-1].append(leg)
        else:
            runs.append([leg])
    return runs


def _party_rows(
    camps: Sequence[Stop], provisions: Provisions, remoteness: Remoteness, trip: Trip, figures: SupplyFigures
) -> list[Row]:
    """The state of party and vehicles, at the camp furthest out."""
    if not camps:
        return []
    dead = np.interp([c.km for c in camps], remoteness.km, remoteness.dead_days)
    camp = camps[int(np.argmax(dead))]
    hand = f"{provisions.supplies.food_days - trip.head.days:g}"
    return [
        _row(
            "days",
            camp.km,
            camp.name,
            camp.day,
            said(figures.text, "turn_days", place=camp.name, day=camp.day, hand=hand),
        ),
        _row("vehicles and people", camp.km, camp.name, camp.day, said(figures.text, "turn_state", place=camp.name)),
    ]
