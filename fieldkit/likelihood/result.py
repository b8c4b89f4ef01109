"""How likely each weak point is to give trouble, by vehicle and leg; the arrow from ``likelihood`` upward."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Range:
    """A figure with its central 80 %."""

    value: float
    low: float
    high: float


@dataclass(frozen=True)
class StoryStep:
    """One factor of a weak point's story; the product of all factors is the trip figure."""

    label: str
    factor: float
    reason: str


@dataclass(frozen=True)
class Wear:
    """What one position's figures are worked out from; enough to work them out again after work or under more stress.

    Attributes
    ----------
    life, shape : float
        Weibull life [the weak point's clock: reference km, days or crossings] and shape; route events have 1 and 1.
    warning : float or None
        How long a degraded part shows before it fails, on the same clock; None: no warning.
    warned : float
        Share of failures that give warning.
    kind : str
        How its age is known: ``known`` (since a renewal or the first owner), ``unknown`` (one of many renewals in the
        vehicle's life), ``steady`` (nothing known), ``replaced`` (by owners every ``age`` of duty, at an unknown point of it).
    age : float
        Duty since its renewal; for ``unknown`` the duty of the vehicle's whole life.
    spread : float
        Relative spread of a known age.
    duty, km : array, shape (legs,)
        Duty and true distance [km] by the end of each leg.
    early, fresh_km, early_km : float
        Early failures expected of fresh work, the distance since it [km], and the distance over which they wear off [km].
    """

    life: float
    shape: float
    warning: float | None
    warned: float
    kind: Literal["known", "unknown", "steady", "replaced"]
    age: float
    spread: float
    duty: Floats
    km: Floats
    early: float = 0.0
    fresh_km: float = 0.0
    early_km: float = 1.0


@dataclass(frozen=True)
class PositionHazard:
    """One position of a weak point on one vehicle: cumulative means at the end of each leg, shape (legs,).

    ``own`` is the prior (no finding), ``sound`` and ``degraded`` its two conditional means, ``prior_degraded`` p0.
    Modes without a warning time have sound = degraded = own and p0 = 0. ``wear``: what they are worked out from.
    """

    name: str
    own: Floats
    sound: Floats
    degraded: Floats
    prior_degraded: float
    wear: Wear | None = None


@dataclass(frozen=True)
class ModeHazard:
    """One weak point of one vehicle before any finding.

    ``shape_a``, ``rate_b``: theta ~ Gamma(a, b) multiplies every mean. ``stages``: steps of the story up to here; their product is
    the sum of the positions' ``own`` means at the end of the trip. ``wear_ratio``: wear per km against the build's (A).
    """

    vehicle: str
    mode: str
    positions: tuple[PositionHazard, ...]
    renews: bool
    shape_a: float
    rate_b: float
    stages: tuple[StoryStep, ...]
    wear_ratio: float
    evidence: str


@dataclass(frozen=True)
class Hazards:
    """Index: (vehicle id, mode id), in vehicle then mode order. ``legs`` counts the legs."""

    legs: int
    modes: dict[tuple[str, str], ModeHazard] = field(default_factory=dict)


@dataclass(frozen=True)
class Risk:
    """One weak point of one vehicle on this trip, findings and secondary damage in.

    ``by_leg`` (legs,): expected failures on each leg. ``weights`` (counts, legs): P(the k-th failure falls on leg l), k = 1..counts.
    ``degraded`` per position: probability that it is degraded, given findings. ``from_others`` (legs,): failures expected on each leg
    from other failures' damage, before "at most once". ``story``: its product is ``expected.value``. ``failures_worth``: how firm
    the figure is with every shared factor in (k_eff). ``others`` (positions, legs): cumulative means of damage from others,
    added to a position's own.
    """

    vehicle: str
    mode: str
    expected: Range
    chance: Range
    by_leg: Floats
    weights: Floats
    degraded: tuple[float, ...]
    hazard: ModeHazard
    from_others: Floats
    story: tuple[StoryStep, ...]
    evidence: str
    failures_worth: float
    others: Floats | None = None


@dataclass(frozen=True)
class Risks:
    """Index: (vehicle id, mode id). ``damage_edges``: (vehicle, failing mode, damaged mode, chance per failure), the chance that
    the vehicle is driven on included.
    """

    legs: int
    by_key: dict[tuple[str, str], Risk]
    damage_edges: tuple[tuple[str, str, str, float], ...] = ()

    def of(self, vehicle: str) -> list[Risk]:
        """A vehicle's weak points, most expected failures first."""
        mine = [r for r in self.by_key.values() if r.vehicle == vehicle]
        return sorted(mine, key=lambda r: (-r.expected.value, r.mode))


@dataclass(frozen=True)
class Diagnosis:
    """Noisy-or table of one vehicle: ``prior`` (causes,), ``link`` (symptoms, causes), ``leak`` (symptoms,)."""

    vehicle: str
    causes: tuple[str, ...]
    symptoms: tuple[str, ...]
    prior: Floats
    link: Floats
    leak: Floats
