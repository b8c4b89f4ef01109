"""Two plans side by side: what differs between one set of choices and another, read from their ``plan.json``."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, ValidationError

from fieldkit.errors import Fault, InputFaults

#: The format of plan.json that is read here.
FORMAT = 1


class _Read(BaseModel):
    model_config = ConfigDict(frozen=True, extra="ignore")


class _Estimate(_Read):
    value: float


class _Head(_Read):
    title: str
    revision: str
    start: str
    days: int
    km: float
    people: int
    currency: str
    quick: bool


class _Ready(_Read):
    as_found: str
    after_work: str


class _Risk(_Read):
    mode: str
    title: str
    chance: _Estimate
    hours_lost: float | None
    hours_lost_without_kit: float | None


class _Loads(_Read):
    payload_left_kg: float


class _Vehicle(_Read):
    id: str
    name: str
    readiness: _Ready
    risks: tuple[_Risk, ...]
    loads: _Loads


class _Item(_Read):
    id: str
    quantity: int


class _Proof(_Read):
    optimal: bool
    gap: float


class _Kit(_Read):
    items: tuple[_Item, ...]
    mass_kg: float
    must_carry_kg: float
    hours_without: float
    hours_with: float
    limits: dict[str, dict[str, float]]
    proof: _Proof


class _Work(_Read):
    vehicle: str
    title: str
    hours: float
    cost_low: float
    cost_high: float
    chosen: bool


class _Trials(_Read):
    unassisted: float
    stranded: float
    hours_lost: float


class PlanFigures(_Read):
    """What a comparison needs of a ``plan.json``; masses [kg], times [h], chances 0 to 1."""

    format: int
    trip: _Head
    vehicles: tuple[_Vehicle, ...]
    kit: _Kit
    workshop: tuple[_Work, ...]
    trials: _Trials


@dataclass(frozen=True)
class Row:
    """One figure of both plans. ``unit``: ``kg``, ``h``, ``chance``, ``share``, ``state``, ``count``,
    ``done``, ``km`` or ``text``.

    A plan that has nothing to say there gives None.
    """

    what: str
    unit: str
    first: Any
    second: Any

    @property
    def same(self) -> bool:
        return bool(self.first == self.second)


@dataclass(frozen=True)
class Comparison:
    """Two plans side by side.

    ``sections``: title and rows, in reading order; ``items`` and ``work``: what only the one or the other has, with the number in
    each; ``weak_points``: hours lost with the kit, the largest differences first; ``notes``: what makes the two hard to compare.
    """

    sections: tuple[tuple[str, tuple[Row, ...]], ...]
    items: tuple[Row, ...]
    work: tuple[Row, ...]
    weak_points: tuple[Row, ...]
    notes: tuple[str, ...]


def read_plan(place: Path) -> PlanFigures:
    """A plan's figures from its ``plan.json``, or from the handbook or trip folder that holds one.

    Raises
    ------
    InputFaults
        If there is none, it is no JSON, or not a plan in the format of this version; one fault for each figure that is missing.
    """
    path = _plan_file(place)
    try:
        data = json.loads(path.read_text(encoding="utf-8-sig"))
    except (ValueError, OSError) as odd:
        raise InputFaults([Fault(str(path), f"cannot be read as JSON ({odd})", "a plan.json made by 'plan'")]) from None
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        found = data.get("format") if isinstance(data, dict) else None
        raise InputFaults(
            [Fault(str(path), f"format {found!r}", f"a plan of format {FORMAT}; make it again with 'plan'")]
        )
    try:
        return PlanFigures.model_validate(data)
    except ValidationError as odd:
        faults = [Fault(str(path), f"{'.'.join(map(str, e['loc']))}: {e['msg']}") for e in odd.errors()]
        raise InputFaults(faults) from None


def _plan_file(place: Path) -> Path:
    tried = [place] if place.is_file() else [place / "plan.json", place / "handbook" / "plan.json"]
    for path in tried:
        if path.is_file():
            return path
    raise InputFaults([Fault(str(place), "no plan.json here", "a folder written by 'plan', or its plan.json")])


def compare_plans(first: PlanFigures, second: PlanFigures, names: Mapping[str, str], most: int = 10) -> Comparison:
    """What two plans say of the same things, and what only one of them holds.

    Parameters
    ----------
    first, second : PlanFigures
        From ``read_plan``.
    names : mapping
        Item id to its name on pages; an id without one stays as it is.
    most : int
        How many weak points to show at most.
    """
    return Comparison(
        sections=(
            ("Trip", _trip(first.trip, second.trip)),
            ("Fit to leave", _states(first, second)),
            ("Kit", _kit(first, second)),
            ("Trial runs", _trials(first.trials, second.trials)),
        ),
        items=_only(_stock(first), _stock(second), "count", names),
        work=_only(_chosen(first), _chosen(second), "done", {}),
        weak_points=_weak_points(first, second)[:most],
        notes=tuple(_notes(first, second)),
    )


def _rows(first: Any, second: Any, asked: Iterable[tuple[str, str, Callable[[Any], Any]]]) -> tuple[Row, ...]:
    return tuple(Row(what, unit, of(first), of(second)) for what, unit, of in asked)


def _trip(first: _Head, second: _Head) -> tuple[Row, ...]:
    return _rows(
        first,
        second,
        [
            ("title", "text", lambda t: t.title),
            ("revision", "text", lambda t: t.revision),
            ("start", "text", lambda t: t.start),
            ("days", "count", lambda t: t.days),
            ("length", "km", lambda t: t.km),
            ("people", "count", lambda t: t.people),
        ],
    )


def _states(first: PlanFigures, second: PlanFigures) -> tuple[Row, ...]:
    """As found, after the work and payload left, for each vehicle of either plan."""
    ones, others = ({v.id: v for v in plan.vehicles} for plan in (first, second))
    rows: list[Row] = []
    for key in {**ones, **others}:
        one, other = ones.get(key), others.get(key)
        name = (one or other).name  # type: ignore[union-attr]
        for what, unit, of in (
            ("as found", "state", lambda v: v.readiness.as_found),
            ("after the work", "state", lambda v: v.readiness.after_work),
            ("payload left", "kg", lambda v: v.loads.payload_left_kg),
        ):
            rows.append(Row(f"{name}, {what}", unit, one and of(one), other and of(other)))
    return tuple(rows)


def _kit(first: PlanFigures, second: PlanFigures) -> tuple[Row, ...]:
    def used(limit: str) -> Callable[[PlanFigures], float | None]:
        return lambda plan: plan.kit.limits.get(limit, {}).get("used")

    return _rows(
        first,
        second,
        [
            ("mass", "kg", lambda p: p.kit.mass_kg),
            ("of which must be carried", "kg", lambda p: p.kit.must_carry_kg),
            ("money for the kit", "count", used("money")),
            ("hours lost without a kit", "h", lambda p: p.kit.hours_without),
            ("hours lost with it", "h", lambda p: p.kit.hours_with),
            ("gap to the best possible", "share", lambda p: 0.0 if p.kit.proof.optimal else p.kit.proof.gap),
            ("work before leaving", "count", lambda p: sum(w.chosen for w in p.workshop)),
            ("workshop hours", "count", lambda p: sum(w.hours for w in p.workshop if w.chosen)),
            ("workshop money", "count", used("workshop money")),
        ],
    )


def _trials(first: _Trials, second: _Trials) -> tuple[Row, ...]:
    return _rows(
        first,
        second,
        [
            ("finish without outside help", "chance", lambda t: t.unassisted),
            ("stranded", "chance", lambda t: t.stranded),
            ("hours lost", "h", lambda t: t.hours_lost),
        ],
    )


def _stock(plan: PlanFigures) -> dict[str, int]:
    stock: dict[str, int] = {}
    for item in plan.kit.items:
        stock[item.id] = stock.get(item.id, 0) + item.quantity
    return stock


def _chosen(plan: PlanFigures) -> dict[str, int]:
    called = {v.id: v.name for v in plan.vehicles}
    return {f"{called.get(w.vehicle, w.vehicle)}: {w.title}": 1 for w in plan.workshop if w.chosen}


def _only(first: Mapping[str, int], second: Mapping[str, int], unit: str, names: Mapping[str, str]) -> tuple[Row, ...]:
    rows = (
        Row(names.get(key, key), unit, first.get(key, 0), second.get(key, 0))
        for key in sorted({*first, *second}, key=lambda k: names.get(k, k).casefold())
    )
    return tuple(row for row in rows if not row.same)


def _weak_points(first: PlanFigures, second: PlanFigures) -> tuple[Row, ...]:
    """Hours lost to each weak point with the plan's kit and work, where the two plans differ; largest difference first."""

    def hours(plan: PlanFigures) -> dict[tuple[str, str], tuple[str, float]]:
        return {
            (v.id, r.mode): (f"{v.name}: {r.title}", r.hours_lost)
            for v in plan.vehicles
            for r in v.risks
            if r.hours_lost is not None
        }

    ones, others = hours(first), hours(second)
    rows = [
        Row((ones.get(k) or others[k])[0], "h", *(side[k][1] if k in side else None for side in (ones, others)))
        for k in {**ones, **others}
    ]
    differing = [row for row in rows if not row.same]
    return tuple(sorted(differing, key=lambda r: -abs((r.first or 0.0) - (r.second or 0.0))))


def _notes(first: PlanFigures, second: PlanFigures) -> Iterable[str]:
    if first.trip.title != second.trip.title:
        yield "These are plans of two different trips."
    if first.trip.quick != second.trip.quick:
        yield "One plan was made with --quick and the other in full; small differences may come from that alone."
    if first.trip.currency != second.trip.currency:
        yield f"Money is in {first.trip.currency} in the first plan and in {second.trip.currency} in the second."
