"""The knowledge that ships in ``vehicle_specs/`` and that a club may overlay with its own folder.

Every number is judgement unless its ``evidence`` names a source. What an item serves is derived from the
procedures that name it; it is written nowhere else.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Literal

from pydantic import Field, model_validator

from fieldkit.specs.base import (
    Channel,
    Consumption,
    Days,
    Distance,
    Driver,
    Factor,
    Grade,
    Hours,
    Id,
    Length,
    Mass,
    Need,
    Power,
    Pressure,
    Severity,
    Share,
    Skill,
    Spec,
    Speed,
    Text,
    UnsafeKind,
    Volume,
)


# ------------------------------------------------------------------------------------------ builds
class Place(Spec):
    """A place for masses. Axes: x ahead of the rear axle, y left of the centre line, z above ground.

    ``ventilated``: open to the outside air and shut off from the people, so that fuel and gas may travel there.
    ``holds``: ids of the only items that it is made for; empty: anything.
    """

    name: Text
    x_m: Length = Field(alias="x")
    y_m: Length = Field(0.0, alias="y")
    z_m: Length = Field(alias="z")
    limit_kg: Mass | None = Field(None, alias="limit")
    volume_l: Volume | None = Field(None, alias="volume")
    longest_cm: float | None = None
    locked: bool = False
    reachable_bogged: bool = True
    on_roof: bool = False
    in_cabin: bool = False
    ventilated: bool = False
    holds: tuple[Id, ...] = ()


class Masses(Spec):
    """Kerb axle masses (fuel full, no driver) and the maker's limits."""

    kerb_front_kg: Mass = Field(alias="kerb_front")
    kerb_rear_kg: Mass = Field(alias="kerb_rear")
    gross_limit_kg: Mass = Field(alias="gross_limit")
    front_limit_kg: Mass = Field(alias="front_limit")
    rear_limit_kg: Mass = Field(alias="rear_limit")
    combination_limit_kg: Mass | None = Field(None, alias="combination_limit")
    roof_limit_kg: Mass = Field(0.0, alias="roof_limit")
    ball_load_limit_kg: Mass | None = Field(None, alias="ball_load_limit")
    tow_limit_kg: Mass | None = Field(None, alias="tow_limit")
    centre_height_m: Length = Field(0.75, alias="centre_height")


class Tyre(Spec):
    size: Text
    load_index: int = Field(ge=60, le=140)
    speed_symbol: str = "Q"


class Archetype(Spec):
    """A construction kind, not a make."""

    name: Text
    summary: Text
    evidence: Text
    wheelbase_m: Length = Field(alias="wheelbase")
    track_m: Length = Field(alias="track")
    seats: int = Field(ge=0, le=20)
    seat_rows: tuple[Id, ...] = ()
    volts: Literal[12, 24] = 12
    power_kw: Power = Field(0.0, alias="power")
    fuel: Literal["diesel", "petrol", "electric", "none"]
    fuel_tank_l: Volume = Field(0.0, alias="fuel_tank")
    consumption_l_per_100km: Consumption = Field(0.0, alias="consumption")
    cap_pressure_kpa: Pressure = Field(90.0, alias="cap_pressure")
    usual_km_per_year: Distance = Field(alias="usual_km_per_year")
    torque_reaction_side: Literal["left", "right", "none"] = "none"
    features: tuple[Id, ...]
    masses: Masses
    tyre: Tyre
    places: dict[str, Place]
    part_lead_factor: Factor = 1.0
    driver_exponents: dict[Driver, float] = {}
    stress: dict[str, Factor] = {}


# ------------------------------------------------------------------------------------ weak points
class SymptomLink(Spec):
    id: Id
    probability: Share


class Inspection(Spec):
    """The look before departure: what to do, what passes, how sure it is."""

    how: Text
    accept: Text
    minutes: float = Field(gt=0, le=600)
    detects: Share
    false_alarm: Share
    station: Literal["outside", "under", "engine-bay", "cabin", "load", "road-test"]
    tools: tuple[Id, ...] = ()
    measured: str | None = None


class FieldTest(Spec):
    """One closed question on the track that tells this cause from the others; yes means this cause."""

    question: Text
    minutes: float = Field(gt=0, le=120)
    hit: Share = 0.9
    false_alarm: Share = 0.05


class Damage(Spec):
    """One failure raising another; probability per failure, on the same leg."""

    mode: Id
    probability: Share
    if_driven_on: bool = True


