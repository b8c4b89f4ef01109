"""Pulls, rigs and their weakest parts; forces in kilograms-force as the trade rates gear, newtons beside."""

from __future__ import annotations

from dataclasses import dataclass

#: Newtons in a kilogram-force: standard gravity, exact.
STANDARD_GRAVITY = 9.80665


def newtons(force_kgf: float) -> float:
    """A force in newtons [N].

    Examples
    --------
    >>> newtons(1000)
    9806.65
    """
    return force_kgf * STANDARD_GRAVITY


@dataclass(frozen=True)
class Pull:
    """Pull needed [kgf], low and high since sources disagree; parts (rolling, slope, mire, damage) as (name, low, high)."""

    low_kgf: float
    high_kgf: float
    parts: tuple[tuple[str, float, float], ...]


@dataclass(frozen=True)
class RigPart:
    """One part of a rig: its load [kgf], its rated limit [kgf] or None, and the share used.

    ``where`` it is: ``winch``, ``line``, ``far-block``, ``near-block``, ``far`` (what all lines pull on), ``near`` (lines that come back
    to the winch's side), ``behind`` (what holds another vehicle's winch).
    """

    name: str
    load_kgf: float
    rated_kgf: float | None
    where: str = "line"

    @property
    def used(self) -> float | None:
        return None if not self.rated_kgf else self.load_kgf / self.rated_kgf


@dataclass(frozen=True)
class Rig:
    """A rigging: parts of line (mechanical advantage), sheaves, fall-line force and every part's load.

    ``total_kgf``: pull needed and the sheaves' resistance; ``fall_line_kgf``: force in the line on the winch; ``weakest``: name of the
    part nearest to its rating, of those marked; ``fits``: the winch can, and no marked part is beyond its rating. ``partner``: the winch
    is on another vehicle. ``pull_kgf``: what the rig is for; ``reach_m``: how far it reaches with all of the rope out, ``zone_m``: how far everybody stays away then.
    """

    lines: int
    sheaves: int
    total_kgf: float
    fall_line_kgf: float
    parts: tuple[RigPart, ...]
    weakest: str
    fits: bool
    note: str = ""
    title: str = ""
    pull_kgf: float = 0.0
    partner: bool = False
    anchor: str = "anchor"
    reach_m: float | None = None
    zone_m: float | None = None


@dataclass(frozen=True)
class VehicleRecovery:
    """One vehicle: ``table`` rows (surface id, slope_deg, depth, low_kgf, high_kgf, method), rigs, gear refused (item id, why)."""

    vehicle: str
    gross_kg: float
    table: tuple[tuple[str, float, str, float, float, str], ...]
    rigs: tuple[Rig, ...]
    refused: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class Recovery:
    """By vehicle in the order of the trip; ``order`` of methods, first to last; ``safety`` before everything else."""

    vehicles: tuple[VehicleRecovery, ...]
    order: tuple[str, ...]
    safety: tuple[str, ...] = ()
