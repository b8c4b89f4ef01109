"""When the trip is where: each day's start, hours at the wheel, arrival and daylight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta, timezone, tzinfo

import numpy as np

from fieldkit.errors import Fault, InputFaults
from fieldkit.exposure.result import Floats, LegExposure
from fieldkit.exposure.settings import DayFigures, RemotenessFigures, said
from fieldkit.exposure.sun import SunDay, hours_from_utc, parse_zone, sun_day
from fieldkit.exposure.words import clock, span
from fieldkit.route.agree import slack_km
from fieldkit.route.geodesic import along
from fieldkit.route.result import Route
from fieldkit.route.settings import route_figures
from fieldkit.specs.trip import Trip


@dataclass(frozen=True)
class DayPlan:
    """One day of driving. Clock times are hours after that day's midnight; ``wheel_h`` hours at the wheel.

    ``place`` is where the day ends; ``at`` its position [degrees] or None; ``sun`` None where no position is known.
    """

    day: int
    date: date
    place: str
    at: tuple[float, float] | None
    sun: SunDay | None
    leave: float
    wheel_h: float
    arrive: float
    dark: float


@dataclass(frozen=True)
class Schedule:
    """The trip by the clock.

    ``days`` are the days with driving. ``start_h``, ``end_h`` have shape (legs,): hours from midnight before day 1. ``end``: arrival
    of the last day. ``weekday``: of day 1, Monday 0.
    """

    days: tuple[DayPlan, ...]
    start_h: Floats
    end_h: Floats
    legs: tuple[LegExposure, ...]
    weekday: int
    cautions: tuple[str, ...] = ()

    @property
    def end(self) -> float:
        return float(self.end_h[-1])

    def at(self, km: Floats) -> Floats:
        """Hours from midnight before day 1 at kilometres of the route; where a day ends, its arrival.

        Parameters
        ----------
        km : array, shape (n,)

        Returns
        -------
        array, shape (n,)
        """
        ends = np.array([leg.to_km for leg in self.legs])
        starts = np.array([leg.from_km for leg in self.legs])
        leg = np.minimum(np.searchsorted(ends, np.asarray(km) - 1e-9, side="left"), len(ends) - 1)
        share = np.clip((np.asarray(km) - starts[leg]) / (ends[leg] - starts[leg]), 0.0, 1.0)
        return np.asarray(self.start_h[leg] + share * (self.end_h[leg] - self.start_h[leg]))

    def leaving(self, km: float) -> float:
        """When the trip drives on from a kilometre: after the night or the stop there, where a leg ends there."""
        following = [leg for leg in self.legs if abs(leg.from_km - km) < 1e-6]
        return float(self.start_h[following[0].index]) if following else float(self.at(np.array([km]))[0])

    def week(self, hours: Floats) -> Floats:
        """Hours from midnight before day 1, as hours after Monday 00:00."""
        return np.asarray(hours + 24.0 * self.weekday)


def trip_schedule(trip: Trip, route: Route, legs: Sequence[LegExposure], figures: RemotenessFigures) -> Schedule:
    """The trip by the clock: out an hour after sunrise, breaks each two hours, stops as long as written.

    Raises
    ------
    InputFaults
        If the time zone is unknown.
    """
    zone, cautions = _zone(trip, route, figures)
    plans: list[DayPlan] = []
    start, end = np.zeros(len(legs)), np.zeros(len(legs))
    for day in sorted({leg.day for leg in legs}):
        mine = [leg for leg in legs if leg.day == day]
        before = plans[-1].arrive + 24.0 * (plans[-1].day - day) if plans else 0.0
        plan, begun, ended = _day(trip, route, day, mine, zone, figures, before)
        plans.append(plan)
        for leg, a, b in zip(mine, begun, ended, strict=True):
            start[leg.index], end[leg.index] = 24.0 * (day - 1) + a, 24.0 * (day - 1) + b
    if plans and all(plan.sun is None for plan in plans):
        leave, dark = clock(figures.day.usual_h), clock(figures.day.usual_dark_h)
        cautions.append(said(figures.text, "no_sun_times", leave=leave, dark=dark))
    return Schedule(tuple(plans), start, end, tuple(legs), trip.head.start.weekday(), tuple(cautions))


def _day(
    trip: Trip,
    route: Route,
    day: int,
    legs: Sequence[LegExposure],
    zone: tzinfo,
    figures: RemotenessFigures,
    earliest: float,
) -> tuple[DayPlan, list[float], list[float]]:
    """A day's plan, and the clock at the start and end of each of its legs; no start before the last day's arrival."""
    today = trip.head.start + timedelta(days=day - 1)
    at = _position(trip, route, legs[-1].to_km)
    sun = sun_day(*at, today, zone) if at else None
    leave, rule = max(_leave(sun, figures.day), earliest), figures.day
    now, begun, ended = leave, list[float](), list[float]()
    for leg in legs:
        begun.append(now)
        now += leg.hours * (1.0 + rule.break_h / rule.break_every_h)
        ended.append(now)
        now += _stopped(trip, leg, leg is legs[-1])
    wheel = sum(leg.hours for leg in legs)
    plan = DayPlan(
        day, today, _place(trip, legs[-1], route.length_km), at, sun, leave, wheel, ended[-1], _dark(sun, rule)
    )
    return plan, begun, ended


def _leave(sun: SunDay | None, rule: DayFigures) -> float:
    if sun is None or sun.sunrise is None:
        return rule.usual_h
    return min(max(sun.sunrise + rule.leave_after_sunrise_h, rule.earliest_h), rule.latest_h)


def _dark(sun: SunDay | None, rule: DayFigures) -> float:
    """When it is dark: the end of civil twilight; midnight where the sun does not set."""
    if sun is None:
        return rule.usual_dark_h
    if sun.dusk is not None:
        return sun.dusk
    if sun.sunset is not None or sun.up_all_day:
        return 24.0
    return rule.usual_h


def _stopped(trip: Trip, leg: LegExposure, last: bool) -> float:
    """Hours spent at stops on a leg (taken at its end); a camp's hours come after arrival."""
    inside = [s for s in trip.head.stop if leg.from_km < s.km <= leg.to_km + 1e-6 and s.day == leg.day]
    return sum(s.hours for s in inside if not (last and abs(s.km - leg.to_km) < 0.1))


