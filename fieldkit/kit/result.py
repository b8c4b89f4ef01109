"""The chosen kit with its proof; the arrow from ``kit`` to ``trials``, ``plan`` and the pages."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fieldkit.likelihood.result import Risk

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class KitItem:
    """Packs of one item in one vehicle's place. ``mass_kg`` is the mass of one pack.

    ``owned``: packs of these that are owned already. ``serves``: (vehicle, weak point, field repair) that the plan uses it for.
    ``adds_hours``: hours saved with it minus the best plan without any of it; None where that was not worked out.
    ``suits``: vehicles it suits, where it does not suit all.
    """

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
    suits: tuple[str, ...] = ()


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
class Way:
    """One field repair of one weak point of one vehicle, by leg.

    ``hours``: hands-on time [h]; ``holds``: chance that it holds; ``left`` (legs,): hours still lost in the state it leaves [h];
    ``tools``: item -> pieces that must be there; ``stock``: item -> packs used up.
    """

    procedure: str
    kind: str
    hours: float
    holds: float
    left: Floats
    tools: Mapping[str, int] = field(default_factory=dict)
    stock: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True)
class Worth:
    """What one failure of one weak point of one vehicle costs, by leg.

    ``own`` (legs,): hours lost to the state it leaves [h]; ``loss`` (legs,): the same, net of what can be done without a kit, which
    is the repair ``free`` (or nothing); ``ways``: field repairs that the people can do; ``refused``: (repair, why) of the others.
    ``last`` (legs,): hours lost when every part that backs this one up is lost already; None where nothing backs it up.
    """

    vehicle: str
    mode: str
    own: Floats
    loss: Floats
    free: str
    ways: tuple[Way, ...]
    refused: tuple[tuple[str, str], ...] = ()
    last: Floats | None = None


@dataclass(frozen=True)
class Planned:
    """What the plan does at the ``count``-th failure of a demand class: its repairs in order.

    ``members``: the (vehicle, weak point) pairs whose failures are counted together. ``hours``: what it saves [h].
    """

    members: tuple[tuple[str, str], ...]
    count: int
    chain: tuple[str, ...]
    hours: float


@dataclass(frozen=True)
class Swap:
    """A change of the budget: what enters, what leaves, and hours saved more (less when negative)."""

    mass_kg: float
    money: float
    hours: float
    enters: tuple[str, ...]
    leaves: tuple[str, ...]


@dataclass(frozen=True)
class AddStep:
    """A step of building the kit up by adding alone.

    ``mass_kg``: of the kit after it; ``hours``: saved by the step; ``behind``: hours by which the best kit of that weight found is better,
    which is the price of never taking anything out.
    """

    mass_kg: float
    enters: tuple[str, ...]
    hours: float
    behind: float


@dataclass(frozen=True)
class MoneyPoint:
    """The plain program at one budget of money: hours lost with the best kit found, and the proven bound."""

    money: float
    hours_lost: float
    bound: float


@dataclass(frozen=True)
class Tried:
    """The plain program's kit in trial runs (``plain_hours``, its ``standard_error``, and how far ``apart`` from the program as a share),
    and the kit of failure patterns on the same trips (None where it was not called for). ``foresight_hours``: what no kit gets below on drawn
    trips, were every trip's failures known before stock is given out (None where it was not asked for).
    """

    plain_hours: float
    standard_error: float
    apart: float
    pattern_hours: float | None = None
    foresight_hours: float | None = None


@dataclass(frozen=True)
class Group:
    """Items that only work together: their hours do not add up from the single ones."""

    items: tuple[str, ...]
    adds_hours: float


@dataclass(frozen=True)
class Kit:
    """The kit, its proof, and everything that explains it.

    ``mass_kg``: the optimised kit and must-carry items together; ``hours_without``: expected hours lost with no repair that takes anything, and
    no work before leaving; ``hours_with``: with the kit and the chosen work, by what chose it: the plain program, or trial runs where failure
    patterns did; ``program_hours``: by the plain program in both cases (stock set aside for every planned failure). ``limits``: name ->
    (used, limit). ``plan``: the repairs by demand class and count. ``worths``: what each failure costs and each repair leaves.
    ``after``: risks that the chosen work changes, ``gone``: weak points whose part it takes away. ``next_kg``, ``drop_kg``: what another
    5 kg buys, and what to drop to save 5 kg; ``add_only``: the kit built up by adding alone. ``lightest``: item and packs of the lightest
    kit of the curve within 1 % of the hours saved. ``work_gap``: share by which work and kit chosen together may be bettered. ``tried``: why
    the program, or failure patterns, chose the kit.
    """

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
    plan: tuple[Planned, ...] = ()
    worths: Mapping[tuple[str, str], Worth] = field(default_factory=dict)
    after: Mapping[tuple[str, str], Risk] = field(default_factory=dict)
    gone: tuple[tuple[str, str], ...] = ()
    next_kg: Swap | None = None
    drop_kg: Swap | None = None
    add_only: tuple[AddStep, ...] = ()
    money_curve: tuple[MoneyPoint, ...] = ()
    groups: tuple[Group, ...] = ()
    lightest: tuple[tuple[str, int], ...] = ()
    lightest_kg: float | None = None
    work_gap: float = 0.0
    tried: Tried | None = None
    program_hours: float | None = None

    def stock(self) -> dict[str, int]:
        """Packs carried by item, over all vehicles."""
        total: dict[str, int] = {}
        for entry in self.items:
            total[entry.item] = total.get(entry.item, 0) + entry.quantity
        return total
