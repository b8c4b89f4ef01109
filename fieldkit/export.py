"""A plan as JSON and CSV: every figure computed, with a published schema, the same bytes for the same input."""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import asdict, is_dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fieldkit.exposure.result import LegExposure
from fieldkit.kit.result import Kit
from fieldkit.likelihood.result import Range, Risk
from fieldkit.loads.result import VehicleLoads
from fieldkit.plan import Plan

if TYPE_CHECKING:
    import pandas as pd


def plan_json(plan: Plan) -> dict[str, Any]:
    """Everything of a plan as plain data in the shape of ``docs/schema/plan.schema.json``.

    Masses [kg], distances [km], times [h] unless a key says otherwise; ``low`` and ``high`` are the central 80 %.
    Figures are rounded to 6 significant digits; unknown figures are null.
    """
    trip = plan.trip
    return plain(
        {
            "format": 1,
            "trip": _trip(plan),
            "legs": [_leg(leg) for leg in plan.exposure.legs],
            "vehicles": [_vehicle(plan, v.id) for v in trip.vehicles],
            "kit": _kit(plan.kit),
            "curve": [{"mass_kg": p.mass_kg, "hours_lost": p.hours_lost, "bound": p.bound} for p in plan.kit.curve],
            "workshop": [asdict(w) for w in plan.kit.work],
            "trials": _trials(plan),
            "recovery": [asdict(v) for v in plan.recovery.vehicles],
            "supplies": _supplies(plan),
            "diagnosis": {v: _diagnosis(plan, v) for v in sorted(plan.diagnosis)},
            "summary": plan.summary,
            "looks": [asdict(look) for look in plan.looks],
            "sources": sources(plan),
        }
    )


def plain(value: Any) -> Any:
    """Plain JSON data: floats to 6 significant digits, NaN and infinity to None, arrays and dataclasses opened.

    Examples
    --------
    >>> plain({"a": float("nan"), "b": 1.23456789, "c": (1, 2.0)})
    {'a': None, 'b': 1.23457, 'c': [1, 2.0]}
    """
    if isinstance(value, bool) or value is None or isinstance(value, (str, int)):
        return value
    if isinstance(value, float):
        return float(f"{value:.6g}") if math.isfinite(value) else None
    if isinstance(value, Mapping):
        return {_key(k): plain(v) for k, v in value.items()}
    if is_dataclass(value) and not isinstance(value, type):
        return plain(asdict(value))
    if hasattr(value, "tolist"):
        return plain(value.tolist())
    if isinstance(value, Iterable):
        return [plain(v) for v in value]
    return str(value)


def _key(key: Any) -> str:
    return " / ".join(map(str, key)) if isinstance(key, tuple) else str(key)


def _trip(plan: Plan) -> dict[str, Any]:
    head = plan.trip.head
    return {
        "id": plan.trip.id,
        "title": head.title,
        "revision": plan.trip.digest,
        "start": head.start.isoformat(),
        "prepared": head.prepared.isoformat(),
        "days": head.days,
        "km": plan.route.length_km,
        "climb_m": plan.route.climb_m,
        "people": head.party.people,
        "quick": plan.options.quick,
        "seed": plan.options.seed,
        "currency": head.currency,
    }


def _leg(leg: LegExposure) -> dict[str, Any]:
    data = asdict(leg)
    difficulty = {"class": data.pop("difficulty"), "reasons": data.pop("reasons")}
    return {**data, "km": leg.km, "difficulty": difficulty}


def _vehicle(plan: Plan, vehicle: str) -> dict[str, Any]:
    found = plan.trip.vehicle(vehicle)
    ready = plan.readiness[vehicle]
    return {
        "id": vehicle,
        "name": found.name,
        "build": found.spec.based_on,
        "readiness": {
            "as_found": ready.as_found,
            "after_work": ready.after_work,
            "reasons": [asdict(r) for r in ready.reasons],
            "limits": ready.limits,
            "evidence": ready.evidence,
        },
        "risks": [_risk(plan, r) for r in plan.risks.of(vehicle)],
        "loads": _loads(plan.loads[vehicle]),
        "moves": [{"label": m.label, "now": m.now, "without": m.without} for m in plan.moves.get(vehicle, ())],
    }


def _range(value: Range) -> dict[str, float]:
    return {"value": value.value, "low": value.low, "high": value.high}


def _risk(plan: Plan, risk: Risk) -> dict[str, Any]:
    cover = next((c for c in plan.kit.cover if (c.vehicle, c.mode) == (risk.vehicle, risk.mode)), None)
    return {
        "mode": risk.mode,
        "title": plan.trip.library.failure_modes[risk.mode].title,
        "subsystem": plan.trip.library.subsystem_of[risk.mode],
        "expected": _range(risk.expected),
        "chance": _range(risk.chance),
        "hours_lost": cover.hours_with if cover else None,
        "hours_lost_without_kit": cover.hours_without if cover else None,
        "story": [asdict(s) for s in risk.story],
        "by_leg": risk.by_leg,
        "degraded": risk.degraded,
        "evidence": risk.evidence,
        "failures_worth": risk.failures_worth if math.isfinite(risk.failures_worth) else None,
    }


def _loads(loads: VehicleLoads) -> dict[str, Any]:
    data = asdict(loads)
    data.pop("vehicle")
    data.pop("entries")
    data["margins"] = [{**asdict(m), "left_kg": m.left_kg} for m in loads.margins]
    return data


