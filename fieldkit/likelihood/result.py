"""How likely each weak point is to give trouble, by vehicle and leg; the arrow from ``likelihood`` upward."""

from __future__ import annotations

from dataclasses import dataclass, field

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
class PositionHazard:
    """One position of a weak point on one vehicle: cumulative means at the end of each leg, shape (legs,).

    ``own`` is the prior (no finding), ``sound`` and ``degraded`` its two conditional means, ``prior_degraded`` p0.
    Modes without a warning time have sound = degraded = own and p0 = 0.
    """

    name: str
    own: Floats
    sound: Floats
    degraded: Floats
    prior_degraded: float


@dataclass(frozen=True)
class ModeHazard:
    """One weak point of one vehicle before any finding. ``stages``: names and factors of the story."""

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
    ``degraded`` per position: probability that it is degraded, given findings.
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


@dataclass(frozen=True)
class Risks:
    """Index: (vehicle id, mode id)."""

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
