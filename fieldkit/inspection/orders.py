"""Work order and parts order of the chosen work: rows per vehicle, and totals against the trip's limits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from typing import Protocol

from fieldkit.inspection.readiness import Chosen
from fieldkit.inspection.workshop_settings import WorkshopSettings, workshop_settings
from fieldkit.specs.library import WorkshopOption
from fieldkit.specs.trip import Trip, Vehicle


class WorkLike(Chosen, Protocol):
    """Work as the plan lists it, chosen or not (``kit.result.WorkChoice`` is one)."""

    @property
    def title(self) -> str: ...
    @property
    def hours(self) -> float: ...
    @property
    def cost_low(self) -> float: ...
    @property
    def cost_high(self) -> float: ...
    @property
    def lead_weeks(self) -> float: ...
    @property
    def saves_hours(self) -> float: ...
    @property
    def required(self) -> bool: ...
    @property
    def too_late(self) -> bool: ...


@dataclass(frozen=True)
class WorkRow:
    """One chosen work: hours [h], cost of its parts [the trip's currency], lead [weeks].

    ``order_by``: the day on which its parts are ordered for the usual workshop day; ``here_by``: the day they are there if
    ordered then or, where that day has passed, on the day the plan was made. ``fits``: names of the parts it fits.
    """

    vehicle: str
    mode: str
    option: str
    title: str
    hours: float
    cost_low: float
    cost_high: float
    lead_weeks: float
    order_by: date
    here_by: date
    fits: tuple[str, ...]
    gives_up: str
    legality: str
    required: bool

    @property
    def late(self) -> bool:
        """Whether the usual day to order its parts has passed."""
        return self.here_by > self.order_by + _lead(self.lead_weeks)


@dataclass(frozen=True)
class VehicleWork:
    """A vehicle's chosen work. ``hours`` [h]; ``parts_low`` and ``parts_high``: its parts alone [the trip's currency]."""

    vehicle: str
    name: str
    build: str
    plate: str
    rows: tuple[WorkRow, ...]

    @property
    def hours(self) -> float:
        return sum(r.hours for r in self.rows)

    @property
    def parts_low(self) -> float:
        return sum(r.cost_low for r in self.rows)

    @property
    def parts_high(self) -> float:
        return sum(r.cost_high for r in self.rows)


@dataclass(frozen=True)
class WorkOrder:
    """All chosen work against the limits.

    ``vehicles``: in the trip's order, those with work. ``hours`` [h] of ``hours_limit``; ``rate`` [currency/h]; ``money_low`` and
    ``money_high``: parts and hours at the rate [currency]; ``money``: what counts against ``money_limit`` (the middle of the
    parts' range, as the plan reckons). ``over``: limits that are not kept, in words. ``manual``: lines left blank for figures
    of the maker's manual. ``cautions`` to print on it.
    """

    vehicles: tuple[VehicleWork, ...]
    hours: float
    hours_limit: float
    rate: float
    money_low: float
    money_high: float
    money: float
    money_limit: float
    currency: str
    over: tuple[str, ...]
    manual: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class PartsOrder:
    """Parts to order, the earliest order day first; ``low`` and ``high`` together [currency]."""

    rows: tuple[WorkRow, ...]
    low: float
    high: float
    currency: str


def work_rows(trip: Trip, work: Sequence[WorkLike]) -> list[WorkRow]:
    """The chosen work as rows, in the order given; work of vehicles or weak points that the trip lacks is left out."""
    settings, known = workshop_settings(trip.library), {v.id for v in trip.vehicles}
    day = work_day(trip, settings)
    return [
        _row(trip, w, option, day)
        for w in work
        if w.chosen and w.vehicle in known and (option := option_of(trip, w)) is not None
    ]


def option_of(trip: Trip, work: WorkLike) -> WorkshopOption | None:
    """The library's option behind a choice; None where the library has it no longer."""
    mode = trip.library.failure_modes.get(work.mode)
    return next((o for o in mode.workshop if o.id == work.option), None) if mode else None


def work_day(trip: Trip, settings: WorkshopSettings) -> date:
    """The usual workshop day: the week of the step ``do``, counted back from departure."""
    weeks = next((s.weeks for s in settings.step if s.id == "do"), 0.0)
    return trip.head.start - timedelta(weeks=weeks)


def _lead(weeks: float) -> timedelta:
    return timedelta(days=-int(-weeks * 7 // 1))


def _row(trip: Trip, work: WorkLike, option: WorkshopOption, day: date) -> WorkRow:
    order_by = day - _lead(work.lead_weeks)
    parts = trip.library.modifications
    return WorkRow(
        work.vehicle,
        work.mode,
        work.option,
        work.title,
        work.hours,
        work.cost_low,
        work.cost_high,
        work.lead_weeks,
        order_by,
        max(order_by, trip.head.prepared) + _lead(work.lead_weeks),
        tuple(parts[f].name for f in option.fits if f in parts),
        option.gives_up,
        option.legality,
        work.required,
    )


def work_order(trip: Trip, work: Sequence[WorkLike]) -> WorkOrder:
    """What the workshop is asked to do, per vehicle, with totals against hours and money.

    Parameters
    ----------
    trip : Trip
    work : sequence of WorkLike
        The plan's work, chosen or not; only what is chosen is ordered.
    """
    rows, limits = work_rows(trip, work), trip.head.limits
    settings = workshop_settings(trip.library)
    labour = sum(r.hours for r in rows) * limits.workshop_rate
    low, high = (sum(getattr(r, c) for r in rows) + labour for c in ("cost_low", "cost_high"))
    order = WorkOrder(
        tuple(found for v in trip.vehicles if (found := _vehicle_work(v, rows)).rows),
        sum(r.hours for r in rows),
        limits.workshop_hours,
        limits.workshop_rate,
        low,
        high,
        (low + high) / 2.0,
        limits.workshop_money,
        trip.head.currency,
        (),
        settings.order.manual,
        settings.order.cautions,
    )
    return _with_over(order)


def _vehicle_work(vehicle: Vehicle, rows: Sequence[WorkRow]) -> VehicleWork:
    mine = sorted((r for r in rows if r.vehicle == vehicle.id), key=lambda r: (not r.required, -r.hours, r.title))
    return VehicleWork(vehicle.id, vehicle.name, vehicle.archetype.name, vehicle.spec.identity.plate, tuple(mine))


def _with_over(order: WorkOrder) -> WorkOrder:
    over = []
    if order.hours > order.hours_limit + 1e-9:
        over.append(f"{order.hours:.3g} h of work, {order.hours_limit:.3g} h are there")
    if order.money > order.money_limit + 1e-9:
        over.append(f"{order.money:.0f} {order.currency} in the middle of the range, {order.money_limit:.0f} are there")
    if order.money_high > order.money_limit + 1e-9 >= order.money:
        over.append(
            f"at the top of the range {order.money_high:.0f} {order.currency}, {order.money_limit:.0f} are there"
        )
    return replace(order, over=tuple(over))


def parts_order(trip: Trip, work: Sequence[WorkLike]) -> PartsOrder:
    """Parts of the chosen work, by the day on which they must be ordered.

    Work that needs no part (no cost and no lead time) is left out.
    """
    rows = [r for r in work_rows(trip, work) if r.cost_high > 0 or r.lead_weeks > 0]
    rows.sort(key=lambda r: (r.order_by, r.vehicle, r.title))
    return PartsOrder(tuple(rows), sum(r.cost_low for r in rows), sum(r.cost_high for r in rows), trip.head.currency)
