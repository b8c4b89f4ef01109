"""The chosen kit with its proof; the arrow from ``kit`` to ``trials``, ``plan`` and the pages."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal


@dataclass(frozen=True)
class KitItem:
    """Packs of one item in one vehicle's place. ``mass_kg`` is the mass of one pack; ``adds_hours`` what it saves."""

    item: str
    quantity: int
    mass_kg: float
    must_carry: bool
    owned: int
    vehicle: str
    place: str
    serves: tuple[tuple[str, str, str], ...]
    adds_hours: float | None = None
    firmness: str = ""


@dataclass(frozen=True)
class Proof:
    """Objective and bound are hours saved; optimal means gap <= 1e-6 (relative)."""

    optimal: bool
    objective: float
    bound: float
    gap: float


@dataclass(frozen=True)
class CurvePoint:
    """The plain program at one budget: hours lost with the best kit of at most ``mass_kg``, and the proven bound."""

    mass_kg: float
    hours_lost: float
    bound: float
    enters: tuple[str, ...] = ()
    leaves: tuple[str, ...] = ()


@dataclass(frozen=True)
class WorkChoice:
    """A workshop option of one weak point of one vehicle, chosen or not."""

    vehicle: str
    mode: str
    option: str
    title: str
    hours: float
    cost_low: float
    cost_high: float
    lead_weeks: float
    saves_hours: float
    chosen: bool
    required: bool = False
    too_late: bool = False


@dataclass(frozen=True)
class LeftOut:
    item: str
    mass_kg: float
    would_add_hours: float


@dataclass(frozen=True)
class Cover:
    """How one (vehicle, weak point) is covered by the kit: procedures possible in order, and hours lost without / with."""

    vehicle: str
    mode: str
    procedures: tuple[str, ...]
    hours_without: float
    hours_with: float
    why_not: str = ""


@dataclass(frozen=True)
class Kit:
    items: tuple[KitItem, ...]
    mass_kg: float
    must_carry_kg: float
    hours_without: float
    hours_with: float
    proof: Proof
    chosen_by: Literal["program", "patterns"]
    curve: tuple[CurvePoint, ...]
    work: tuple[WorkChoice, ...]
    left_out: tuple[LeftOut, ...]
    cover: tuple[Cover, ...]
    limits: dict[str, tuple[float, float]] = field(default_factory=dict)
    greedy_hours_with: float | None = None
    backups: tuple[str, ...] = ()
    drop_out: dict[str, tuple[str, ...]] = field(default_factory=dict)
    notes: tuple[str, ...] = ()

    def stock(self) -> dict[str, int]:
        """Packs carried by item, over all vehicles."""
        total: dict[str, int] = {}
        for entry in self.items:
            total[entry.item] = total.get(entry.item, 0) + entry.quantity
        return total
