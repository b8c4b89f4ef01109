"""Vehicle pages: state, weak points ranked, findings, work, loads; what is packed where; the figures sheet."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from fieldkit.handbook import charts
from fieldkit.handbook.facts import Facts, Page
from fieldkit.handbook.markup import inline
from fieldkit.handbook.symptoms import severity_words
from fieldkit.handbook.weak_points import findings_of
from fieldkit.handbook.words import day_text, days_said, hours, kilograms
from fieldkit.inspection.result import Readiness
from fieldkit.inspection.settings import figures_asked, rules_of
from fieldkit.kit.result import KitItem, WorkChoice
from fieldkit.likelihood.moves import Move
from fieldkit.likelihood.result import Risk
from fieldkit.loads import side_view, tyre_report
from fieldkit.loads.fitted_tyres import features_of
from fieldkit.specs.trip import Vehicle


def vehicle_pages(facts: Facts) -> list[Page]:
    """The list of vehicles, and for each its page, packing list and figures sheet."""
    pages = [_index(facts)]
    for vehicle in facts.vehicles:
        pages += [_page(facts, vehicle), _packing(facts, vehicle), _figures(facts, vehicle)]
    return pages


def _index(facts: Facts) -> Page:
    rows = [{**vehicle_ref(facts, v), **state_words(facts, facts.plan.readiness[v.id])} for v in facts.vehicles]
    return Page("vehicles/index", facts.words["titles"]["vehicles"], "vehicles.html", "vehicles", {"vehicles": rows})


def vehicle_ref(facts: Facts, vehicle: Vehicle) -> dict[str, Any]:
    return {
        "id": vehicle.id,
        "name": vehicle.name,
        "build": vehicle.archetype.name,
        "key": f"vehicles/{vehicle.id}/index",
        "packing": f"vehicles/{vehicle.id}/packing",
        "sheet": f"vehicles/{vehicle.id}/driver",
        "figures": f"vehicles/{vehicle.id}/figures",
        "recovery": f"recovery/{vehicle.id}",
        "position": vehicle.entry.position,
        "crew": vehicle.entry.crew,
    }


def state_words(facts: Facts, readiness: Readiness) -> dict[str, Any]:
    """A vehicle's two states, each as a word and a number from 1 (fit) to 4 (off the road)."""

    def said(state: str) -> str:
        return f"{facts.words.label('states', state)} ({facts.words.label('state_numbers', state)} of 4)"

    return {
        "as_found": said(readiness.as_found),
        "after_work": said(readiness.after_work),
        "same": readiness.as_found == readiness.after_work,
        "state_id": readiness.after_work,
    }


def _page(facts: Facts, vehicle: Vehicle) -> Page:
    readiness = facts.plan.readiness[vehicle.id]
    risks = facts.risks_of(vehicle.id)
    in_full = facts.words["vehicle_page"]["in_full"]
    context = {
        **vehicle_ref(facts, vehicle),
        **state_words(facts, readiness),
        "summary": vehicle.archetype.summary,
        "identity": _identity(vehicle),
        "reasons": [_reason(facts, r) for r in readiness.reasons],
        "limits": list(readiness.limits),
        "evidence": days_said(readiness.evidence),
        "first": readiness.first,
        "ranked": [weak_point(facts, r, n) for n, r in enumerate(risks[:in_full], 1)],
        "rest": [weak_point(facts, r, n) for n, r in enumerate(risks[in_full:], in_full + 1)],
        "findings": _findings(facts, vehicle),
        "conflicts": list(facts.plan.beliefs.conflicts),
        "work": [_work(facts, w) for w in facts.plan.kit.work if w.vehicle == vehicle.id and (w.chosen or w.required)],
        "too_late": [_work(facts, w) for w in facts.plan.kit.work if w.vehicle == vehicle.id and w.too_late],
        "renewed": [_renewed(facts, r) for r in vehicle.spec.renewed],
        "fitted": [{"name": part.name, "gives_up": part.gives_up} for _, part in vehicle.modifications],
        "loads": _loads(facts, vehicle),
        "moves": [_move(m) for m in facts.plan.moves.get(vehicle.id, ())],
        "by_leg": charts.risk_by_leg(facts, vehicle.id),
        "damage": charts.damage_graph(facts, vehicle.id),
    }
    return Page(f"vehicles/{vehicle.id}/index", vehicle.name, "vehicle.html", "vehicles", context, about=(vehicle.id,))


def _move(move: Move) -> dict[str, str]:
    """One input, the share of the vehicle's expected disabling failures that it adds or takes away."""
    share = 100 * abs(move.change) / move.now if move.now > 0 else 0.0
    return {"label": move.label, "way": "adds" if move.change > 0 else "takes away", "share": f"{share:.2g}"}