class WorkshopOption(Spec):
    """Work that can be done before leaving. ``renews`` lists weak points made new (default: its own)."""

    id: Id
    title: Text
    hours: Hours
    cost_low: float = Field(ge=0)
    cost_high: float = Field(ge=0)
    lead_weeks: float = Field(0.0, ge=0)
    grade: Grade = "good"
    renews: tuple[Id, ...] | None = None
    fits: tuple[Id, ...] = ()
    stress: dict[str, Factor] = {}
    early_life: Share = 0.0
    gives_up: Text = "nothing known"
    legality: Text = "none known; local law decides"
    evidence: Text = "judgement"


class FailureMode(Spec):
    """An item and the way it fails; on pages a weak point.

    ``clock`` says what ages it: reference kilometres, days, or water crossings; ``event`` modes are
    not wear: they have ``rates`` per 1,000 km by surface (or per day under the key ``day``).
    ``usual_renewal``: the distance by which owners renew it for another reason (tread); used where its age is unknown.
    ``standing_life``: the time after which rubber, fluid, webbing or a battery is as far gone as at its ``life``, however little it was used.
    """

    item: Text
    mode: Text
    title: Text
    mechanism: Text
    effects: Text
    needs: tuple[Id, ...] = ()
    needs_any: tuple[Id, ...] = ()
    without: tuple[Id, ...] = ()
    clock: Literal["km", "days", "crossings", "event"] = "km"
    life_km: Distance | None = Field(None, alias="life")
    life_days: Days | None = None
    life_crossings: float | None = Field(None, gt=0)
    shape: float = Field(1.0, gt=0, le=10)
    warning_km: Distance | None = Field(None, alias="warning")
    warning_days: Days | None = None
    sudden: Share = 1.0
    usual_renewal_km: Distance | None = Field(None, alias="usual_renewal")
    standing_days: Days | None = Field(None, alias="standing_life", gt=0)
    rates: dict[str, float] = {}
    positions: int = Field(1, ge=1, le=16)
    position_names: tuple[str, ...] = ()
    repair: Literal["renews", "patches"] = "renews"
    channels: dict[Channel, Share] = {}
    drivers: dict[Driver, float] = {}
    causes_in_common: tuple[Id, ...] = ()
    severity: Severity
    unsafe_kind: UnsafeKind | None = None
    severity_where: dict[Need, Severity] = {}
    limp_speed_kmh: Speed | None = Field(None, alias="limp_speed")
    limp_distance_km: Distance | None = Field(None, alias="limp_distance")
    nuisance_hours: Hours = Field(0.5, alias="nuisance")
    part_lead_days: Days = Field(1.0, alias="part_lead")
    fit_hours: Hours = Field(2.0, alias="fit_time")
    early_life: Share = 0.002
    evidence: Text
    failures_worth: float = Field(2.0, ge=0.5)
    function: Id | None = None
    readiness: Literal["unsafe-defect", "limits", "advice"] = "advice"
    symptoms: Annotated[tuple[SymptomLink, ...], Field(min_length=1)]
    inspection: Inspection | None = None
    field_test: FieldTest
    damages: tuple[Damage, ...] = ()
    workshop: tuple[WorkshopOption, ...] = ()

    @model_validator(mode="after")
    def _one_clock(self) -> FailureMode:
        life = {
            "km": self.life_km,
            "days": self.life_days,
            "crossings": self.life_crossings,
            "event": self.rates or None,
        }
        if life[self.clock] is None:
            key = {"km": "life", "days": "life_days", "crossings": "life_crossings", "event": "rates"}[self.clock]
            raise ValueError(f"a '{self.clock}' clock needs the key '{key}'")
        if self.severity == "unsafe" and self.unsafe_kind is None:
            raise ValueError("severity 'unsafe' needs unsafe_kind: 'do-not-move' or 'get-out-only'")
        if self.sudden < 1 and self.clock != "event" and self.warning_km is None and self.warning_days is None:
            raise ValueError("sudden below 1 says that some failures give warning: add 'warning' (or 'warning_days')")
        if self.sudden < 1 and self.shape < 1:
            raise ValueError("a warning time needs a shape of 1 or more")
        if self.position_names and len(self.position_names) != self.positions:
            raise ValueError(f"{len(self.position_names)} position_names for {self.positions} positions")
        if self.clock != "event" and self.inspection is None:
            raise ValueError("a wearing weak point needs an [inspection]")
        if self.clock == "km" and abs(sum(self.channels.values()) - 1) > 1e-6:
            raise ValueError(f"channel weights add to {sum(self.channels.values()):g}, not 1")
        return self


