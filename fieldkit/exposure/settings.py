"""The figures and words of ``settings/{difficulty,remoteness,supplies}.toml``."""

from __future__ import annotations

from collections.abc import Mapping

from pydantic import Field

from fieldkit.specs.base import Channel, Days, Depth, Distance, Hours, Need, Share, Spec, Speed, Temperature
from fieldkit.specs.library import Library
from fieldkit.specs.settings import read_settings
from fieldkit.specs.trip import HelpKind


class GradientFigures(Spec):
    """Slopes [-] from which the class is at least 2, 3, 4."""

    class_2: Share
    class_3: Share
    class_4: Share
    sealed_most: int = Field(ge=1, le=4)


class DepthFigures(Spec):
    """Water depths [m] from which the class is at least 2, 3, 4."""

    class_2_m: Depth = Field(alias="class_2")
    class_3_m: Depth = Field(alias="class_3")
    class_4_m: Depth = Field(alias="class_4")


class SpeedFigures(Spec):
    per_class: Share
    per_gradient: float = Field(ge=0)
    corrugated: tuple[str, ...]
    progress: Share
    least_kmh: Speed = Field(alias="least")


class CrossingFigures(Spec):
    surfaces: tuple[str, ...]
    per_km: dict[str, float]
    time_h: Hours = Field(alias="time")


class WearFigures(Spec):
    """Factors on damage per km by channel; see settings/difficulty.toml for each rule."""

    per_class: dict[Channel, float]
    per_climb: dict[Channel, float]
    per_descent: dict[Channel, float]
    reference_c: Temperature = Field(alias="reference_temperature")
    heat_doubles_over_k: float = Field(gt=0, alias="heat_doubles_over")
    corrugation_speed_kmh: Speed = Field(alias="corrugation_speed")
    per_corrugation_speed: dict[Channel, float]
    reference_depth_m: Depth = Field(alias="reference_depth")


class AirFigures(Spec):
    lapse_per_km: float


class DifficultyFigures(Spec):
    """``settings/difficulty.toml``."""

    gradient: GradientFigures
    depth: DepthFigures
    need: dict[int, Need]
    speed: SpeedFigures
    crossings: CrossingFigures
    wear: WearFigures
    air: AirFigures
    text: dict[str, str]
    cautions: dict[str, str]


class DayFigures(Spec):
    """The daily rhythm [h]; clock times are hours after midnight."""

    leave_after_sunrise_h: Hours = Field(alias="leave_after_sunrise")
    earliest_h: Hours = Field(alias="earliest")
    latest_h: Hours = Field(alias="latest")
    usual_h: Hours = Field(alias="usual")
    break_every_h: Hours = Field(gt=0, alias="break_every")
    break_h: Hours = Field(alias="break_time")
    long_h: Hours
    longest_h: Hours
    camp_before_dark_h: Hours = Field(alias="camp_before_dark")
    camp_wanted_h: Hours = Field(alias="camp_wanted")
    usual_dark_h: Hours = Field(alias="usual_dark")


class SamplingFigures(Spec):
    """Points along the route [km]."""

    step_km: Distance = Field(gt=0, alias="step")
    most: int = Field(ge=10)
    touch_km: Distance = Field(alias="touch")
    touch_apart_km: Distance = Field(alias="touch_apart")


class AlarmFigures(Spec):
    """Hours until somebody knows: for people in danger, for a vehicle to be fetched; None: it does not serve that."""

    people_h: Hours | None = Field(None, alias="people")
    vehicle_h: Hours | None = Field(None, alias="vehicle")


class HelpFigures(Spec):
    mobilise_h: Hours = Field(alias="mobilise")
    driven_per_day_h: Hours = Field(gt=0, alias="driven_per_day")
    coming: float = Field(gt=0, le=2)
    towing: float = Field(gt=0, le=2)
    fitting_h: Hours = Field(alias="fitting")
    lead_days: Days = Field(alias="lead")
    rescue_kinds: tuple[HelpKind, ...] = Field(min_length=1)
    alarm_kinds: tuple[HelpKind, ...] = Field(min_length=1)
    on_route_km: Distance = Field(alias="on_route")
    hotter_k: float = Field(alias="hotter")