def _identity(vehicle: Vehicle) -> list[tuple[str, str]]:
    age = vehicle.spec.age
    rows = [
        ("Build", vehicle.archetype.name),
        ("Built", str(vehicle.spec.identity.built or "")),
        ("Plate", vehicle.spec.identity.plate),
        ("Odometer", f"{age.odometer_km:,.0f} km" if age.odometer_km else ""),
        ("Tyres", vehicle.spec.tyres.size if vehicle.spec.tyres else vehicle.archetype.tyre.size),
    ]
    return [(label, value) for label, value in rows if value]


def _reason(facts: Facts, reason: Any) -> dict[str, Any]:
    return {
        "text": days_said(reason.text),
        "state": facts.words.label("states", reason.state),
        "mode": facts.mode_ref(reason.mode) if reason.mode in facts.library.failure_modes else None,
        "mend": reason.mend,
        "lifted_by": facts.words.label("lifted_by", reason.lifted_by),
        "evidence": days_said(reason.evidence),
        "hours": hours(reason.hours) if reason.hours else "",
        "cleared": reason.cleared,
        "only_after": reason.only_after,
    }


def weak_point(facts: Facts, risk: Risk, place: int) -> dict[str, Any]:
    """A weak point of a vehicle as ranked on its page: chance in words, range and story a tap away."""
    mode = facts.mode(risk.mode)
    repairs = [facts.repair_ref(p, risk.vehicle) for p in facts.repairs_of.get(risk.mode, ())]
    covered = [r for r in repairs if r["cover"] and not r["cover"][0]["lacks"]]
    return {
        **facts.mode_ref(risk.mode),
        "place": place,
        "severity": severity_words(facts, mode),
        "chance": facts.words.chance_figure(risk.chance.value, risk.chance.low, risk.chance.high),
        "before": _before(facts, risk),
        "expected": f"{risk.expected.value:.3g}",
        "covered": covered[0] if covered else None,
        "story": [
            {"label": s.label, "factor": f"{s.factor:.3g}", "reason": _titled(facts, s.reason)} for s in risk.story
        ],
        "evidence": risk.evidence,
        "worth": f"{risk.failures_worth:.2g}",
        "feel": [
            facts.library.symptoms[s.id].text
            for s in sorted(mode.symptoms, key=lambda s: -s.probability)[:2]
            if s.id in facts.library.symptoms
        ],
    }


def _titled(facts: Facts, reason: str) -> str:
    """A reason with weak points by their titles."""
    modes = facts.library.failure_modes
    return ", ".join(modes[part].title if part in modes else part for part in reason.split(", "))


def _before(facts: Facts, risk: Risk) -> str:
    """The chance without the chosen work, where the work changes it."""
    before = facts.before_work(risk.vehicle, risk.mode)
    return facts.words.chance(before.chance.value) if before else ""


def _findings(facts: Facts, vehicle: Vehicle) -> list[dict[str, Any]]:
    modes = dict.fromkeys(f.failure_mode for f in facts.trip.findings if f.vehicle == vehicle.id)
    return [
        {**facts.mode_ref(m), **found}
        for m in modes
        if m in facts.library.failure_modes
        for found in findings_of(facts, vehicle.id, m)
    ]


def _work(facts: Facts, work: WorkChoice) -> dict[str, Any]:
    return {
        "title": work.title,
        "mode": facts.mode_ref(work.mode) if work.mode in facts.library.failure_modes else None,
        "hours": f"{work.hours:g} h",
        "cost": f"{work.cost_low:.0f} to {work.cost_high:.0f} {facts.trip.head.currency}",
        "lead_weeks": work.lead_weeks,
        "saves": hours(work.saves_hours),
        "required": work.required,
        "chosen": work.chosen,
    }


def _renewed(facts: Facts, renewed: Any) -> dict[str, Any]:
    when = f"at {renewed.at_km:,.0f} km" if renewed.at_km is not None else ""
    if renewed.date:
        when = day_text(renewed.date)
    return {
        "title": facts.mode(renewed.failure_mode).item if renewed.failure_mode in facts.library.failure_modes else "",
        "when": when,
        "grade": renewed.grade,
        "positions": ", ".join(renewed.positions),
    }


def _loads(facts: Facts, vehicle: Vehicle) -> dict[str, Any]:
    loads = facts.plan.loads[vehicle.id]
    return {
        "verdict": loads.verdict,
        "binding": loads.binding,
        "left": f"{loads.payload_left_kg:.0f}",
        "weighed": days_said(loads.weighed) or facts.words["words"]["never_weighed"],
        "unexplained": None if loads.unexplained_kg is None else f"{loads.unexplained_kg:.0f}",
        "bars": charts.mass_bars(loads),
        "side": side_view(loads, vehicle),
        "tyres": tyres(facts, vehicle),
        "ways_back": [inline(w) for w in loads.ways_back],
        "cautions": [inline(c) for c in loads.cautions],
        "states": [
            {"name": name, "gross": f"{s.gross_kg:.0f}", "front": f"{s.front_kg:.0f}", "rear": f"{s.rear_kg:.0f}"}
            for name, s in loads.states.items()
            if name in ("as-built", "fitted", "departure", "with-kit")
        ],
    }


