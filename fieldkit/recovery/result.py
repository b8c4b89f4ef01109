"""Pulls, rigs and their weakest parts; forces in kilograms-force as the trade rates gear, newtons beside."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Pull:
    """Pull needed [kgf], low and high since sources disagree, by part."""

    low_kgf: float
    high_kgf: float
    parts: tuple[tuple[str, float, float], ...]


@dataclass(frozen=True)
class RigPart:
    """One part of a rig: its load [kgf], its rated limit [kgf] or None, and the share used."""

    name: str
    load_kgf: float
    rated_kgf: float | None

    @property
    def used(self) -> float | None:
        return None if not self.rated_kgf else self.load_kgf / self.rated_kgf


@dataclass(frozen=True)
class Rig:
    """A rigging: parts of line (mechanical advantage), sheaves, fall-line force and every part's load."""

    lines: int
    sheaves: int
    total_kgf: float
    fall_line_kgf: float
    parts: tuple[RigPart, ...]
    weakest: str
    fits: bool
    note: str = ""


@dataclass(frozen=True)
class VehicleRecovery:
    """One vehicle: ``table`` rows (surface, slope_deg, depth, low_kgf, high_kgf, method), rigs, gear refused and why."""

    vehicle: str
    gross_kg: float
    table: tuple[tuple[str, float, str, float, float, str], ...]
    rigs: tuple[Rig, ...]
    refused: tuple[tuple[str, str], ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class Recovery:
    vehicles: tuple[VehicleRecovery, ...]
    order: tuple[str, ...]
