"""A plan put together by hand from the result types: no likelihood, kit or trials are run for the pages' tests.

``sample_plan`` works with any trip and library, so the same fake serves the little invented library beside
this file and the shipped one. Its figures are simple arithmetic and mean nothing.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from math import exp
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import numpy as np

from fieldkit.exposure.result import Exposure, FuelLine, LegExposure, Remoteness, Supplies
from fieldkit.inspection.result import Belief, Beliefs, LookValue, Readiness, Reason
from fieldkit.kit.result import Cover, CurvePoint, Kit, KitItem, LeftOut, Proof, WorkChoice
from fieldkit.likelihood.hazard import has_part
from fieldkit.likelihood.moves import Move
from fieldkit.likelihood.result import (
    Diagnosis,
    Hazards,
    ModeHazard,
    PositionHazard,
    Range,
    Risk,
    Risks,
    StoryStep,
)
from fieldkit.loads.fitted_tyres import features_of
from fieldkit.loads.result import AxleLoads, Loads, Margin, MassEntry, Room, VehicleLoads
from fieldkit.recovery.result import Pull, Recovery, Rig, RigPart, VehicleRecovery
from fieldkit.route.result import Route
from fieldkit.specs.library import FailureMode, Library
from fieldkit.specs.read_library import load_library, shipped_folder
from fieldkit.specs.read_trip import load_trip
from fieldkit.specs.trip import Trip, Vehicle

HERE = Path(__file__).parent
SHIPPED_SETTINGS = ("handbook", "emergencies", "figures")


def small_library() -> Library:
    """The invented library of five weak points, with the shipped page words."""
    library = load_library(base=HERE / "library")
    for path in sorted((shipped_folder("vehicle_specs") / "settings").glob("*.toml")):
        library.settings.setdefault(path.stem, tomllib.loads(path.read_text(encoding="utf-8")))
    return library


def small_trip(library: Library | None = None) -> Trip:
    return load_trip(HERE / "trip", library or small_library())


def chance_of(vehicle: Vehicle, mode_id: str, mode: FailureMode) -> float:
    """A made-up expected number of failures that differs by vehicle and weak point."""
    spread = (len(vehicle.id) * 7 + sum(map(ord, mode_id))) % 23 + 1
    return spread / (60.0 if mode.severity in ("limp", "nuisance") else 240.0)


def sample_plan(trip: Trip | None = None) -> Any:
    """Everything ``write_handbook`` reads, for this trip."""
    trip = trip or small_trip()
    legs = _legs(trip)
    risks = _risks(trip, legs)
    kit = _kit(trip, risks)
    return SimpleNamespace(
        trip=trip,
        options=SimpleNamespace(quick=True, seed=0),
        route=_route(trip),
        exposure=_exposure(trip, legs),
        loads=Loads({v.id: _loads(v) for v in trip.vehicles}),
        hazards=Hazards(len(legs), {k: r.hazard for k, r in risks.by_key.items()}),
        beliefs=_beliefs(trip),
        risks=risks,
        kit=kit,
        readiness={v.id: _readiness(v, i) for i, v in enumerate(trip.vehicles)},
        trials=SimpleNamespace(
            runs=10_000,
            unassisted=0.9,
            stranded=0.04,
            hours_lost=7.3,
            standard_error={"unassisted": 0.003, "stranded": 0.002, "hours_lost": 0.1},
            quantiles={"10": 0.0, "50": 2.5, "90": 19.0},
            trouble=tuple(
                SimpleNamespace(vehicle=v, mode=m, failures=0.2, hours_lost=0.5, stranded=0.01)
                for v, m in sorted(risks.by_key)[:4]
            ),
            unused=dict.fromkeys(sorted(kit.stock())[:3], 0.99),
            gap={"program": 7.0, "plan_only": 7.1, "sharing_and_fallback": 0.3},
        ),
        recovery=_recovery(trip),
        diagnosis={v.id: _diagnosis(trip, risks, v) for v in trip.vehicles},
        looks=_looks(trip, risks),
        summary={},
        moves={"tern": (Move("laden mass", 0.4, 0.3),)},
    )


def _legs(trip: Trip) -> tuple[LegExposure, ...]:
    made = []
    for index, leg in enumerate(trip.legs):
        surface = trip.library.surfaces[leg.surface]
        middle = (leg.from_km + leg.to_km) / 2
        made.append(
            LegExposure(
                index=index,
                day=leg.day,
                from_km=leg.from_km,
                to_km=leg.to_km,
                surface=leg.surface,
                need=surface.need,
                difficulty=surface.difficulty,
                reasons=(f"{surface.name}", leg.note or "no remark"),
                speed_kmh=surface.speed_kmh,
                hours=(leg.to_km - leg.from_km) / surface.speed_kmh,
                climb_m=120.0,
                descent_m=80.0,
                water_depth_m=leg.water_depth_m,
                crossings=0.0,
                temperature_c=trip.head.climate.day_high_c,
                altitude_m=None,
                hours_to_help={"workshop": 2 + middle / 40, "fuel": middle / 40, "medical": None},
                out_h=14 + middle / 40,
                back_h=middle / 50,
                workshop=trip.head.help[0].name,
                workshop_on_km=None,
                workshop_off_km=middle,
            )
        )
    return tuple(made)


def _exposure(trip: Trip, legs: tuple[LegExposure, ...]) -> Exposure:
    end = legs[-1].to_km
    km = np.linspace(0, end, 31)
    hours = 2 + 12 * np.minimum(km, end - km) / end
    supplies = Supplies(
        fuel=tuple(
            FuelLine(v.id, "start", "end", end, end * 0.13, 12.0, v.archetype.fuel_tank_l) for v in trip.vehicles
        ),
        water_l_per_person_day=7.0,
        water_needed_l=7.0 * trip.head.party.people * trip.head.days,
        water_carried_l=120.0,
        food_days=trip.head.days + 3.0,
        used_kg={v.id: {"fuel": np.linspace(5, 60, len(legs))} for v in trip.vehicles},
        notes=("Ring ahead: the pump is shut on Sundays.",),
    )
    remoteness = Remoteness(
        km=km,
        hours={"workshop": hours, "fuel": hours * 0.8, "medical": np.full_like(km, np.inf)},
        dead_days=3 + hours / 10,
        water_margin_days=3 - hours / 20,
        furthest={"workshop": (end / 2, 14.0)},
        turn_back=(
            {
                "resource": "fuel",
                "km": end / 2,
                "place": "Far Rim",
                "day": 2,
                "text": "No fuel to go back.",
                "no_return": True,
            },
        ),
        worst="Between km 250 and km 350 help is furthest away.",
        alternatives=(
            {"carried": "as planned", "alarm_h": 2.0, "help_h": 22.9, "dead_days": 6.1, "water_margin_days": 2.4},
        ),
    )
    return Exposure(
        legs,
        np.ones((8, len(legs))),
        remoteness,
        supplies,
        cautions=("Day 2 ends an hour before dark.",),
        sun=tuple(
            {
                "day": d,
                "date": "",
                "place": "a camp",
                "dawn": "06:15",
                "sunrise": "06:41",
                "sunset": "17:32",
                "dusk": "18:00",
                "leave": "07:40",
                "arrive": "15:00",
                "camp_by": "16:30",
                "wheel_h": 6.0,
                "at": None,
                "note": "",
            }
            for d in range(1, trip.head.days + 1)
        ),
    )


def _route(trip: Trip) -> Route:
    t = np.linspace(0, 2 * np.pi, 61)
    end = trip.legs[-1].to_km
    return Route(
        length_km=end,
        lat=-24 + 0.8 * np.sin(t),
        lon=131 + 1.1 * np.cos(t),
        height=300 + 80 * np.sin(3 * t),
        km=np.linspace(0, end, 61),
        climb_m=900.0,
        descent_m=900.0,
    )


def _loads(vehicle: Vehicle) -> VehicleLoads:
    masses = vehicle.archetype.masses
    front, rear = masses.kerb_front_kg + 180, masses.kerb_rear_kg + 520
    state = AxleLoads(front + rear, front, rear, (front / 2, front / 2, rear / 2, rear / 2), 40.0, 0.0, None, 0.9, 38.0)
    return VehicleLoads(
        vehicle=vehicle.id,
        entries=tuple(
            MassEntry(p.name, 20.0 + 5 * n, p.x_m, p.y_m, p.z_m, k)
            for n, (k, p) in enumerate(sorted(vehicle.places.items())[:4])
        ),
        states={"as-built": state, "departure": state, "with-kit": state},
        margins=(
            Margin("gross", "gross mass", masses.gross_limit_kg, front + rear),
            Margin("front", "front axle", masses.front_limit_kg, front),
            Margin("rear", "rear axle", masses.rear_limit_kg, rear),
            Margin("roof", "roof", masses.roof_limit_kg or 100.0, 40.0),
        ),
        payload_left_kg=masses.gross_limit_kg - front - rear,
        binding="rear axle",
        verdict="within",
        room=tuple(
            Room(k, p.name, p.limit_kg, p.volume_l, p.longest_cm, p.x_m, p.y_m, p.z_m, p.on_roof, p.in_cabin, True)
            for k, p in sorted(vehicle.places.items())
        ),
        ratios={"mass": 1.05},
        tyre_ratio=1.04,
        unexplained_kg=None,
        weighed="never weighed",
        ways_back=("Move 20 kg from the roof to the load floor.",),
        cautions=("Never weighed: the figures are the build's.",),
    )


def _risks(trip: Trip, legs: tuple[LegExposure, ...]) -> Risks:
    found = {}
    for vehicle in trip.vehicles:
        for mode_id, mode in sorted(trip.library.failure_modes.items()):
            if not has_part(mode, features_of(vehicle)):
                continue
            mu = chance_of(vehicle, mode_id, mode)
            share = np.array([leg.km for leg in legs]) / sum(leg.km for leg in legs)
            names = mode.position_names or ("",)
            hazard = ModeHazard(
                vehicle.id,
                mode_id,
                tuple(
                    PositionHazard(n, np.cumsum(share) * mu, np.cumsum(share) * mu, np.cumsum(share) * mu, 0.1)
                    for n in names
                ),
                mode.repair == "renews",
                mode.failures_worth,
                mode.failures_worth,
                (
                    StoryStep("the build as new", mu / 2, "from the library"),
                    StoryStep("this route", 2.0, "rock and corrugations"),
                ),
                1.3,
                mode.evidence,
            )
            found[(vehicle.id, mode_id)] = Risk(
                vehicle.id,
                mode_id,
                Range(mu, mu * 0.5, mu * 1.8),
                Range(1 - exp(-mu), 1 - exp(-mu * 0.5), 1 - exp(-mu * 1.8)),
                share * mu,
                np.array([share * (1 - exp(-mu))]),
                tuple(0.1 for _ in names),
                hazard,
                np.zeros(len(legs)),
                (
                    StoryStep("base", mu / 2, "life in the library"),
                    StoryStep("surface", 2.0, "rock and corrugations"),
                    StoryStep("findings", 1.0, "not looked at"),
                ),
                mode.evidence,
                mode.failures_worth,
            )
    edges = [
        (v.id, mode_id, d.mode, d.probability)
        for v in trip.vehicles
        for mode_id, mode in sorted(trip.library.failure_modes.items())
        if has_part(mode, features_of(v))
        for d in mode.damages
    ]
    return Risks(len(legs), found, tuple(edges))


def _kit(trip: Trip, risks: Risks) -> Kit:
    entries: dict[tuple[str, str], list[tuple[str, str, str]]] = {}
    order = [v.id for v in trip.vehicles]
    turn = 0
    for procedure_id, procedure in sorted(trip.library.procedures.items()):
        if "spare" in procedure_id:
            continue
        for item in sorted(procedure.items()):
            vehicle = order[turn % len(order)]
            turn += 1
            key = next(((v, i) for (v, i) in entries if i == item), (vehicle, item))
            serves = entries.setdefault(key, [])
            serves += [(vehicle, m, procedure_id) for m in procedure.head.repairs]
    items = tuple(
        KitItem(
            item,
            1,
            trip.library.items[item].mass_kg,
            False,
            int(any(s.item == item for s in trip.inventory)),
            vehicle,
            _a_place(trip.vehicle(vehicle)),
            tuple(dict.fromkeys(serves)),
            1.5,
            "in 27 of 30 redraws",
            ("tern",) if item in ("coolant-hose", "base-plate") else (),
        )
        for (vehicle, item), serves in sorted(entries.items())
    ) + tuple(
        KitItem(i, 1, trip.library.items[i].mass_kg, True, 0, v.id, _a_place(v), ())
        for v in trip.vehicles
        for i in ("first-aid-kit", "drinking-water")
    )
    stock = {e.item for e in items}
    cover = tuple(
        Cover(
            v,
            m,
            tuple(p.id for p in trip.library.procedures_for(m, trip.vehicle(v).features) if set(p.items()) <= stock),
            10.0,
            4.0,
            "",
        )
        for v, m in risks.by_key
    )
    mass = sum(e.mass_kg * e.quantity for e in items)
    return Kit(
        items=items,
        mass_kg=mass,
        must_carry_kg=sum(e.mass_kg for e in items if e.must_carry),
        hours_without=40.0,
        hours_with=12.0,
        proof=Proof(True, 28.0, 28.0, 0.0),
        chosen_by="program",
        curve=tuple(CurvePoint(m, 40 * exp(-m / 30), 40 * exp(-m / 30), ("a part",)) for m in range(0, 100, 10)),
        work=_work(trip),
        left_out=(LeftOut("tie-rod-spare", 4.2, 0.8),) if "tie-rod-spare" in trip.library.items else (),
        cover=cover,
        limits={"mass": (mass, trip.head.limits.kit_mass_kg)},
        backups=(),
        drop_out={},
        notes=("A note about the kit.",),
    )


def _a_place(vehicle: Vehicle) -> str:
    return next((k for k, p in sorted(vehicle.places.items()) if p.volume_l), sorted(vehicle.places)[0])


def _work(trip: Trip) -> tuple[WorkChoice, ...]:
    made = []
    for vehicle in trip.vehicles:
        options = [
            (m, o)
            for m, mode in sorted(trip.library.failure_modes.items())
            if has_part(mode, features_of(vehicle))
            for o in mode.workshop
        ]
        made += [
            WorkChoice(
                vehicle.id, m, o.id, o.title, o.hours, o.cost_low, o.cost_high, o.lead_weeks, 3.0, n == 0, False, False
            )
            for n, (m, o) in enumerate(options)
        ]
    return tuple(made)


def _beliefs(trip: Trip) -> Beliefs:
    found = {
        (f.vehicle, f.failure_mode): (Belief(0.8, f.finding, f.date.isoformat(), f.inspector, f.note),)
        for f in trip.findings
    }
    return Beliefs(found)


def _readiness(vehicle: Vehicle, index: int) -> Readiness:
    if index % 2:
        return Readiness(vehicle.id, "fit", "fit", (), (), "seen 10 April 2031 by Ines Ford; weighed 12 April 2031")
    reason = Reason(
        "Radiator core blocked: worn",
        "repair-first",
        sorted(m for m in vehicle_modes(vehicle))[0] if vehicle_modes(vehicle) else None,
        "Fit a new good core",
        "workshop",
        "found 10 April 2031 by Ines Ford",
        2.5,
    )
    return Readiness(
        vehicle.id,
        "repair-first",
        "fit-with-limits",
        (reason, Reason("Never weighed", "fit-with-limits", None, "Weigh it", "driver", "no ticket")),
        ("at most 60 km/h on corrugations",),
        "one finding; never weighed",
    )


def vehicle_modes(vehicle: Vehicle) -> Iterable[str]:
    return ["core-blocked"] if "liquid-cooled" in vehicle.features else []


def _recovery(trip: Trip) -> Recovery:
    def one(vehicle: Vehicle) -> VehicleRecovery:
        pull = Pull(800.0, 1500.0, (("rolling", 300.0, 900.0), ("grade", 500.0, 600.0)))
        return VehicleRecovery(
            vehicle.id,
            2600.0,
            (("sand", 0.0, "rim", pull.low_kgf, pull.high_kgf, "boards"),),
            (
                Rig(
                    2,
                    1,
                    1500.0,
                    800.0,
                    (RigPart("winch rope", 800.0, 4000.0), RigPart("snatch block", 1500.0, 8000.0)),
                    "winch rope",
                    True,
                    "one snatch block at the anchor",
                    title="soft sand, bogged to the rim",
                    zone_m=30.0,
                ),
            ),
            (("kinetic rope 9 m", "rated below the vehicle"),),
            ("Nobody stands within one and a half rope lengths.",),
        )

    return Recovery(
        tuple(one(v) for v in trip.vehicles),
        ("stop spinning", "let the tyres down", "dig", "boards", "winch", "kinetic rope last"),
        ("One person calls.",),
    )


def _diagnosis(trip: Trip, risks: Risks, vehicle: Vehicle) -> Diagnosis:
    causes = tuple(m for v, m in sorted(risks.by_key) if v == vehicle.id)
    symptoms = tuple(sorted({s.id for c in causes for s in trip.library.failure_modes[c].symptoms}))
    link = np.zeros((len(symptoms), len(causes)))
    for column, cause in enumerate(causes):
        for s in trip.library.failure_modes[cause].symptoms:
            link[symptoms.index(s.id), column] = s.probability
    return Diagnosis(
        vehicle.id,
        causes,
        symptoms,
        np.array([risks.by_key[(vehicle.id, c)].chance.value for c in causes]),
        link,
        np.array([trip.library.symptoms[s].leak for s in symptoms]),
    )


def _looks(trip: Trip, risks: Risks) -> tuple[LookValue, ...]:
    return tuple(
        LookValue(v, m, r.expected.value, r.expected.value / trip.library.failure_modes[m].inspection.minutes)
        for (v, m), r in sorted(risks.by_key.items())
        if trip.library.failure_modes[m].inspection
    )