# ------------------------------------------------------------------------------------ field repairs
class Hazard(Spec):
    """A hazard message: signal word by definition, what it is, what happens, how to avoid it."""

    word: Literal["DANGER", "WARNING", "CAUTION", "NOTICE"]
    hazard: Text
    consequence: Text
    avoid: Annotated[tuple[Text, ...], Field(min_length=1)]
    step: int | None = Field(None, ge=1)


class RepairLimits(Spec):
    speed_kmh: Speed | None = Field(None, alias="speed")
    distance_km: Distance | None = Field(None, alias="distance")
    aboard: int | None = Field(None, ge=0)
    stop_when: Text


class ProcedureHead(Spec):
    """The front matter of a field repair's Markdown file."""

    title: Text
    kind: Literal["proper", "get-out", "way-out"]
    repairs: tuple[Id, ...]
    applies_to: Text
    needs: tuple[Id, ...] = ()
    without: tuple[Id, ...] = ()
    people: int = Field(ge=1, le=6)
    skill: Skill
    minutes: float = Field(gt=0, le=2_880)
    holds: Share
    leaves: Literal["ok", "nuisance", "limp", "disabled"]
    conditions: Annotated[tuple[Text, ...], Field(min_length=1)]
    tools: dict[Id, int] = {}
    supplies: dict[Id, float] = {}
    spares: dict[Id, int] = {}
    hazards: tuple[Hazard, ...] = ()
    standing_rules_only: bool = False
    limits: RepairLimits
    evidence: Text = "common practice, no source"

    @model_validator(mode="after")
    def _hazards_said(self) -> ProcedureHead:
        if bool(self.hazards) == self.standing_rules_only:
            raise ValueError("give [[hazards]], or standing_rules_only = true where there are none of its own")
        if self.kind == "get-out" and self.limits.speed_kmh is None and self.limits.distance_km is None:
            raise ValueError("a get-out repair needs a speed or a distance in [limits]")
        return self


#: Headings of a field repair's body, in this order; each stands once.
SECTIONS = ("When to use", "Not for", "Steps", "Check", "Afterwards", "If it fails", "On return")


@dataclass(frozen=True)
class Procedure:
    """A field repair: id, subsystem (its folder), front matter, Markdown sections by heading."""

    id: str
    subsystem: str
    head: ProcedureHead
    sections: dict[str, str]

    def items(self) -> dict[str, float]:
        """Everything it takes: tools, supplies and spares with quantities."""
        return {**self.head.tools, **self.head.supplies, **self.head.spares}


# --------------------------------------------------------------------------------------------- gear
class Item(Spec):
    """One line of ``items/<kind>.csv``; masses of one pack, prices in the library's currency."""

    id: Id
    name: Text
    kind: Literal["tool", "spare", "supply", "recovery", "safety"]
    mass_kg: float = Field(gt=0, le=500)
    volume_l: float = Field(gt=0, le=1_000)
    longest_cm: float = Field(gt=0, le=600)
    pack_size: float = Field(1, gt=0)
    price_low: float = Field(ge=0)
    price_high: float = Field(ge=0)
    rating_kg: float | None = Field(None, gt=0)
    fits: tuple[str, ...] = ()
    shelf_life_months: float | None = Field(None, gt=0)
    travel_damage: str = ""
    substitutes: tuple[str, ...] = ()
    evidence: Text = "judgement"


class Modification(Spec):
    """A fitted part or change: what it does to mass, load, heat and strength, and to its neighbours.

    ``drivers`` multiply the vehicle's driver ratios; ``stress`` multiplies a weak point's wear per km
    (above 1: worse; this is how strengthening moves the break along); ``rate`` is the same, said as a ratio of failure rates.
    ``places``: stowage that comes with the part, such as a can holder.
    """

    name: Text
    summary: Text
    mass_kg: float = 0.0
    removes_kg: float = Field(0.0, ge=0)
    place: Id | None = None
    x_m: Length | None = Field(None, alias="x")
    z_m: Length | None = Field(None, alias="z")
    needs: tuple[Id, ...] = ()
    without: tuple[Id, ...] = ()
    adds: tuple[Id, ...] = ()
    removes: tuple[Id, ...] = ()
    drivers: dict[Driver, Factor] = {}
    stress: dict[str, Factor] = {}
    rate: dict[str, Factor] = {}
    lift_mm: float = 0.0
    rated_kg: Mass | None = Field(None, alias="rated")
    fuel_l: Volume = Field(0.0, alias="fuel")
    water_l: Volume = Field(0.0, alias="water")
    places: dict[Id, Place] = {}
    tyre_size: str | None = None
    load_index: int | None = None
    gives_up: Text
    legality: Text
    evidence: Text = "judgement"