def _place(trip: Trip, leg: LegExposure, end_km: float) -> str:
    """Where a day ends: the stop there; at the end of the route the last stop, if it was written a little short of it."""
    slack = slack_km(end_km, route_figures(trip.library).cutting) if leg.to_km >= end_km - 1e-6 else 0.1
    near = [s for s in trip.head.stop if abs(s.km - leg.to_km) <= slack]
    return max(near, key=lambda s: (s.km, s.day)).name if near else f"km {leg.to_km:.0f}"


def _position(trip: Trip, route: Route, km: float) -> tuple[float, float] | None:
    """Where a kilometre lies: on the track, else the nearest help point with coordinates."""
    if len(route.km):
        lat, lon = along(route.km, route.lat, route.lon, np.array([km]))
        return float(lat[0]), float(lon[0])
    known = [(abs((h.km if h.km is not None else km) - km), h.name, h.at) for h in trip.head.help if h.at]
    return min(known)[2] if known else None


def _zone(trip: Trip, route: Route, figures: RemotenessFigures) -> tuple[tzinfo, list[str]]:
    """The trip's time zone; where it lies hours from the sun's own time, the sun's, and a caution."""
    try:
        zone = parse_zone(trip.head.time_zone)
    except ValueError:
        wanted = "a zone name of this computer, 'UTC', or 'UTC+2'"
        raise InputFaults([Fault("trip.toml", f"time_zone '{trip.head.time_zone}' is not known", wanted)]) from None
    at = _position(trip, route, route.length_km / 2)
    if at is None:
        return zone, []
    solar = round(at[1] / 15.0)
    apart = (hours_from_utc(zone, trip.head.start) - solar + 12.0) % 24.0 - 12.0
    if abs(apart) <= 3.5:
        return zone, []
    text = said(figures.text, "zone_far", zone=trip.head.time_zone, hours=f"{abs(apart):.0f}", solar=f"{solar:+d}")
    return timezone(timedelta(hours=solar)), [text]


def day_cautions(schedule: Schedule, figures: RemotenessFigures) -> list[str]:
    """Days too long at the wheel, arrivals at dusk or by night, camps too late."""
    found: list[str] = []
    for plan in schedule.days:
        found += _wheel_caution(plan, figures) + _light_caution(plan, figures)
    return found


def _wheel_caution(plan: DayPlan, figures: RemotenessFigures) -> list[str]:
    rule, hours = figures.day, span(plan.wheel_h)
    if plan.wheel_h > rule.longest_h:
        return [said(figures.text, "long_day", day=plan.day, hours=hours, longest=span(rule.longest_h))]
    if plan.wheel_h > rule.long_h:
        return [said(figures.text, "full_day", day=plan.day, hours=hours)]
    return []


def _light_caution(plan: DayPlan, figures: RemotenessFigures) -> list[str]:
    rule = figures.day
    values = {"day": plan.day, "place": plan.place, "arrive": clock(plan.arrive), "dark": clock(plan.dark)}
    sunset = plan.sun.sunset if plan.sun and plan.sun.sunset is not None else plan.dark
    if plan.arrive > sunset:
        return [said(figures.text, "after_dark", **values, sunset=clock(sunset))]
    if plan.arrive > plan.dark - rule.camp_before_dark_h:
        return [
            said(figures.text, "late_camp", **values, before=f"{rule.camp_before_dark_h:g} to {rule.camp_wanted_h:g} h")
        ]
    return []


def sun_rows(schedule: Schedule, figures: RemotenessFigures) -> tuple[dict[str, object], ...]:
    """Each driving day as a row for pages.

    Keys: ``day``, ``date``, ``place`` (where it ends), ``dawn, sunrise, sunset, dusk`` (clock, empty where the sun does not
    cross), ``leave``, ``arrive``, ``camp_by`` (latest), ``wheel_h`` [h], ``at`` (degrees, or None), ``note``. Empty where no sun times are known.
    """
    return tuple(_sun_row(plan, figures) for plan in schedule.days if plan.sun)


def _sun_row(plan: DayPlan, figures: RemotenessFigures) -> dict[str, object]:
    sun = plan.sun
    assert sun is not None
    times = {key: getattr(sun, key) for key in ("dawn", "sunrise", "sunset", "dusk")}
    crosses = sun.sunrise is not None or sun.sunset is not None
    note = "" if crosses else said(figures.text, "never_sets" if sun.up_all_day else "never_rises")
    return {
        "day": plan.day,
        "date": plan.date.isoformat(),
        "place": plan.place,
        **{key: "" if value is None else clock(value) for key, value in times.items()},
        "leave": clock(plan.leave),
        "arrive": clock(plan.arrive),
        "camp_by": clock(plan.dark - figures.day.camp_before_dark_h),
        "wheel_h": round(plan.wheel_h, 2),
        "at": plan.at,
        "note": note,
    }
