"""The figures and words of ``settings/recovery.toml``, checked."""

from __future__ import annotations

from typing import Literal

from pydantic import Field, model_validator

from fieldkit.loads.figures import read_figures
from fieldkit.specs.base import Share, Spec, Text
from fieldkit.specs.library import Library


class Spread(Spec):
    """A share of the vehicle's weight, low and high [-]."""

    low: float = Field(ge=0, le=5)
    high: float = Field(ge=0, le=5)
    words: Text

    @model_validator(mode="after")
    def _in_order(self) -> Spread:
        if self.low > self.high:
            raise ValueError(f"low {self.low:g} is above high {self.high:g}")
        return self


class PullFigures(Spec):
    rig_sheets: int = Field(ge=1)
    slopes_deg: tuple[float, ...]


class Typical(Spec):
    surface: str
    depth: str
    slope_deg: float


class RiggingFigures(Spec):
    """Angles [degrees], shares [-]; bands and losses as pairs, rising."""

    sheave_loss: Share
    most_lines: int = Field(ge=1, le=20)
    bridle_deg: float = Field(ge=0, le=120)
    bridle_most_deg: float = Field(gt=0, lt=180)
    sling_least_deg: float = Field(gt=0, lt=90)
    breaking_share: float = Field(gt=0, le=1)
    vehicle_anchor_share: float = Field(gt=0, le=1)
    zone_lines: float = Field(ge=1)
    shackle_bands: tuple[tuple[float, float], ...] = Field(min_length=1)
    bend_loss: tuple[tuple[float, float], ...] = Field(min_length=2)

    @model_validator(mode="after")
    def _rising(self) -> RiggingFigures:
        for what, table in (("shackle_bands", self.shackle_bands), ("bend_loss", self.bend_loss)):
            if sorted(table) != list(table):
                raise ValueError(f"{what} do not rise from pair to pair")
        return self


class WinchFigures(Spec):
    layer_factors: tuple[float, ...]
    plan_layer: int = Field(ge=1)
    rope_m: float = Field(gt=0)
    wraps_m: float = Field(ge=0)
    share_of_gross: float = Field(gt=0)

    @model_validator(mode="after")
    def _holds_together(self) -> WinchFigures:
        if self.plan_layer > len(self.layer_factors):
            raise ValueError(f"plan_layer {self.plan_layer} has no factor among the {len(self.layer_factors)} layers")
        if any(not 0 < f <= 1 for f in self.layer_factors) or sorted(self.layer_factors, reverse=True) != list(
            self.layer_factors
        ):
            raise ValueError("layer_factors are shares up to 1 that fall from layer to layer")
        if self.wraps_m >= self.rope_m:
            raise ValueError(f"{self.wraps_m:g} m of wraps leave nothing of {self.rope_m:g} m of rope")
        return self


class StrapFigures(Spec):
    low: float = Field(gt=0)
    high: float = Field(gt=0)

    @model_validator(mode="after")
    def _in_order(self) -> StrapFigures:
        if self.low >= self.high:
            raise ValueError(f"low {self.low:g} is not below high {self.high:g}")
        return self


class GearRule(Spec):
    """What a piece of gear is for, whether its rating is its breaking strength, and the least it needs."""

    role: Literal[
        "strap",
        "shackle",
        "block",
        "anchor-strap",
        "bridle",
        "extension",
        "hand-winch",
        "anchor",
        "point",
        "jack",
    ]
    breaking: bool = False
    at_least: float = Field(0.0, ge=0)
    of: Literal["gross", "axle", "winch"] = "gross"
    loss: Share = 0.0


class MethodFigures(Spec):
    none: Text
    rim: Text
    axle: Text
    sills: Text
    one_line: Text
    more_lines: Text
    too_much: Text
    no_winch: Text
    steep_deg: float


class OrderFigures(Spec):
    steps: tuple[Text, ...]


class RecoveryFigures(Spec):
    """``settings/recovery.toml``; forces as shares of weight, masses [kg], angles [degrees]."""

    point_figure: str
    point_parts: tuple[str, ...]
    pull: PullFigures
    mire: dict[str, Spread]
    damage: dict[str, Spread]
    to_move: dict[str, float]
    can_bog: dict[str, tuple[str, ...]]
    typical: tuple[Typical, ...]
    rigging: RiggingFigures
    legs: dict[str, float]
    winch: WinchFigures
    straps: StrapFigures
    gear: dict[str, GearRule]
    method: MethodFigures
    order: OrderFigures
    text: dict[str, str]

    @model_validator(mode="after")
    def _depths_known(self) -> RecoveryFigures:
        for where, depths in (*self.can_bog.items(), *((t.surface, (t.depth,)) for t in self.typical)):
            if unknown := [d for d in depths if d not in self.mire]:
                raise ValueError(f"{where}: unknown depth '{unknown[0]}'; one of: {', '.join(self.mire)}")
        if lacking := [d for d in self.mire if not hasattr(self.method, d)]:
            raise ValueError(f"[method] says nothing for the depth '{lacking[0]}'")
        return self


def recovery_figures(library: Library | None = None) -> RecoveryFigures:
    """Recovery figures: the shipped ones with the library's laid over them.

    Examples
    --------
    >>> recovery_figures().straps.low
    2.0
    """
    return read_figures("recovery", RecoveryFigures, library)
