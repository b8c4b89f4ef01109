"""A small invented trip put together in memory, for tests of likelihood and inspection: no files are read.

Everything can be changed by keyword; what is not said is plain: one vehicle as built, two legs, no findings.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from fieldkit.exposure.result import Exposure, LegExposure, Remoteness, Supplies
from fieldkit.loads.result import AxleLoads, Loads, VehicleLoads
from fieldkit.specs.base import CHANNELS
from fieldkit.specs.library import (
    Archetype,
    FailureMode,
    Function,
    Library,
    MatchingRule,
    Modification,
    MustCarryRule,
    Surface,
    Symptom,
)
from fieldkit.specs.trip import Finding, Fitted, Stock, Trip, TripHead, Vehicle, VehicleEntry, VehicleSpec

PREPARED = date(2027, 4, 1)
LOOK = {
    "how": "Look at it.",
    "accept": "It is whole.",
    "minutes": 10,
    "detects": 0.8,
    "false_alarm": 0.1,
    "station": "under",
}


def mode(**changes: Any) -> FailureMode:
    """A wearing weak point: life 100,000 reference km, shape 2, no warning, one position."""
    data: dict[str, Any] = {
        "item": "part",
        "mode": "worn",
        "title": "Part worn",
        "mechanism": "It wears.",
        "effects": "It stops.",
        "clock": "km",
        "life": "100000 km",
        "shape": 2.0,
        "channels": {"vibration": 1.0},
        "severity": "disabled",
        "evidence": "judgement",
        "early_life": 0.0,
        "symptoms": [{"id": "noise", "probability": 0.9}],
        "inspection": LOOK,
        "field_test": {"question": "Is it loose?", "minutes": 2},
    }
    if changes.get("clock") == "event":
        for key in ("life", "shape", "channels", "inspection"):
            data.pop(key)
    return FailureMode.model_validate({**data, **changes})


def surface(key: str, **changes: Any) -> Surface:
    data: dict[str, Any] = {
        "id": key,
        "name": key,
        "speed_kmh": 50,
        "difficulty": 2,
        "need": "two-wheel",
        "fuel_factor": 1,
        "rolling_low": 0.02,
        "rolling_high": 0.05,
        **dict.fromkeys(CHANNELS, 1.0),
    }
    return Surface.model_validate({**data, **changes})


SURFACES = {
    "sealed": surface("sealed", need="highway", difficulty=1),
    "rough": surface("rough", vibration=5.0, impact=4.0, heat=1.5, water=2.0, torque=2.0),
}


def archetype(**changes: Any) -> Archetype:
    data: dict[str, Any] = {
        "name": "plain wagon",
        "summary": "A wagon.",
        "evidence": "judgement",
        "wheelbase": "2.8 m",
        "track": "1.5 m",
        "seats": 5,
        "fuel": "diesel",
        "usual_km_per_year": "12000 km",
        "features": ["separate-chassis"],
        "masses": {
            "kerb_front": "1000 kg",
            "kerb_rear": "1000 kg",
            "gross_limit": "2900 kg",
            "front_limit": "1300 kg",
            "rear_limit": "1700 kg",
        },
        "tyre": {"size": "235/85R16", "load_index": 120},
        "places": {},
    }
    return Archetype.model_validate({**data, **changes})


def library(modes: Mapping[str, FailureMode], **parts: Any) -> Library:
    """A library of these weak points, all of the subsystem 'suspension' unless ``subsystem_of`` says otherwise."""
    symptoms = {s.id for m in modes.values() for s in m.symptoms}
    known: dict[str, Any] = {
        "archetypes": {"wagon": archetype()},
        "failure_modes": dict(modes),
        "subsystem_of": dict.fromkeys(modes, "suspension"),
        "subsystems": {"suspension": "Suspension"},
        "symptoms": {
            s: Symptom(text=s, sense="hear", leak=0.05, first_action="Stop and look.") for s in sorted(symptoms)
        },
        "surfaces": dict(SURFACES),
    }
    return Library(Path("library"), **{**known, **parts})


def vehicle(key: str = "wagon", build: Archetype | None = None, parts: Sequence[Any] = (), **spec: Any) -> Vehicle:
    """A vehicle of the plain build; ``parts`` are (id, Modification, Fitted's own keys)."""
    fitted = [(Fitted.model_validate({"id": i, **more}), part) for i, part, more in parts]
    data = {
        "name": key.title(),
        "based_on": "wagon",
        "fitted": [f for f, _ in fitted],
        "age": {"odometer": "200000 km", "years": 16, "usual": {"sealed": 1.0}, "history_known": True},
        **spec,
    }
    entry = VehicleEntry(id=key, spec=f"vehicles/{key}.toml", crew=2)
    return Vehicle(entry, VehicleSpec.model_validate(data), build or archetype(), tuple(fitted))


def trip(
    modes: Mapping[str, FailureMode] | Library,
    vehicles: Sequence[Vehicle] | None = None,
    findings: Sequence[tuple[Any, ...]] = (),
    inventory: Sequence[Stock] = (),
    learned: Mapping[str, tuple[float, float]] | None = None,
    **head: Any,
) -> Trip:
    """A trip of these weak points; findings are (vehicle, mode, position, finding) and more columns by dict."""
    lib = modes if isinstance(modes, Library) else library(modes)
    vehicles = [vehicle()] if vehicles is None else vehicles
    data: dict[str, Any] = {
        "title": "Small trip",
        "start": date(2027, 6, 1),
        "prepared": PREPARED,
        "days": 2,
        "party": {"people": min(200, 2 * len(vehicles))},
        "vehicle": [v.entry for v in vehicles],
        "climate": {"day_high": "25 degC", "night_low": "25 degC"},
        "limits": {"kit_mass": "100 kg", "kit_volume": "200 L", "kit_money": 1000},
    }
    return Trip(
        id="small",
        folder=Path("small"),
        digest="0",
        head=TripHead.model_validate({**data, **head}),
        vehicles=tuple(vehicles),
        library=lib,
        findings=tuple(finding(*f) for f in findings),
        inventory=tuple(inventory),
        learned=dict(learned or {}),
    )


def finding(who: str, what: str, position: str, found: str, more: Mapping[str, Any] | None = None) -> Finding:
    data = {
        "date": PREPARED,
        "vehicle": who,
        "failure_mode": what,
        "position": position,
        "finding": found,
        "inspector": "A. Nyone",
    }
    return Finding.model_validate({**data, **(more or {})})


def leg(index: int, km: float, name: str = "rough", start: float = 0.0, **changes: Any) -> LegExposure:
    data: dict[str, Any] = {
        "index": index,
        "day": index + 1,
        "from_km": start,
        "to_km": start + km,
        "surface": name,
        "need": SURFACES[name].need,
        "difficulty": SURFACES[name].difficulty,
        "reasons": (),
        "speed_kmh": 50.0,
        "hours": km / 50.0,
        "climb_m": None,
        "descent_m": None,
        "water_depth_m": 0.0,
        "crossings": 0.0,
        "temperature_c": 25.0,
        "altitude_m": 0.0,
        "hours_to_help": {"workshop": 8.0},
        "out_h": 20.0,
        "back_h": 8.0,
        "workshop": "Workshop",
        "workshop_on_km": 300.0,
        "workshop_off_km": 200.0,
    }
    return LegExposure(**{**data, **changes})


def exposure(legs: Sequence[LegExposure] | None = None, intensity: Any = None, **more: Any) -> Exposure:
    """Two legs, 400 km rough and 200 km sealed, wear as the surfaces' table says."""
    if legs is None:
        legs = [leg(0, 400.0), leg(1, 200.0, "sealed", 400.0)]
    if intensity is None:
        intensity = np.array([[getattr(SURFACES[x.surface], c) for x in legs] for c in CHANNELS], float)
    none = np.zeros(1)
    remote = Remoteness(none, {"workshop": none}, none, none + 2.0, {}, (), "")
    supplies = more.pop("supplies", None) or Supplies((), 4.0, 20.0, 40.0, 3.0)
    return Exposure(tuple(legs), intensity, more.pop("remoteness", remote), supplies, **more)


def axle_loads(gross: float = 2400.0) -> AxleLoads:
    half = gross / 2
    return AxleLoads(gross, half, half, (half / 2,) * 4, 0.0, 0.0, None, 0.8, 40.0)


def loads(*vehicles: str, ratios: Mapping[str, float] | None = None, **changes: Any) -> Loads:
    """Every vehicle weighed, within its limits, at the reference load on the build's tyres."""
    data: dict[str, Any] = {
        "entries": (),
        "states": {"departure": axle_loads()},
        "margins": (),
        "payload_left_kg": 200.0,
        "binding": "gross",
        "verdict": "within",
        "room": (),
        "ratios": {"mass": 1.0, "front_load": 1.0, "rear_load": 1.0, "roof": 1.0, **(ratios or {})},
        "tyre_ratio": 1.0,
        "unexplained_kg": 0.0,
        "weighed": "weighed 2027-03-30, laden",
    }
    return Loads({v: VehicleLoads(vehicle=v, **{**data, **changes}) for v in vehicles or ("wagon",)})


def modification(**changes: Any) -> Modification:
    data = {"name": "part", "summary": "A part.", "gives_up": "nothing known", "legality": "local law decides"}
    return Modification.model_validate({**data, **changes})


__all__ = [
    "SURFACES",
    "Function",
    "MatchingRule",
    "MustCarryRule",
    "archetype",
    "axle_loads",
    "exposure",
    "finding",
    "leg",
    "library",
    "loads",
    "mode",
    "modification",
    "surface",
    "trip",
    "vehicle",
]
