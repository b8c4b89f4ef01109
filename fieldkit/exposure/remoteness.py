"""Remoteness along the route: help, dead vehicles, the survival margin, and what other means of calling would change."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from fieldkit.exposure.alarm import device_hours
from fieldkit.exposure.help_times import KINDS, HelpTimes, help_times
from fieldkit.exposure.result import Floats, LegExposure, Remoteness
from fieldkit.exposure.roads import Roads
from fieldkit.exposure.schedule import Schedule
from fieldkit.exposure.settings import RemotenessFigures, WaterFigures, said
from fieldkit.exposure.water import WaterGap, daily_water_l, water_left_l
from fieldkit.exposure.words import days, span
from fieldkit.specs.trip import Help, Trip


@dataclass(frozen=True)
class WaterState:
    """What the survival margin needs of the supplies: carried, set aside [L], the gaps between places with water, figures."""

    carried_l: float
    reserve_l: float
    gaps: tuple[WaterGap, ...]
    figures: WaterFigures


def help_points(trip: Trip, figures: RemotenessFigures, length_km: float) -> tuple[tuple[Help, ...], list[str]]:
    """The trip's help points, and the ends of the route as workshops where none is named (with a caution)."""
    points = trip.head.help
    if any("workshop" in point.kind for point in points):
        return points, []
    lead = figures.help.lead_days
    ends = tuple(
        Help.model_validate(
            {"name": figures.text[key], "kind": ["workshop"], "km": f"{km} km", "lead_days": f"{lead} days"}
        )
        for key, km in (("start", 0.0), ("end", length_km))
    )
    return (*points, *ends), [said(figures.text, "no_workshop", days=f"{lead:g}")]


def reckon_remoteness(
    trip: Trip, roads: Roads, schedule: Schedule, times: HelpTimes, water: WaterState, figures: RemotenessFigures
) -> Remoteness:
    """Everything about help by kilometre; turn-back rows are added by the caller.

    Returns
    -------
    Remoteness
        The survival margin compares the water left at that kilometre and the must-carry water, drunk at the waiting
        rate by the whole party, with the time until people can be there.
    """
    margin = water_margin_days(trip, roads, times, water)
    worst, refused = _worst(trip, roads, schedule, times, margin, water, figures)
    return Remoteness(
        km=roads.km,
        hours=times.own,
        dead_days=times.dead_days,
        water_margin_days=margin,
        furthest={kind: _furthest(roads.km, times.own[kind]) for kind in KINDS if kind in _named(roads)},
        turn_back=(),
        worst=worst,
        help_h=times.rescue,
        clock_h=times.stopped_h,
        alternatives=tuple(_alternatives(trip, roads, schedule, times, water, figures)),
        refused=refused,
    )


def _named(roads: Roads) -> set[str]:
    return {kind for point in roads.points for kind in point.kind}


def water_margin_days(trip: Trip, roads: Roads, times: HelpTimes, water: WaterState, hotter_k: float = 0.0) -> Floats:
    """Days of water left when help can be there, for a party that stops at each kilometre (n,).

    Parameters
    ----------
    hotter_k : float
        Reckoned for days so much hotter [K].
    """
    climate = trip.head.climate
    if hotter_k:
        climate = climate.model_copy(update={"day_high_c": climate.day_high_c + hotter_k})
    people = trip.head.party.people
    travelling = daily_water_l(climate, water.figures) * people
    left = water_left_l(roads.km, times.stopped_h, water.gaps, water.carried_l, travelling)
    waiting = daily_water_l(climate, water.figures, waiting=True) * people
    return np.asarray((left + water.reserve_l) / waiting - times.rescue / 24.0)


def _furthest(km: Floats, hours: Floats) -> tuple[float, float]:
    at = int(np.argmax(hours))
    return float(km[at]), float(hours[at])


def _worst(
    trip: Trip,
    roads: Roads,
    schedule: Schedule,
    times: HelpTimes,
    margin: Floats,
    water: WaterState,
    figures: RemotenessFigures,
) -> tuple[str, bool]:
    """The stretch with the least margin in words, and whether it is below the margin asked for."""
    at = int(np.argmin(margin))
    limit = trip.head.limits.water_margin_days
    low, high = _stretch(
        margin, at, max(limit, float(margin[at]) + 0.1) if margin[at] < limit else float(margin[at]) + 0.1
    )
    waiting = daily_water_l(trip.head.climate, water.figures, waiting=True) * trip.head.party.people
    lasts = float(margin[at] + times.rescue[at] / 24.0)
    values: dict[str, object] = {
        "from_km": f"{roads.km[low]:.0f}",
        "to_km": f"{roads.km[high]:.0f}",
        "day": _day(schedule, float(roads.km[at])),
        "help": span(float(times.rescue[at])),
        "water": days(lasts),
        "margin": days(float(margin[at])),
        "limit": days(limit),
        "litres": f"{lasts * waiting:.0f}",
    }
    text = said(figures.text, "worst", **values)
    refused = bool(margin[at] < limit)
    return (f"{text} {said(figures.text, 'refuse', **values)}" if refused else text), refused


