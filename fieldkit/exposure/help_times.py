"""How far help is: own hours to each kind, hours until help stands there, days until a dead vehicle is mended."""

from __future__ import annotations

from dataclasses import dataclass
from typing import get_args

import numpy as np

from fieldkit.exposure.alarm import alarm_hours, mobilise_hours
from fieldkit.exposure.opening import parse_opening
from fieldkit.exposure.result import Floats
from fieldkit.exposure.roads import Roads
from fieldkit.exposure.schedule import Schedule
from fieldkit.exposure.settings import HelpFigures, RemotenessFigures
from fieldkit.specs.trip import HelpKind, Trip

KINDS: tuple[str, ...] = get_args(HelpKind)


@dataclass(frozen=True)
class HelpTimes:
    """Times from each sampled kilometre [h]; ``n`` kilometres, ``w`` workshops.

    ``own[kind]`` (n,): driving to the nearest open help of a kind, waiting for it to open included. ``rescue`` (n,): until
    people can be there for people. ``workshops``: indices into ``roads.points``; ``out``, ``back``, ``dead`` (w, n): until help stands
    beside a dead vehicle, from there to that workshop, and until it is mended (part's lead and fitting included).
    """

    stopped_h: Floats
    own: dict[str, Floats]
    rescue: Floats
    workshops: tuple[int, ...]
    out: Floats
    back: Floats
    dead: Floats

    @property
    def dead_days(self) -> Floats:
        """Days until a dead vehicle is back on the road, by the best workshop (n,)."""
        return np.asarray(self.dead.min(axis=0) / 24.0)


def help_times(
    trip: Trip,
    roads: Roads,
    schedule: Schedule,
    figures: RemotenessFigures,
    carried: tuple[str, ...] | None = None,
) -> HelpTimes:
    """Times to every kind of help from every sampled kilometre, by the clock of the plan.

    Parameters
    ----------
    carried : tuple of str or None
        Means of calling help, where others than the trip's are tried out.
    """
    stopped = schedule.at(roads.km)
    own = {kind: _own(roads, kind, stopped, schedule) for kind in KINDS}
    reach = np.min([own[kind] for kind in figures.help.alarm_kinds], axis=0)

    def alarm(purpose: str) -> Floats:
        return alarm_hours(trip, schedule, stopped, reach, figures, purpose, carried)

    workshops = tuple(roads.of("workshop"))
    rescuers = [j for j, p in enumerate(roads.points) if set(p.kind) & set(figures.help.rescue_kinds)] or workshops
    out = _arrive(trip, roads, workshops, stopped, alarm("vehicle"), schedule, figures)
    coming = _arrive(trip, roads, tuple(rescuers), stopped, alarm("people"), schedule, figures)
    back = elapsed(roads.hours[list(workshops)] / figures.help.towing, figures.help)
    lead = np.array([[roads.points[j].lead_days * 24.0] for j in workshops])
    dead = out + back + lead + figures.help.fitting_h
    return HelpTimes(stopped, own, coming.min(axis=0), workshops, out, back, dead)


def _own(roads: Roads, kind: str, stopped: Floats, schedule: Schedule) -> Floats:
    """Hours to the nearest open help point of a kind (n,); infinite where none can be reached."""
    best = np.full_like(stopped, np.inf)
    for j in roads.of(kind):
        drive = roads.hours[j]
        wait = parse_opening(roads.points[j].open).wait(schedule.week(stopped + drive))
        best = np.minimum(best, drive + wait)
    return np.where(best < 1e-6, 0.0, best)


def _arrive(
    trip: Trip,
    roads: Roads,
    points: tuple[int, ...],
    stopped: Floats,
    alarm: Floats,
    schedule: Schedule,
    figures: RemotenessFigures,
) -> Floats:
    """Hours until help from each of these points stands there (points, n): alarm, opening, mobilising, the drive."""
    rows = []
    for j in points:
        wait = parse_opening(roads.points[j].open).wait(schedule.week(stopped + alarm))
        drive = elapsed(roads.hours[j] / figures.help.coming, figures.help)
        rows.append(alarm + wait + mobilise_hours(trip, figures) + drive)
    return np.array(rows).reshape(len(points), len(stopped))


def elapsed(driving_h: Floats, figures: HelpFigures) -> Floats:
    """Hours that pass while somebody drives so long, so many hours a day.

    Parameters
    ----------
    driving_h : array
        Hours at the wheel [h], 0 or more; infinity stays.

    Examples
    --------
    >>> from fieldkit.exposure.settings import remoteness_figures
    >>> elapsed(np.array([5.0, 10.0, np.inf]), remoteness_figures().help)
    array([ 5., 25., inf])
    """
    known = np.where(np.isfinite(driving_h), driving_h, 0.0)
    nights = np.floor(np.maximum(known - 1e-9, 0.0) / figures.driven_per_day_h)
    return np.asarray(driving_h + nights * (24.0 - figures.driven_per_day_h))
