"""The figures and words of ``settings/loads.toml`` and ``settings/tyres.toml``, checked.

A club's overlay may hold only what differs: it is laid over the shipped file table by table, key by key.
"""

from __future__ import annotations

from collections.abc import Mapping
from string import Formatter
from typing import Any, TypeVar

from pydantic import Field, field_validator

from fieldkit.errors import Fault, InputFaults, nearest_name, several
from fieldkit.specs.base import Length, Mass, Pressure, Share, Spec, Speed
from fieldkit.specs.library import Library
from fieldkit.specs.settings import read_settings, shipped_settings

S = TypeVar("S", bound=Spec)


class PeopleFigures(Spec):
    driver_kg: Mass = Field(alias="driver")
    passenger_kg: Mass = Field(alias="passenger")
    us_occupant_kg: Mass = Field(alias="us_occupant")
    normal_occupants: tuple[tuple[int, int], ...]


class RunningOrderFigures(Spec):
    fuel_share: Share


class WhereFigures(Spec):
    """Places by id, first that a vehicle has; distances are from the rear axle [m]."""

    fuel: tuple[str, ...]
    water_tank: tuple[str, ...]
    water_cans: tuple[str, ...]
    ball: tuple[str, ...]
    ball_behind_axle_m: Length = Field(alias="ball_behind_axle")
    ball_height_m: Length = Field(alias="ball_height")
    fuel_ahead_of_axle_m: Length = Field(alias="fuel_ahead_of_axle")
    fuel_height_m: Length = Field(alias="fuel_height")
    can_kg_per_l: float = Field(ge=0)
    unplaced_kg: float = Field(ge=0)
    unsprung_share: Share


class VerdictFigures(Spec):
    near: Share
    front_share_low: Share
    stale_days: int = Field(ge=0)
    unexplained_kg: float = Field(ge=0)
    unexplained_share: Share


class ReferenceFigures(Spec):
    payload_share: Share
    roof_share: float = Field(gt=0, le=1)
    roof_limit_kg: Mass = Field(alias="roof_limit")
    roof_floor: float = Field(gt=0, le=1)


class TrailerFigures(Spec):
    ball_share_low: Share
    ball_share_high: Share
    ball_share: Share


class RollFigures(Spec):
    sprung_loss_deg: float = Field(ge=0, le=45)


class WaysBackFigures(Spec):
    moved_price: float = Field(ge=0)
    left_price: float = Field(ge=0)
    fuel_price: float = Field(ge=0)
    water_price: float = Field(ge=0)
    handling_price: float = Field(ge=0)
    cabin_kg: float = Field(ge=0)


class LoadFigures(Spec):
    """``settings/loads.toml``; masses [kg], distances [m], densities [kg/L]."""

    people: PeopleFigures
    density: dict[str, float]
    running_order: RunningOrderFigures
    where: WhereFigures
    verdict: VerdictFigures
    reference: ReferenceFigures
    trailer: TrailerFigures
    roll: RollFigures
    ways_back: WaysBackFigures
    text: dict[str, str]


class HighSpeed(Spec):
    from_kmh: float
    to_kmh: float
    share: Share


class SizeFigures(Spec):
    rolling_share: Share
    numeric_aspect: float = Field(gt=0, le=2)
    full_profile_aspect: float = Field(gt=0, le=2)
    same_size_share: Share
    driven_together_share: Share


class PressureFigures(Spec):
    standard_index_kpa: Pressure = Field(alias="standard_index")
    light_truck_index_kpa: Pressure = Field(alias="light_truck_index")
    light_truck_from: int
    standard_exponent: float = Field(gt=0, le=2)
    light_truck_exponent: float = Field(gt=0, le=2)
    passenger_divisor: float = Field(ge=1)
    least_road_kpa: Pressure = Field(alias="least_road")
    step_kpa: Pressure = Field(alias="step")


class TyreAgeFigures(Spec):
    look_hard_years: float = Field(gt=0)
    replace_years: float = Field(gt=0)


class SurfacePressure(Spec):
    share: float = Field(gt=0, le=1)
    speed_kmh: Speed = Field(alias="speed")
    stuck_share: float | None = Field(None, gt=0, le=1)


class LetDownFigures(Spec):
    least_kpa: Pressure = Field(alias="least")


class TyreFigures(Spec):
    """``settings/tyres.toml``; loads [kg], pressures [kPa], speeds [km/h]."""

    load_index: dict[int, float]
    speed_symbol: dict[str, float]
    high_speed: dict[str, HighSpeed]
    size: SizeFigures
    pressure: PressureFigures
    age: TyreAgeFigures
    surface: dict[str, SurfacePressure]
    let_down: LetDownFigures
    text: dict[str, str]

    @field_validator("load_index")
    @classmethod
    def _rising(cls, value: dict[int, float]) -> dict[int, float]:
        for low, high in zip(sorted(value), sorted(value)[1:], strict=False):
            if value[high] <= value[low]:
                raise ValueError(
                    f"load index {high} carries {value[high]:g} kg, no more than {low} ({value[low]:g} kg)"
                )
        return value


def load_figures(library: Library | None = None) -> LoadFigures:
    """Masses' and limits' figures: the shipped ones with the library's laid over them.

    Examples
    --------
    >>> load_figures().people.driver_kg
    75.0
    """
    return read_figures("loads", LoadFigures, library)


def tyre_figures(library: Library | None = None) -> TyreFigures:
    """Tyres' figures: the shipped ones with the library's laid over them.

    Examples
    --------
    >>> tyre_figures().load_index[112]
    1120.0
    """
    return read_figures("tyres", TyreFigures, library)


def read_figures(name: str, model: type[S], library: Library | None) -> S:
    """``settings/<name>.toml`` as a model.

    Raises
    ------
    InputFaults
        With every fault of the file, by its key.
    """
    own = library.settings.get(name, {}) if library else {}
    shipped, _ = shipped_settings(name)
    faults = _text_faults(shipped.get("text", {}), own.get("text", {}), f"settings/{name}.toml")
    try:
        spec = read_settings(name, model, library)
    except InputFaults as odd:
        raise InputFaults(sorted([*odd.faults, *faults])) from None
    if faults:
        raise InputFaults(sorted(faults))
    return spec


def _text_faults(shipped: Mapping[str, Any], own: object, name: str) -> list[Fault]:
    """Sentences of a club that nobody prints, or that ask for figures which are not there."""
    found = []
    for key, text in own.items() if isinstance(own, Mapping) else ():
        if key not in shipped:
            found.append(
                Fault(name, f"unknown sentence 'text.{key}'", several(shipped, 40), nearest_name(key, shipped))
            )
            continue
        known = _blanks(str(shipped[key])) or set()
        asked = _blanks(str(text))
        if asked is None or asked - known:
            words = several(f"{{{k}}}" for k in known) or "no braces"
            found.append(Fault(name, f"text.{key}: braces that cannot be filled in", words))
    return found


def _blanks(text: str) -> set[str] | None:
    """Names in the braces of a sentence; None when the braces do not close."""
    try:
        return {field for _, field, _, _ in Formatter().parse(text) if field is not None}
    except ValueError:
        return None
