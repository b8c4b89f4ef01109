"""What a practitioner may change about the reckoning of chances: ``settings/likelihood.toml``, checked."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from fieldkit.specs.base import Factor, Grade, Severity, Share, Spec
from fieldkit.specs.library import Library
from fieldkit.specs.settings import read_settings

Worth = Annotated[float, Field(ge=0.5)]
Positive = Annotated[float, Field(gt=0)]


class Evidence(Spec):
    """Firmness of the shared factors, in failures' worth."""

    vehicle: Worth
    trip: Worth
    group_other: Worth
    group: dict[str, Worth] = Field(default_factory=dict)

    def of_group(self, name: str) -> float:
        return self.group.get(name, self.group_other)


class EarlyLife(Spec):
    wears_off_km: Positive
    grade: dict[Grade, float]
    fitter: dict[str, float]


class AgeSettings(Spec):
    spread_by_date: Annotated[float, Field(ge=0, le=1)]


class Crossings(Spec):
    reference_depth_m: Positive
    exponent: float
    past_per_1000_km: dict[str, float]


class Calendar(Spec):
    reference_c: float
    activation_ev: Annotated[float, Field(ge=0, le=2)]


class Torque(Spec):
    open: Share
    locked: Share


class LiftSettings(Spec):
    mm_per_unit: Positive


class CoolantSettings(Spec):
    glycol_volume_share: Share
    reference_cap_kpa: float
    reference_c: float
    normal_c: float


class DifficultySettings(Spec):
    per_class: Factor
    subsystems: tuple[str, ...]


class TyreSettings(Spec):
    age_by_date_code: tuple[str, ...]
    age_by_fitting: tuple[str, ...]


class Counts(Spec):
    most: Annotated[int, Field(ge=1, le=20)]


class Words(Spec):
    """Labels of the story's steps."""

    base: str
    event: str
    surface: str
    age: str
    early: str
    once: str
    mixed: str
    findings: str
    others: str
    altitude: str
    heat: str
    pressures: str
    care: dict[str, str]
    locked: str
    difficulty: str
    build: str
    driver: dict[str, str]


class Settings(Spec):
    """The whole of ``settings/likelihood.toml``; every value judgement unless its remark says otherwise."""

    evidence: Evidence
    early_life: EarlyLife
    life_by_grade: dict[Grade, Factor]
    age: AgeSettings
    usual: dict[str, Share]
    crossings: Crossings
    calendar: Calendar
    torque: Torque
    lift: LiftSettings
    coolant: CoolantSettings
    driven_on: dict[Severity, Share]
    difficulty: DifficultySettings
    pressures_kept: dict[str, Factor]
    driver_care: dict[str, Factor]
    tyres: TyreSettings
    counts: Counts
    words: Words


def settings_of(library: Library) -> Settings:
    """The library's settings; tables it does not give come from the shipped file.

    Raises
    ------
    InputFaults
        If a key is unknown or a value is not a possible one.
    """
    return read_settings("likelihood", Settings, library, whole_tables=True)