def _kit(kit: Kit) -> dict[str, Any]:
    items = [
        {**asdict(i), "id": i.item, "serves": [list(s) for s in i.serves]}
        for i in sorted(kit.items, key=lambda i: (i.vehicle, i.place, i.item, i.must_carry))
    ]
    for item in items:
        item.pop("item")
    return {
        "items": items,
        "mass_kg": sum(i.quantity * i.mass_kg for i in kit.items),
        "must_carry_kg": kit.must_carry_kg,
        "hours_without": kit.hours_without,
        "hours_with": kit.hours_with,
        "left_out": [asdict(x) for x in kit.left_out],
        "cover": [asdict(c) for c in kit.cover],
        "limits": {k: {"used": u, "limit": x} for k, (u, x) in kit.limits.items()},
        "chosen_by": kit.chosen_by,
        "proof": asdict(kit.proof),
        "greedy_hours_with": kit.greedy_hours_with,
        "backups": kit.backups,
        "drop_out": kit.drop_out,
        "notes": kit.notes,
    }


def _trials(plan: Plan) -> dict[str, Any]:
    return asdict(plan.trials)


def _supplies(plan: Plan) -> dict[str, Any]:
    data = asdict(plan.exposure.supplies)
    data["fuel"] = [{**asdict(f), "margin_l": f.margin_l} for f in plan.exposure.supplies.fuel]
    for can in data["cans"]:
        can["places"] = [
            {"vehicle": i.vehicle, "place": i.place, "quantity": i.quantity}
            for i in plan.kit.items
            if i.item == can["item"] and i.must_carry
        ]
    return data


def _diagnosis(plan: Plan, vehicle: str) -> dict[str, Any]:
    data = asdict(plan.diagnosis[vehicle])
    data.pop("vehicle")
    return data


def sources(plan: Plan) -> list[dict[str, Any]]:
    """Every evidence named by the figures this plan rests on, with how many figures rest on it."""
    library, count = plan.trip.library, dict[str, int]()
    evidence = [library.failure_modes[r.mode].evidence for r in plan.risks.by_key.values()]
    evidence += [s.evidence for s in library.surfaces.values()]
    evidence += [library.items[i].evidence for i in plan.kit.stock()]
    evidence += [v.archetype.evidence for v in plan.trip.vehicles] + [plan.trip.head.climate.source]
    for words in evidence:
        count[words] = count.get(words, 0) + 1
    return [{"evidence": words, "figures": count[words]} for words in sorted(count)]


def write_plan_files(plan: Plan, folder: Path) -> list[Path]:
    """``plan.json`` and the CSV tables of a plan into a folder; UTF-8, sorted, no clock."""
    data = plan_json(plan)
    written = [folder / "plan.json"]
    written[0].write_text(_by_section(data), encoding="utf-8", newline="\n")
    for name, rows in _csv_tables(data).items():
        written.append(folder / f"{name}.csv")
        _write_csv(written[-1], rows)
    return written


def _by_section(data: dict[str, Any]) -> str:
    """JSON with a line for each section: short enough to write fast, plain enough to find one's way in an editor."""
    encode = json.JSONEncoder(ensure_ascii=False, sort_keys=True, allow_nan=False).encode
    return "{\n" + ",\n".join(f"{encode(key)}: {encode(data[key])}" for key in sorted(data)) + "\n}\n"


def plan_frames(plan: Plan) -> dict[str, pd.DataFrame]:
    """The CSV tables of a plan as data frames, with the same columns, units in the columns' names.

    ``risks``: a row for each vehicle and weak point; ``packing``: a row for each item, vehicle and place; ``legs``; ``curve``;
    ``workshop``: a row for each work that could be done.

    Examples
    --------
    >>> from fieldkit import load_trip, make_plan, plan_frames
    >>> from fieldkit.plan import PlanOptions
    >>> from fieldkit.report import example_folder
    >>> frames = plan_frames(make_plan(load_trip(example_folder(solo=True)), PlanOptions(quick=True)))
    >>> sorted(frames)
    ['curve', 'legs', 'packing', 'risks', 'workshop']
    >>> bool((frames["risks"]["expected_low"] <= frames["risks"]["expected_high"]).all())
    True
    """
    import pandas as pd

    return {name: pd.DataFrame(rows) for name, rows in _csv_tables(plan_json(plan)).items()}


def _csv_tables(data: dict[str, Any]) -> dict[str, list[dict[str, Any]]]:
    risks = [
        {
            "vehicle": v["id"],
            "failure_mode": r["mode"],
            "title": r["title"],
            "expected": r["expected"]["value"],
            "expected_low": r["expected"]["low"],
            "expected_high": r["expected"]["high"],
            "chance": r["chance"]["value"],
            "hours_lost": r["hours_lost"],
            "evidence": r["evidence"],
        }
        for v in data["vehicles"]
        for r in v["risks"]
    ]
    packing = [
        {k: i[k] for k in ("vehicle", "place", "id", "quantity", "mass_kg", "must_carry", "owned")}
        for i in data["kit"]["items"]
    ]
    legs = [{k: v for k, v in leg.items() if not isinstance(v, (dict, list))} for leg in data["legs"]]
    return {"risks": risks, "packing": packing, "legs": legs, "curve": data["curve"], "workshop": data["workshop"]}


def _write_csv(path: Path, rows: list[dict[str, Any]]) -> None:
    import csv

    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, fieldnames=list(rows[0]) if rows else ["empty"], lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)
