"""Trial runs: the trip tried out many times with the chosen kit, failures drawn with the same factors as the program's counts.

Each run draws failures in route order with what they may really depend on (a factor per weak point, vehicle, trip and common cause,
damage from one failure to the next), then what is done about each: the plan's repairs first, after them any other that
is possible, best first. Stock runs out, a repair may not hold, and the trip goes on after help.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fieldkit.exposure.result import Exposure
from fieldkit.kit.catalogue import Catalogue, catalogue
from fieldkit.kit.counts import Member, member_of, shared_worth
from fieldkit.kit.must_carry import must_carry
from fieldkit.kit.policy import GOES_ON, STRANDED, Outcome, Policy, Practice
from fieldkit.kit.result import Kit
from fieldkit.kit.sample import Edge, Events, draw_events
from fieldkit.kit.settings import kit_settings
from fieldkit.likelihood.result import Risk, Risks
from fieldkit.likelihood.settings import settings_of
from fieldkit.specs.trip import Trip

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Key = tuple[str, str]

#: Runs for the split of the difference between program and runs, and for what stayed in the box, at most.
SPLIT_RUNS, BOX_RUNS = 20_000, 20_000


@dataclass(frozen=True)
class Trouble:
    """What one weak point of one vehicle did over all runs: failures and hours lost a trip, and how often it called for outside help."""

    vehicle: str
    mode: str
    failures: float
    hours_lost: float
    stranded: float


@dataclass(frozen=True)
class TrialRuns:
    """What the trial runs gave.

    Attributes
    ----------
    runs : int
    unassisted, stranded : float
        Shares of runs that ended without outside help or a workshop, and that waited for help beside a dead vehicle.
    hours_lost : float
        Mean over the runs [h].
    standard_error : dict
        Of ``unassisted``, ``stranded`` and ``hours_lost``.
    quantiles : dict
        ``"10"``, ``"50"``, ``"90"``: a single trip's hours lost [h]; they differ far more than the mean's range.
    trouble : tuple of Trouble
        Most hours first.
    unused : dict
        Item -> share of runs in which no pack of it was touched.
    gap : dict
        ``program``: hours of the plain program; ``plan_only``: of runs with the plan's repairs and their stock set aside; ``sharing``: what
        packs shared between failures save, ``fallback``: what repairs beyond the plan save, ``damage``: what damage drawn failure by
        failure, and functions with a second way, change [h]; ``sharing_and_fallback``: the first two together. Each on
        the same failures as the one before; ``runs``: how many.
    """

    runs: int
    seed: int
    policy: str
    unassisted: float
    stranded: float
    hours_lost: float
    standard_error: dict[str, float]
    quantiles: dict[str, float]
    trouble: tuple[Trouble, ...]
    unused: dict[str, float]
    gap: dict[str, float] = field(default_factory=dict)


def trial_runs(
    trip: Trip,
    exposure: Exposure,
    risks: Risks,
    kit: Kit,
    trials: int = 100_000,
    seed: int = 0,
    policy: Policy = "full",
    split: bool = True,
) -> TrialRuns:
    """Try a trip out many times.

    Parameters
    ----------
    risks : Risks
        Before the chosen work; what the work changes is taken from the kit.
    trials : int
        Number of runs, 1 or more.
    seed : int
        Same seed, same runs.
    policy : str
        ``"full"``; ``"plan-only"``: the plan's repairs alone, stock set aside for them, damage counted as the program counts it: its mean
        equals the program's hours within the standard error (the identity test); ``"plan-shared"``: the same with real stock.
    split : bool
        Whether ``gap`` is worked out (not with ``plan-only``).
    """
    world = World(trip, exposure, risks, kit)
    if policy == "plan-only":
        split = False
    events = world.draw(trials, seed, cascade=policy == "full")
    outcome = world.practice.play(events, trials, seed, policy)
    gap = _gap(world, min(trials, SPLIT_RUNS), seed) if split else {}
    hours = np.bincount(events.trip, outcome.hours, trials)
    worst = np.zeros(trials, np.int64)
    np.maximum.at(worst, events.trip, outcome.end)
    alone, stranded = worst == GOES_ON, worst == STRANDED
    shares = (("unassisted", alone), ("stranded", stranded), ("hours_lost", hours))
    return TrialRuns(
        runs=trials,
        seed=seed,
        policy=policy,
        unassisted=float(alone.mean()),
        stranded=float(stranded.mean()),
        hours_lost=float(hours.mean()),
        standard_error={name: standard_error(values) for name, values in shares},
        quantiles={str(q): float(np.quantile(hours, q / 100)) for q in (10, 50, 90)},
        trouble=_trouble(world, events, outcome, trials),
        unused=_unused(world, events, outcome, trials),
        gap=gap,
    )


def standard_error(values: NDArray[np.generic]) -> float:
    """Standard error of a mean; NaN for a single value.

    Examples
    --------
    >>> standard_error(np.array([1.0, 3.0]))
    1.0
    """
    return float(values.std(ddof=1) / np.sqrt(len(values))) if len(values) > 1 else float("nan")


@dataclass(frozen=True)
class World:
    """The trip as the runs see it: members in a fixed order, the work before leaving done."""

    trip: Trip
    exposure: Exposure
    risks: Risks
    kit: Kit

    @cached_property
    def keys(self) -> list[Key]:
        gone = set(self.kit.gone)
        return [k for k in self.risks.by_key if k not in gone and k in self.kit.worths]

    @cached_property
    def members(self) -> list[Member]:
        modes = self.trip.library.failure_modes
        return [member_of(self._risk(k), modes[k[1]].causes_in_common) for k in self.keys]

    def _risk(self, key: Key) -> Risk:
        return self.kit.after.get(key, self.risks.by_key[key])

    @cached_property
    def worths(self) -> dict[str, float]:
        groups = sorted({g for m in self.members for g in m.groups})
        return shared_worth(settings_of(self.trip.library).evidence, [v.id for v in self.trip.vehicles], groups)

    @cached_property
    def edges(self) -> list[Edge]:
        at = {k: i for i, k in enumerate(self.keys)}
        found = ((at.get((v, f)), at.get((v, g)), p) for v, f, g, p in self.risks.damage_edges)
        return [Edge(s, t, p) for s, t, p in found if s is not None and t is not None]

    def draw(self, trials: int, seed: int, cascade: bool) -> Events:
        """Failures of all runs; ``cascade``: damage drawn failure by failure, else as the program counts it."""
        return draw_events(self.members, self.worths, trials, seed, self.edges if cascade else None)

    @cached_property
    def catalogue(self) -> Catalogue:
        used = {i for w in self.kit.worths.values() for way in w.ways for i in (*way.tools, *way.stock)}
        used |= set(self.kit.stock())
        must = must_carry(self.trip, self.exposure)
        return catalogue(self.trip, used, must, {}, kit_settings(self.trip.library))

    @cached_property
    def packs(self) -> Ints:
        """Packs at the start by catalogue position."""
        stock = np.zeros(len(self.catalogue.entries), np.int64)
        for entry in self.kit.items:
            meant = entry.suits[0] if entry.suits else entry.vehicle
            position = self.catalogue.index.get((entry.item, meant))
            if position is not None:
                stock[position] += entry.quantity
        return stock

    @cached_property
    def practice(self) -> Practice:
        needs = [leg.need for leg in self.exposure.legs]
        second = kit_settings(self.trip.library).hours.second_try_h
        return Practice(
            self.trip.library, self.keys, self.kit.worths, self.kit.plan, self.catalogue, self.packs, needs, second
        )


# -------------------------------------------------------------------------------------------- sums
def _trouble(world: World, events: Events, out: Outcome, trials: int) -> tuple[Trouble, ...]:
    size = len(world.keys)
    failures = np.bincount(events.member, minlength=size) / trials
    hours = np.bincount(events.member, out.hours, size) / trials
    helped = np.bincount(events.member, out.end == STRANDED, size) / trials
    rows = [
        Trouble(*k, float(f), float(h), float(s))
        for k, f, h, s in zip(world.keys, failures, hours, helped, strict=True)
        if f
    ]
    return tuple(sorted(rows, key=lambda t: (-t.hours_lost, t.vehicle, t.mode)))


def _unused(world: World, events: Events, out: Outcome, trials: int) -> dict[str, float]:
    """Share of the first runs in which nothing of an item was touched, tool or stock; a stand-in counts where it lay ready."""
    runs = min(trials, BOX_RUNS)
    tried = out.tried[events.trip[out.tried[:, 0]] < runs]
    trip, way = events.trip[tried[:, 0]], tried[:, 1]
    touched = _touched(world)
    found = {}
    for item in sorted(set(world.kit.stock())):
        mine = np.array([item in t for t in touched], bool)
        used = len(np.unique(trip[mine[way]])) if len(way) and mine.any() else 0
        found[item] = 1.0 - used / runs
    return found


def _touched(world: World) -> list[frozenset[str]]:
    """Per way the items it handles: its own where they are carried, else their stand-ins."""
    library, stock = world.trip.library, world.kit.stock()
    found = []
    for worth in world.practice.worths:
        for way in worth.ways:
            items: set[str] = set()
            for item in (*way.tools, *way.stock):
                others = library.items[item].substitutes
                items.update([item] if item in stock else [s for s in others if s in stock][:1])
            found.append(frozenset(items))
    return found


def _gap(world: World, runs: int, seed: int) -> dict[str, float]:
    """The difference between program and runs, step by step on the same failures."""
    events = world.draw(runs, seed, cascade=False)
    means = {p: _mean(world, events, runs, seed, p) for p in ("plan-only", "plan-shared")}
    full = float(world.practice.play(events, runs, seed, "full").hours.sum() / runs)
    damaged = world.draw(runs, seed, cascade=True)
    last = float(world.practice.play(damaged, runs, seed, "full").hours.sum() / runs)
    return {
        "program": world.kit.hours_with if world.kit.program_hours is None else world.kit.program_hours,
        "plan_only": means["plan-only"],
        "sharing": means["plan-only"] - means["plan-shared"],
        "fallback": means["plan-shared"] - full,
        "sharing_and_fallback": means["plan-only"] - full,
        "damage": last - full,
        "runs": float(runs),
    }


def _mean(world: World, events: Events, runs: int, seed: int, policy: str) -> float:
    return float(world.practice.play(events, runs, seed, policy).hours.sum() / runs)  # type: ignore[arg-type]


__all__ = ["TrialRuns", "Trouble", "World", "standard_error", "trial_runs"]