def tyres(facts: Facts, vehicle: Vehicle) -> dict[str, Any]:
    """Sizes, what they change, and the pressures by surface on this route."""
    report = tyre_report(vehicle, facts.plan.loads[vehicle.id], facts.trip)
    on_route = {leg.surface for leg in facts.plan.exposure.legs}
    q = facts.words.quantity
    return {
        "size": report.size,
        "spare": report.spare_size or "none",
        "age": f"about {report.age_years:.0f} years" if report.age_years is not None else "not known",
        "surfaces": [
            {
                "name": s.name,
                "front": q(s.front_kpa, "kPa", 0),
                "rear": q(s.rear_kpa, "kPa", 0),
                "stuck": q(s.stuck_kpa, "kPa", 0) if s.stuck_kpa else "–",
                "speed": q(s.speed_kmh, "km/h", 0),
            }
            for s in report.surfaces
            if s.surface in on_route
        ],
        "notes": [inline(n) for n in report.notes],
        "cautions": [inline(c) for c in report.cautions],
    }


# ---------------------------------------------------------------------------------------------- packing
def _packing(facts: Facts, vehicle: Vehicle) -> Page:
    """The packing list by stowage place, with where the places are."""
    mine = [e for e in facts.plan.kit.items if e.vehicle == vehicle.id and e.quantity]
    places = []
    for key in sorted({e.place for e in mine}, key=lambda k: (_reach(facts, vehicle, k), k)):
        lines = [
            packing_line(facts, e) for e in sorted(mine, key=lambda e: (not e.must_carry, e.item)) if e.place == key
        ]
        place = vehicle.places.get(key)
        places.append(
            {
                "id": key,
                "name": facts.place(vehicle.id, key),
                "lines": lines,
                "mass": f"{sum(e.mass_kg * e.quantity for e in mine if e.place == key):.1f}",
                "reach": bool(place and place.reachable_bogged),
            }
        )
    context = {
        **vehicle_ref(facts, vehicle),
        "places": places,
        "map": charts.side_view(facts, vehicle),
        "mass": f"{sum(e.mass_kg * e.quantity for e in mine):.0f}",
    }
    title = f"Packing list: {vehicle.name}"
    return Page(f"vehicles/{vehicle.id}/packing", title, "packing.html", "vehicles", context, about=(vehicle.id,))


def _reach(facts: Facts, vehicle: Vehicle, place: str) -> float:
    found = vehicle.places.get(place)
    return -found.x_m if found else 0.0


def packing_line(facts: Facts, entry: KitItem) -> dict[str, Any]:
    serves = list(dict.fromkeys(p for _, _, p in entry.serves if p in facts.numbers))
    item = facts.library.items.get(entry.item)
    return {
        "id": entry.item,
        "name": facts.item_name(entry.item),
        "kind": facts.words.label("item_kinds", item.kind) if item else "",
        "quantity": entry.quantity,
        "mass": kilograms(entry.mass_kg * entry.quantity),
        "must_carry": entry.must_carry,
        "meant_for": facts.meant_for(entry.suits) if entry.suits not in ((), (entry.vehicle,)) else "",
        "tick": "-".join((entry.item, *(entry.suits if entry.suits != (entry.vehicle,) else ()))),
        "to_get": entry.quantity - min(entry.owned, entry.quantity),
        "care": item.travel_damage if item and item.travel_damage not in ("", "none known") else "",
        "serves": [{"key": f"repairs/{p}", "number": facts.numbers[p]} for p in serves],
        "why": entry.firmness,
    }


# ---------------------------------------------------------------------------------------------- figures
def _figures(facts: Facts, vehicle: Vehicle) -> Page:
    """The owner's figures sheet: what must be looked up in the maker's manual, with a place to write it."""
    lines = figure_lines(facts, vehicle.spec.figures, features_of(vehicle))
    context = {**vehicle_ref(facts, vehicle), "lines": lines, "blank": sum(not line["value"] for line in lines)}
    title = f"Figures sheet: {vehicle.name}"
    return Page(f"vehicles/{vehicle.id}/figures", title, "figures.html", "vehicles", context, about=(vehicle.id,))


def figure_lines(facts: Facts, given: dict[str, str], features: Collection[str]) -> list[dict[str, str]]:
    """Lines of the figures sheet in the rules' order, as far as the vehicle has such parts, then any others that the owner wrote."""
    known = figures_asked(rules_of(facts.library), features)
    lines = [{"id": k, "what": what, "value": given.get(k, "").strip()} for k, what in known.items()]
    lines += [{"id": k, "what": k.replace("_", " "), "value": v} for k, v in given.items() if k not in known]
    return lines