class MatchingRule(Spec):
    """A set of fitted parts that must match.

    ``all-or-none``: every part of ``parts`` or none. ``needs``: any of ``parts`` needs one of ``with_any``.
    ``conflict``: none of ``parts`` together with any of ``with_any``. Parts are features or modification ids.
    """

    title: Text
    kind: Literal["all-or-none", "needs", "conflict"]
    parts: Annotated[tuple[Id, ...], Field(min_length=1)]
    with_any: tuple[Id, ...] = ()
    unsafe: bool = False
    why: Text
    mend: Text
    evidence: Text = "common practice, no source"


class Symptom(Spec):
    text: Text
    sense: Literal["see", "hear", "smell", "feel", "gauge"]
    leak: Share = 0.02
    also_called: tuple[str, ...] = ()
    stop_first: bool = False
    first_action: Text


class Surface(Spec):
    """One line of ``surfaces.csv``: damage per km relative to a sealed highway, by channel."""

    id: Id
    name: Text
    speed_kmh: float = Field(gt=0, le=130)
    difficulty: int = Field(ge=1, le=4)
    need: Need
    fuel_factor: float = Field(ge=0.5, le=5)
    rolling_low: float = Field(ge=0, le=1)
    rolling_high: float = Field(ge=0, le=1)
    vibration: float = Field(ge=0)
    torque: float = Field(ge=0)
    impact: float = Field(ge=0)
    heat: float = Field(ge=0)
    water: float = Field(ge=0)
    abrasion: float = Field(ge=0)
    dust: float = Field(ge=0)
    braking: float = Field(ge=0)
    evidence: Text = "judgement"


class MustCarryRule(Spec):
    """Carried whatever the program says. Quantity = fixed + per person + per vehicle + per person-day.

    ``when_hours_to_help`` sets the remoteness from which the rule holds; ``when_pressures_let_down`` keeps it to trips that leave
    the hard road and let the tyres down there.
    """

    item: Id
    why: Text
    fixed: float = 0.0
    per_person: float = 0.0
    per_vehicle: float = 0.0
    per_person_day: float = 0.0
    when_hours_to_help: float = 0.0
    when_pressures_let_down: bool = False
    needs: tuple[Id, ...] = ()
    near_at_hand: bool = False
    evidence: Text = "common practice, no source"


class Function(Spec):
    """Parts that back each other up: the vehicle is lost only when every one of ``ways`` is."""

    name: Text
    ways: Annotated[tuple[Id, ...], Field(min_length=2)]
    loss_of_all: Severity
    why: Text


@dataclass(frozen=True)
class Library:
    """Everything read from ``vehicle_specs/``, by id."""

    folder: Path
    archetypes: dict[str, Archetype] = field(default_factory=dict)
    failure_modes: dict[str, FailureMode] = field(default_factory=dict)
    subsystem_of: dict[str, str] = field(default_factory=dict)
    subsystems: dict[str, str] = field(default_factory=dict)
    procedures: dict[str, Procedure] = field(default_factory=dict)
    items: dict[str, Item] = field(default_factory=dict)
    modifications: dict[str, Modification] = field(default_factory=dict)
    matching: dict[str, MatchingRule] = field(default_factory=dict)
    symptoms: dict[str, Symptom] = field(default_factory=dict)
    surfaces: dict[str, Surface] = field(default_factory=dict)
    must_carry: dict[str, MustCarryRule] = field(default_factory=dict)
    functions: dict[str, Function] = field(default_factory=dict)
    features: dict[str, str] = field(default_factory=dict)
    settings: dict[str, dict[str, object]] = field(default_factory=dict)
    texts: dict[str, str] = field(default_factory=dict)

    def procedures_for(self, mode: str, features: frozenset[str] | set[str]) -> list[Procedure]:
        """Field repairs of a weak point that suit a vehicle with these features, in id order."""
        return [
            p
            for _, p in sorted(self.procedures.items())
            if mode in p.head.repairs and set(p.head.needs) <= features and not set(p.head.without) & features
        ]
