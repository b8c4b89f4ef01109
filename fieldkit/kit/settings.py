"""What a practitioner may change about choosing and packing: ``settings/kit.toml``, checked."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from fieldkit.specs.base import Distance, Hours, Id, Need, Share, Spec, Speed
from fieldkit.specs.library import Library
from fieldkit.specs.settings import read_settings
from fieldkit.specs.trip import HelpKind

Cost = Annotated[float, Field(ge=0)]


class HourSettings(Spec):
    walking_pace_kmh: Speed = Field(alias="walking_pace")
    limp_speed_kmh: Speed = Field(alias="limp_speed")
    second_try_h: Hours = Field(alias="second_try")
    longest_h: Hours = Field(alias="longest")
    help_kinds: Annotated[tuple[HelpKind, ...], Field(min_length=1)]


class TowSettings(Spec):
    needs: tuple[Need, ...]
    difficulty_at_most: Annotated[int, Field(ge=1, le=4)]
    grade_at_most: Share
    speed_kmh: Speed = Field(alias="speed")
    distance_km: Distance = Field(alias="distance")
    rigging_h: Hours = Field(alias="rigging")
    not_with: tuple[Id, ...]


class PeopleSettings(Spec):
    transfer_h: Hours = Field(alias="transfer")
    fetch_h: Hours = Field(alias="fetch")


class Interchange(Spec):
    kinds_by_build: tuple[Id, ...]
    by_tyre: tuple[Id, ...]
    alike: tuple[Id, ...]
    same_vehicle: tuple[Id, ...]


class WorkSettings(Spec):
    versions_at_most: Annotated[int, Field(ge=2, le=500)]
    ignore_h: Hours = Field(alias="ignore")
    within: Share


class PlaceCosts(Spec):
    not_reachable: Cost
    not_from_seat: Cost
    on_roof: Cost
    wrong_vehicle: Cost
    same_basket: Cost


class PlaceSettings(Spec):
    from_seat: tuple[Id, ...]
    when_bogged: tuple[Id, ...]
    only_ventilated: tuple[Id, ...]
    light_on_roof_kg: Annotated[float, Field(ge=0)]
    at_both_ends: tuple[Id, ...]
    with_last_vehicle: tuple[Id, ...]
    not_behind_one_lock: tuple[Id, ...]
    cost: PlaceCosts


class ShowSettings(Spec):
    critical_hours: Cost
    step_hours: Cost
    left_out: Annotated[int, Field(ge=0, le=100)]
    within: Share
    firm_share: Share
    pattern_threshold: Share


class KitSettings(Spec):
    """The whole of ``settings/kit.toml``."""

    hours: HourSettings
    tow: TowSettings
    people: PeopleSettings
    interchange: Interchange
    work: WorkSettings
    place: PlaceSettings
    show: ShowSettings

    @property
    def a_step(self) -> int:
        """What a point of the curve is proven to: what a step must be worth to be shown [0.001 h]."""
        return round(1000 * self.show.step_hours)


def kit_settings(library: Library) -> KitSettings:
    """The library's settings laid over the shipped ones.

    Raises
    ------
    InputFaults
        If a key is unknown or missing, or a value is not a possible one.
    """
    return read_settings("kit", KitSettings, library)
