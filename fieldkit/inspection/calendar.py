"""The calendar back from departure: what is due when, what is already too late, and what can still be moved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Literal

from fieldkit.inspection.dry_runs import dry_runs
from fieldkit.inspection.orders import (
    PartsOrder,
    WorkLike,
    WorkOrder,
    WorkRow,
    option_of,
    parts_order,
    work_order,
    work_rows,
)
from fieldkit.inspection.settings import Rules, figures_asked, rules_of
from fieldkit.inspection.workshop_settings import StepRule, WorkshopSettings, workshop_settings
from fieldkit.loads.fitted_tyres import features_of
from fieldkit.quantities import both
from fieldkit.specs.trip import Trip, Vehicle

StepState = Literal["done", "ahead", "move", "too-late"]


@dataclass(frozen=True)
class CalendarStep:
    """One step back from departure.

    ``first`` to ``due``: the usual days; ``latest``: the last day on which it still does what it is for. ``state`` on the day the
    plan was made: done, ahead, to be moved (the usual day has passed, the latest has not), or too late. ``day``: the day to
    plan it for now; None when too late. ``holds``: what the step holds for this trip; ``if_late``: what to do when it is late.
    """

    id: str
    title: str
    what: str
    first: date
    due: date
    latest: date
    state: StepState
    day: date | None
    holds: tuple[str, ...]
    if_late: str


@dataclass(frozen=True)
class Calendar:
    """Steps from the earliest to departure. ``prepared``: the day it was reckoned on; ``days_left`` until departure [days].

    ``too_late``: what can no longer be had, in sentences; ``moved``: what the usual days no longer fit, and where it goes.
    """

    prepared: date
    start: date
    days_left: int
    steps: tuple[CalendarStep, ...]
    too_late: tuple[str, ...]
    moved: tuple[str, ...]


@dataclass(frozen=True)
class _Desk:
    """All that the steps look up."""

    trip: Trip
    rules: Rules
    settings: WorkshopSettings
    rows: tuple[WorkRow, ...]

    def of(self, vehicle: Vehicle) -> list[WorkRow]:
        return [r for r in self.rows if r.vehicle == vehicle.id]

    @property
    def last_part(self) -> date | None:
        """The day on which the last part is there; None where nothing is waited for."""
        return max((r.here_by for r in self.rows if r.lead_weeks > 0), default=None)


def workshop_calendar(trip: Trip, work: Sequence[WorkLike]) -> Calendar:
    """The workshop calendar of a trip, reckoned on the day the plan was made (``prepared`` in ``trip.toml``).

    1. each step of ``settings/workshop.toml`` at its week before departure, with what it holds for this trip;
    2. whether it is done, ahead, to be moved, or too late, and the day to plan it for now;
    3. the work waits for its parts; what follows waits for the work;
    4. what is too late, and what moves.

    Parameters
    ----------
    trip : Trip
    work : sequence of WorkLike
        The plan's work, chosen or not.

    Notes
    -----
    Weeks before departure are common practice, no source; the latest days are judgement.
    """
    settings = workshop_settings(trip.library)
    desk = _Desk(trip, rules_of(trip.library), settings, tuple(work_rows(trip, work)))
    steps: list[CalendarStep] = []
    for rule in settings.step:
        steps.append(_step(desk, rule, steps))
    return Calendar(
        trip.head.prepared,
        trip.head.start,
        (trip.head.start - trip.head.prepared).days,
        tuple(steps),
        (*_steps_too_late(steps), *_work_too_late(trip, work), *_parts_too_late(desk)),
        (*_steps_moved(trip, steps), *_parts_moved(desk)),
    )


# ------------------------------------------------------------------------------------------------ days
def _step(desk: _Desk, rule: StepRule, before: Sequence[CalendarStep]) -> CalendarStep:
    head = desk.trip.head
    due, latest = head.start - timedelta(weeks=rule.weeks), _latest(desk, rule)
    earliest = max([head.prepared, *_waits(desk, rule, before)])
    state = _state(desk, rule, earliest, due, latest)
    return CalendarStep(
        rule.id,
        rule.title,
        rule.what,
        head.start - timedelta(weeks=rule.from_weeks),
        due,
        latest,
        state,
        None if state in ("done", "too-late") else max(due, earliest),
        tuple(HOLDS.get(rule.id, _nothing)(desk)),
        rule.if_late,
    )


def _latest(desk: _Desk, rule: StepRule) -> date:
    """The last day on which a step still serves; parts with a wait are ordered that much before the last day for work."""
    start = desk.trip.head.start
    latest = start - timedelta(days=rule.latest_days)
    longest = max((r.here_by - max(r.order_by, desk.trip.head.prepared) for r in desk.rows), default=timedelta(0))
    if rule.id == "order" and longest:
        return min(latest, _last_work_day(desk) - longest)
    return max(latest, start - timedelta(weeks=rule.weeks))


def _last_work_day(desk: _Desk) -> date:
    days = next((s.latest_days for s in desk.settings.step if s.id == "do"), 0)
    return desk.trip.head.start - timedelta(days=days)


def _waits(desk: _Desk, rule: StepRule, before: Sequence[CalendarStep]) -> list[date]:
    """Days that a step cannot come before: its parts are there, and the steps before it are done."""
    if rule.id in ("inspect", "order"):
        return []
    days = [s.day for s in before if s.day is not None and s.id not in ("inspect", "order")]
    if rule.id == "do" and desk.last_part is not None:
        days.append(desk.last_part)
    return days


def _state(desk: _Desk, rule: StepRule, earliest: date, due: date, latest: date) -> StepState:
    if _done(desk, rule):
        return "done"
    return "ahead" if earliest <= due else "move" if earliest <= latest else "too-late"


def _done(desk: _Desk, rule: StepRule) -> bool:
    """Steps that the files show as done: everybody looked at lately, nothing to order or do, every dry run ticked."""
    vehicles = desk.trip.vehicles
    if rule.id == "inspect":
        return all(_looked(desk, v) for v in vehicles)
    if rule.id == "order":
        return not any(r.cost_high > 0 or r.lead_weeks > 0 for r in desk.rows)
    if rule.id == "do":
        return not desk.rows
    return False


def _looked(desk: _Desk, vehicle: Vehicle) -> str:
    """The latest look at a vehicle that is not stale at departure: date and name; blank where there is none."""
    since = desk.trip.head.start - timedelta(days=desk.rules.findings.stale_days)
    seen = [
        f
        for f in desk.trip.findings
        if f.vehicle == vehicle.id and f.finding != "not-seen" and since <= f.date <= desk.trip.head.start
    ]
    if not seen:
        return ""
    last = max(seen, key=lambda f: (f.date, f.line))
    return f"{last.date.isoformat()}{f', {last.inspector}' if last.inspector else ''}"


# ---------------------------------------------------------------------------------- what a step holds
def _nothing(desk: _Desk) -> list[str]:
    return []


def _inspect(desk: _Desk) -> list[str]:
    return [
        f"{v.name}: looked at {when}" if (when := _looked(desk, v)) else f"{v.name}: nobody has looked yet"
        for v in desk.trip.vehicles
    ]


def _order(desk: _Desk) -> list[str]:
    """Parts that take time, each with its day; those off the shelf counted."""
    waited = sorted((r for r in desk.rows if r.lead_weeks > 0), key=lambda r: (r.order_by, r.vehicle, r.title))
    lines = []
    for row in waited:
        day = (
            f"ordered now it is there {row.here_by.isoformat()}" if row.late else f"order by {row.order_by.isoformat()}"
        )
        lines.append(f"{_name(desk, row)}: {row.title}, {lead_words(row.lead_weeks)}, {day}")
    shelf = sum(1 for r in desk.rows if not r.lead_weeks and r.cost_high)
    if shelf:
        lines.append(f"Off the shelf: parts for {shelf} work{'' if shelf == 1 else 's'}, on the parts order")
    return lines or ["No part to order."]


def _do(desk: _Desk) -> list[str]:
    lines = [
        f"{v.name}: {'; '.join(r.title for r in mine)} ({sum(r.hours for r in mine):.3g} h)"
        for v in desk.trip.vehicles
        if (mine := desk.of(v))
    ]
    return lines or ["No work chosen."]


def _shakedown(desk: _Desk) -> list[str]:
    rule, way = desk.rules.major_work, desk.settings.shakedown
    lines = []
    for vehicle in desk.trip.vehicles:
        hours = sum(r.hours for r in desk.of(vehicle))
        if hours >= rule.hours:
            far = f"{both(way.low, 'km', 0)} to {both(way.high, 'km', 0)}"
            lines.append(f"{vehicle.name}: {far} laden, after {hours:.3g} h of work")
        elif hours:
            lines.append(f"{vehicle.name}: a day's drive laden, after {hours:.3g} h of work")
    return lines or ["No new work to try; drive each vehicle once as packed."]


def _retorque(desk: _Desk) -> list[str]:
    lines = []
    for vehicle in desk.trip.vehicles:
        count = len(desk.of(vehicle))
        packed = any(t.loaded == "as-packed" for t in vehicle.spec.weighed)
        jobs = [f"re-torque what the {count} work{'' if count == 1 else 's'} undid"] if count else []
        jobs += [] if packed else ["weigh as packed"]
        if jobs:
            lines.append(f"{vehicle.name}: {', '.join(jobs)}")
    return lines or ["Nothing was undone, and every vehicle has been weighed as packed."]


def _pack(desk: _Desk) -> list[str]:
    lines = []
    for vehicle in desk.trip.vehicles:
        runs = dry_runs(desk.trip, vehicle, desk.rules, features_of(vehicle))
        count = len(runs.done) + len(runs.missing)
        if runs.missing:
            lines.append(f"{vehicle.name}: {len(runs.missing)} of {count} dry runs to do")
        elif count:
            lines.append(f"{vehicle.name}: all {count} dry runs ticked")
    return lines


def _check(desk: _Desk) -> list[str]:
    blank = [
        v.name
        for v in desk.trip.vehicles
        if any(not v.spec.figures.get(key, "").strip() for key in figures_asked(desk.rules, features_of(v)))
    ]
    return [f"Figures sheet still has blank lines: {', '.join(blank)}"] if blank else []


HOLDS = {
    "inspect": _inspect,
    "order": _order,
    "do": _do,
    "shakedown": _shakedown,
    "retorque": _retorque,
    "pack": _pack,
    "check": _check,
}


def lead_words(weeks: float) -> str:
    """How long a part takes, in words.

    Examples
    --------
    >>> [lead_words(w) for w in (0, 0.5, 1, 2)]
    ['off the shelf', '4 days', '1 week', '2 weeks']
    """
    if weeks <= 0:
        return "off the shelf"
    if weeks < 1:
        return f"{-int(-weeks * 7 // 1)} days"
    return f"{weeks:g} week{'' if weeks == 1 else 's'}"


def _name(desk: _Desk, row: WorkRow) -> str:
    return desk.trip.vehicle(row.vehicle).name


# ------------------------------------------------------------------------------- too late, and moved
def _steps_too_late(steps: Sequence[CalendarStep]) -> list[str]:
    return [
        f"{s.title}: it was due {s.due.isoformat()}, and past {s.latest.isoformat()} it no longer does what it is for. {s.if_late}"
        for s in steps
        if s.state == "too-late"
    ]


def _work_too_late(trip: Trip, work: Sequence[WorkLike]) -> list[str]:
    """Work that would save hours and whose parts would come after departure, what saves most first."""
    names = {v.id: v.name for v in trip.vehicles}
    late = [
        w
        for w in work
        if w.too_late and w.saves_hours > 0 and not w.chosen and w.vehicle in names and option_of(trip, w)
    ]
    late.sort(key=lambda w: (-w.saves_hours, w.vehicle, w.title))
    return [
        f"{names[w.vehicle]}: {w.title}. Its parts take {lead_words(w.lead_weeks)}; departure is in "
        f"{(trip.head.start - trip.head.prepared).days} days"
        for w in late
    ]


def _parts_too_late(desk: _Desk) -> list[str]:
    """Chosen work whose parts come after the last day on which work still leaves time to prove it."""
    last = _last_work_day(desk)
    return [
        f"{_name(desk, r)}: {r.title}. Its parts are there {r.here_by.isoformat()}; after {last.isoformat()} there is no "
        "time left for a shakedown. Leave it undone, or set out later"
        for r in desk.rows
        if r.here_by > last
    ]


def _steps_moved(trip: Trip, steps: Sequence[CalendarStep]) -> list[str]:
    return [
        f"{s.title}: usual day {s.due.isoformat()}; now {s.day.isoformat()}, at the latest {s.latest.isoformat()}. {s.if_late}"
        for s in steps
        if s.state == "move" and s.day is not None
    ]


def _parts_moved(desk: _Desk) -> list[str]:
    late = [r for r in desk.rows if r.late and r.lead_weeks > 0]
    return [
        f"{_name(desk, r)}: parts for {r.title} should have been ordered by {r.order_by.isoformat()}; ordered "
        f"{desk.trip.head.prepared.isoformat()} they are there {r.here_by.isoformat()}"
        for r in late
    ]


__all__ = [
    "Calendar",
    "CalendarStep",
    "PartsOrder",
    "WorkOrder",
    "lead_words",
    "parts_order",
    "work_order",
    "workshop_calendar",
]