def _stretch(margin: Floats, at: int, below: float) -> tuple[int, int]:
    """The unbroken run of points round ``at`` whose margin is at most ``below``."""
    low = high = at
    while low > 0 and margin[low - 1] <= below:
        low -= 1
    while high < len(margin) - 1 and margin[high + 1] <= below:
        high += 1
    return low, high


def _day(schedule: Schedule, km: float) -> int:
    return next((leg.day for leg in schedule.legs if km <= leg.to_km + 1e-9), schedule.legs[-1].day)


# ------------------------------------------------------------------------------------ alternatives
def _alternatives(
    trip: Trip, roads: Roads, schedule: Schedule, times: HelpTimes, water: WaterState, figures: RemotenessFigures
) -> list[dict[str, object]]:
    """The worst of the route as planned, without any means of calling help, with each single one, and in a hotter season."""
    text, hotter = figures.text, figures.help.hotter_k
    comms = trip.head.comms
    planned_h = comms.alarm_h if "alarm_h" in comms.model_fields_set else device_hours(comms.carried, figures, "people")
    rows = [_row(text["comms_as_planned"], trip, roads, times, water, planned_h)]
    tried: list[tuple[str, tuple[str, ...]]] = [(text["comms_none"], ())]
    names = {key: item.name for key, item in trip.library.items.items()}
    tried += [(names.get(item, item), (item,)) for item in figures.alarm]
    for words, carried in tried:
        found = help_times(trip, roads, schedule, figures, carried)
        rows.append(_row(words, trip, roads, found, water, device_hours(carried, figures, "people")))
    planned = said(text, "comms_hotter", degrees=f"{hotter:g}")
    return [*rows, _row(planned, trip, roads, times, water, planned_h, hotter)]


def _row(
    words: str,
    trip: Trip,
    roads: Roads,
    times: HelpTimes,
    water: WaterState,
    alarm_h: float | None,
    hotter_k: float = 0.0,
) -> dict[str, object]:
    margin = water_margin_days(trip, roads, times, water, hotter_k)
    return {
        "carried": words,
        "alarm_h": alarm_h if alarm_h is not None and np.isfinite(alarm_h) else None,
        "help_h": float(times.rescue.max()),
        "dead_days": float(times.dead_days.max()),
        "water_margin_days": float(margin.min()),
    }


# -------------------------------------------------------------------------------------------- legs
def with_help(
    legs: Sequence[LegExposure], roads: Roads, times: HelpTimes, figures: RemotenessFigures
) -> tuple[LegExposure, ...]:
    """The legs with their times to help filled in."""
    return tuple(_with_help(leg, roads, times, figures) for leg in legs)


def _with_help(leg: LegExposure, roads: Roads, times: HelpTimes, figures: RemotenessFigures) -> LegExposure:
    on = (roads.km >= leg.from_km - 1e-6) & (roads.km <= leg.to_km + 1e-6)
    weights = _weights(roads.km[on])
    best = int(np.argmin([float(np.average(row, weights=weights)) for row in times.dead[:, on]]))
    workshop = roads.points[times.workshops[best]]
    return replace(
        leg,
        hours_to_help={kind: _finite(float(times.own[kind][on].max())) for kind in KINDS},
        out_h=float(np.average(times.out[best, on], weights=weights)),
        back_h=float(np.average(times.back[best, on], weights=weights)),
        workshop=workshop.name,
        workshop_on_km=_ahead_km(roads, roads.km[on], weights, figures),
        workshop_off_km=_finite(
            float(np.average(roads.distance_km[list(times.workshops)][:, on].min(axis=0), weights=weights))
        ),
        part_lead_h=workshop.lead_days * 24.0,
    )


def _weights(km: Floats) -> Floats:
    """Shares of a leg that its sampled points stand for (trapezoid rule)."""
    if len(km) < 2:
        return np.ones(len(km))
    half = np.diff(km) / 2
    return np.concatenate([half, [0.0]]) + np.concatenate([[0.0], half])


def _finite(value: float) -> float | None:
    return value if np.isfinite(value) else None


def _ahead_km(roads: Roads, km: Floats, weights: Floats, figures: RemotenessFigures) -> float | None:
    """Mean distance to the nearest workshop on the route ahead [km]; None where none lies ahead of the whole leg."""
    points = [roads.points[j] for j in roads.of("workshop")]
    on_route = [p.km for p in points if p.km is not None and p.off_km <= figures.help.on_route_km]
    end = float(roads.km[-1])
    ahead = np.array(
        [[min(at, end) - here if min(at, end) >= here - 1e-6 else np.inf for at in on_route] for here in km]
    )
    nearest = ahead.min(axis=1) if on_route else np.full(len(km), np.inf)
    return _finite(float(np.average(nearest, weights=weights)))
