"""The workshop plan: the calendar back from departure, a work order for each vehicle, the parts order."""

from __future__ import annotations

from typing import Any

from fieldkit.handbook.facts import Facts, Page
from fieldkit.handbook.markup import inline
from fieldkit.handbook.vehicles import vehicle_ref
from fieldkit.handbook.words import day_text, days_said
from fieldkit.inspection.calendar import Calendar, CalendarStep, lead_words, workshop_calendar
from fieldkit.inspection.orders import PartsOrder, VehicleWork, WorkOrder, WorkRow, parts_order, work_order

#: What a step's state is called, seen from the day the plan was made.
STATES = {
    "done": "done, or nothing to do",
    "ahead": "ahead",
    "move": "late: move it",
    "too-late": "too late",
}


def workshop_pages(facts: Facts) -> list[Page]:
    """The plan, the parts order, and one work order for each vehicle that has work."""
    work = facts.plan.kit.work
    order, parts = work_order(facts.trip, work), parts_order(facts.trip, work)
    return [
        _plan(facts, workshop_calendar(facts.trip, work), order),
        _parts(facts, parts),
        *(_vehicle_order(facts, order, mine) for mine in order.vehicles),
    ]


# ------------------------------------------------------------------------------------------------ the plan
def _plan(facts: Facts, calendar: Calendar, order: WorkOrder) -> Page:
    context = {
        "prepared": day_text(calendar.prepared),
        "start": day_text(calendar.start),
        "days_left": calendar.days_left,
        "steps": [_step(s) for s in calendar.steps],
        "too_late": [inline(days_said(x)) for x in calendar.too_late],
        "moved": [inline(days_said(x)) for x in calendar.moved],
        "orders": [
            {**vehicle_ref(facts, facts.trip.vehicle(v.vehicle)), **_sums(v), "order": order_key(v.vehicle)}
            for v in order.vehicles
        ],
        **_totals(order),
    }
    return Page("workshop/index", facts.words["titles"]["workshop"], "workshop.html", "workshop", context)


def _step(step: CalendarStep) -> dict[str, Any]:
    return {
        "id": step.id,
        "title": step.title,
        "what": inline(step.what),
        "usual": [day_text(d) for d in dict.fromkeys((step.first, step.due))],
        "day": day_text(step.day) if step.state == "move" and step.day else "",
        "latest": day_text(step.latest),
        "state": STATES[step.state],
        "holds": [days_said(x) for x in step.holds],
        "if_late": inline(days_said(step.if_late)) if step.state in ("move", "too-late") else "",
    }


def _totals(order: WorkOrder) -> dict[str, Any]:
    rate = f"hours at {order.rate:g} {order.currency}" if order.rate else "hours not priced: no rate is stated"
    return {
        "hours": f"{order.hours:.3g} h",
        "hours_limit": f"{order.hours_limit:.3g} h",
        "money": _range(order.money_low, order.money_high, order.currency),
        "money_limit": f"{order.money_limit:.0f} {order.currency}",
        "rate": rate,
        "over": list(order.over),
    }


def _sums(mine: VehicleWork) -> dict[str, str]:
    return {"hours": f"{mine.hours:.3g} h", "works": str(len(mine.rows))}


def _range(low: float, high: float, currency: str) -> str:
    """A range of money, whole units.

    >>> _range(80, 160, "crowns"), _range(80, 80, "crowns")
    ('80 to 160 crowns', '80 crowns')
    """
    return f"{low:.0f} {currency}" if round(low) == round(high) else f"{low:.0f} to {high:.0f} {currency}"


# -------------------------------------------------------------------------------------------------- orders
def order_key(vehicle: str) -> str:
    return f"vehicles/{vehicle}/work-order"


def _vehicle_order(facts: Facts, order: WorkOrder, mine: VehicleWork) -> Page:
    """One vehicle's work order: what is asked, what it gives up, lines for the manual's figures, and a signature."""
    vehicle = facts.trip.vehicle(mine.vehicle)
    labour = mine.hours * order.rate
    context = {
        **vehicle_ref(facts, vehicle),
        "plate": mine.plate,
        "odometer": f"{vehicle.spec.age.odometer_km:,.0f} km" if vehicle.spec.age.odometer_km else "",
        "owner": vehicle.spec.identity.owner,
        "rows": [_row(facts, r) for r in mine.rows],
        "hours": f"{mine.hours:.3g} h",
        "parts": _range(mine.parts_low, mine.parts_high, order.currency),
        "money": _range(mine.parts_low + labour, mine.parts_high + labour, order.currency) if order.rate else "",
        "manual": list(order.manual),
        "cautions": list(order.cautions),
    }
    title = f"Work order: {vehicle.name}"
    return Page(order_key(vehicle.id), title, "work_order.html", "workshop", context, about=(vehicle.id,))


def _row(facts: Facts, row: WorkRow) -> dict[str, Any]:
    return {
        "title": row.title,
        "mode": facts.mode_ref(row.mode),
        "required": row.required,
        "hours": f"{row.hours:g} h",
        "cost": _range(row.cost_low, row.cost_high, facts.trip.head.currency),
        "lead": lead_words(row.lead_weeks),
        "here": day_text(row.here_by) if row.lead_weeks else "",
        "fits": list(row.fits),
        "gives_up": inline(row.gives_up),
        "legality": inline(row.legality),
    }


def _parts(facts: Facts, parts: PartsOrder) -> Page:
    context = {
        "rows": [
            {
                "order_by": day_text(r.order_by),
                "late": r.late,
                "here_by": day_text(r.here_by),
                "vehicle": facts.name(r.vehicle),
                "title": r.title,
                "fits": list(r.fits),
                "lead": lead_words(r.lead_weeks),
                "cost": _range(r.cost_low, r.cost_high, parts.currency),
            }
            for r in parts.rows
        ],
        "total": _range(parts.low, parts.high, parts.currency),
        "prepared": day_text(facts.trip.head.prepared),
    }
    title = facts.words["titles"]["parts_order"]
    return Page("workshop/parts-order", title, "parts_order.html", "workshop", context)