class ScaleFigures(Spec):
    """A published remoteness scale: ratios capped, added, classed by upper bounds (included)."""

    most: float = Field(gt=0)
    classes: tuple[tuple[float, str], ...]


class RemotenessFigures(Spec):
    """``settings/remoteness.toml``."""

    day: DayFigures
    sampling: SamplingFigures
    alarm: dict[str, AlarmFigures]
    help: HelpFigures
    scale: ScaleFigures
    text: dict[str, str]


class FuelFigures(Spec):
    per_mass: float = Field(ge=0)
    features: dict[str, float]
    trailer: float = Field(ge=1)
    energy_mj_per_l: dict[str, float]
    efficiency: Share
    given_back: Share
    detour_share: Share
    detour_km: Distance = Field(alias="detour")
    station_off_km: Distance = Field(alias="station_off")
    home_km: Distance = Field(alias="home")
    can_l: float = Field(gt=0)
    cans: dict[str, str]


class WaterFigures(Spec):
    """Litres a person and day; ``heat`` rows are from [degF WBGT], then US quarts an hour of easy, moderate, hard work."""

    drinking: float = Field(gt=0)
    hygiene: float = Field(ge=0)
    cooking: float = Field(ge=0)
    hot_hours: float = Field(ge=0, le=24)
    rest_hours: float = Field(ge=0, le=24)
    most: float = Field(gt=0)
    most_per_hour: float = Field(gt=0)
    vapour_dry_hpa: float = Field(ge=0)
    vapour_humid_hpa: float = Field(ge=0)
    humid_from: Share
    in_hand_days: Days = Field(alias="in_hand")
    reserve_item: str
    off_route_km: Distance = Field(alias="off_route")
    can_l: float = Field(gt=0)
    heat: tuple[tuple[float, float, float, float], ...]


class FoodFigures(Spec):
    in_hand_days: Days = Field(alias="in_hand")
    rain_closed_days: Days = Field(alias="rain_closed")
    closes_in_rain: tuple[str, ...]


class SupplyFigures(Spec):
    """``settings/supplies.toml``."""

    fuel: FuelFigures
    water: WaterFigures
    food: FoodFigures
    text: dict[str, str]


def difficulty_figures(library: Library | None = None) -> DifficultyFigures:
    """Difficulty, speed and wear: the shipped figures with the library's laid over them.

    Examples
    --------
    >>> difficulty_figures().need[3]
    'four-wheel'
    """
    return read_settings("difficulty", DifficultyFigures, library)


def remoteness_figures(library: Library | None = None) -> RemotenessFigures:
    """Days, alarm and help: the shipped figures with the library's laid over them.

    Examples
    --------
    >>> remoteness_figures().alarm["distress-beacon"].vehicle_h is None
    True
    """
    return read_settings("remoteness", RemotenessFigures, library)


def supply_figures(library: Library | None = None) -> SupplyFigures:
    """Fuel, water and food: the shipped figures with the library's laid over them.

    Examples
    --------
    >>> supply_figures().water.drinking
    3.0
    """
    return read_settings("supplies", SupplyFigures, library)


class _Blanks(dict[str, object]):
    def __missing__(self, key: str) -> str:
        return "{" + key + "}"


def said(texts: Mapping[str, str], key: str, **values: object) -> str:
    """A sentence of a settings file with its values put in; a blank it does not know, or a stray bracket, stays as written.

    Examples
    --------
    >>> said({"a": "{km} km to {place}"}, "a", km=3)
    '3 km to {place}'
    """
    try:
        return texts[key].format_map(_Blanks(values))
    except (ValueError, IndexError, AttributeError):
        return texts[key]
