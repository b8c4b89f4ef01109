"""Trial runs: the trip tried out many times with the chosen kit, failures drawn with the same factors as the program's counts.

Each run draws what the estimates may really be (a factor per weak point, vehicle, trip and common cause), then failures in
route order, then what is done about each: the plan's repairs first, after them any other that is possible, best first. Stock runs out, a repair
may not hold, and the trip goes on after help. All runs are worked through at once, one failure of each run at a time.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from fieldkit.exposure.result import Exposure
from fieldkit.kit.catalogue import Catalogue, catalogue
from fieldkit.kit.counts import SURE, Member, member_of, shared_worth
from fieldkit.kit.must_carry import must_carry
from fieldkit.kit.result import Kit, Way, Worth
from fieldkit.kit.settings import kit_settings
from fieldkit.kit.value import severity_at
from fieldkit.likelihood.result import Risk, Risks
from fieldkit.likelihood.settings import settings_of
from fieldkit.specs.trip import Trip

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Key = tuple[str, str]
Policy = Literal["full", "plan-only"]

#: How a failure ends, from best to worst: carried on, to a workshop, waiting for help from outside.
GOES_ON, TO_WORKSHOP, STRANDED = 0, 1, 2


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
        ``program``: hours of the plain program; ``plan_only``: of the same failures with the plan's repairs alone;
        ``sharing_and_fallback``: what spares shared between failures, and repairs beyond the plan, save [h].
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
        ``"full"``, or ``"plan-only"``: the plan's repairs alone, stock set aside for them; its mean equals the program's hours within
        the standard error (the identity test).
    split : bool
        Whether the same failures are played once more to split the gap.

    Returns
    -------
    TrialRuns
    """
    world = _World(trip, exposure, risks, kit)
    rng = np.random.default_rng(seed)
    events = _draw(world, trials, rng)
    outcome = _play(world, events, trials, np.random.default_rng([seed, 1]), policy)
    result = _summed(world, events, outcome, trials, seed, policy)
    return result if policy == "plan-only" or not split else _with_gap(world, events, result, trials, seed)


# ------------------------------------------------------------------------------------------ world
@dataclass(frozen=True)
class _World:
    """The trip as the runs see it: members in a fixed order, their worths, the plan, the stock."""

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
    def worths(self) -> list[Worth]:
        return [self.kit.worths[k] for k in self.keys]

    @cached_property
    def needs(self) -> list[str]:
        return [leg.need for leg in self.exposure.legs]

    @cached_property
    def planned(self) -> tuple[Ints, list[dict[int, tuple[str, ...]]]]:
        """Class of each member (-1: none), and per class its chains by count."""
        place = {k: i for i, k in enumerate(self.keys)}
        of_member = np.full(len(self.keys), -1)
        classes: dict[tuple[Key, ...], dict[int, tuple[str, ...]]] = {}
        for entry in self.kit.plan:
            classes.setdefault(entry.members, {})[entry.count] = entry.chain
        for number, members in enumerate(classes):
            for key in members:
                if key in place:
                    of_member[place[key]] = number
        return of_member, list(classes.values())

    @cached_property
    def catalogue(self) -> Catalogue:
        used = {i for w in self.kit.worths.values() for way in w.ways for i in (*way.tools, *way.stock)}
        used |= set(self.kit.stock())
        must = must_carry(self.trip, self.exposure)
        return catalogue(self.trip, used, must, {}, kit_settings(self.trip.library))

    @cached_property
    def packs(self) -> Floats:
        """Packs at the start by catalogue position."""
        stock = np.zeros(len(self.catalogue.entries))
        for entry in self.kit.items:
            meant = entry.suits[0] if entry.suits else entry.vehicle
            position = self.catalogue.index.get((entry.item, meant))
            if position is not None:
                stock[position] += entry.quantity
        return stock

    def sources(self, item: str, vehicle: str) -> tuple[int, ...]:
        """Positions that can give an item to a vehicle: its own, then what may stand in."""
        position = self.catalogue.index[(item, vehicle)]
        return (position, *self.catalogue.stand_ins.get(position, ()))

    @cached_property
    def stuck_hours(self) -> Floats:
        """Hours of a dead vehicle by leg, before the part and the work [h]."""
        return np.array([leg.out_h + leg.back_h + leg.part_lead_h for leg in self.exposure.legs])

    def end(self, key: Key, leg: int) -> int:
        """How a failure ends that nothing in the kit has answered."""
        mode = self.trip.library.failure_modes[key[1]]
        free = self.kit.worths[key].free
        state = self.trip.library.procedures[free].head.leaves if free else severity_at(mode, self.needs[leg])
        return {"disabled": STRANDED, "unsafe": STRANDED, "limp": TO_WORKSHOP}.get(state, GOES_ON)


# ------------------------------------------------------------------------------------------- draws
@dataclass(frozen=True)
class _Events:
    """Failures of all runs in route order: run, member and leg, each of shape (events,)."""

    run: Ints
    member: Ints
    leg: Ints


def _draw(world: _World, trials: int, rng: np.random.Generator) -> _Events:
    """Draw factors, then every failure of every run, and put them in route order."""
    factors = _factors(world, trials, rng)
    runs, members, legs = [], [], []
    for index, member in enumerate(world.members):
        run, leg = _failures(member, _product(member, factors), trials, rng)
        runs.append(run)
        legs.append(leg)
        members.append(np.full(len(run), index))
    run, leg, who = (np.concatenate(x).astype(np.int64) for x in (runs, legs, members))
    order = np.lexsort((rng.random(len(run)), leg, run))
    return _Events(run[order], who[order], leg[order])


def _factors(world: _World, trials: int, rng: np.random.Generator) -> dict[str, Floats]:
    groups = sorted({g for m in world.members for g in m.groups})
    worths = shared_worth(settings_of(world.trip.library).evidence, [v.id for v in world.trip.vehicles], groups)
    return {n: np.ones(trials) if k >= SURE else rng.gamma(k, 1.0 / k, trials) for n, k in worths.items()}


def _product(member: Member, factors: Mapping[str, Floats]) -> Floats:
    product = factors[f"vehicle {member.vehicle}"] * factors["trip"]
    for group in member.groups:
        product = product * factors[f"cause {group}"]
    return product


def _failures(member: Member, shared: Floats, trials: int, rng: np.random.Generator) -> tuple[Ints, Ints]:
    """One member's failures: runs and legs."""
    sure = np.isinf(member.shape_a)
    theta = shared if sure else shared * rng.gamma(member.shape_a, 1.0 / member.rate_b, trials)
    runs, legs = [], []
    for i, share in enumerate(member.share.tolist()):
        worn = rng.random(trials) < share
        mean = np.where(worn, member.worn[i, -1], member.sound[i, -1]) * theta + member.damage[i, -1] * shared
        count = (rng.exponential(size=trials) < mean).astype(np.int64) if member.renews else rng.poisson(mean)
        hit = np.repeat(np.arange(trials), count)
        if not len(hit):
            continue
        means = np.where(worn[hit, None], member.worn[i], member.sound[i]) * theta[hit, None]
        means = means + member.damage[i] * shared[hit, None]
        top = means[:, -1]
        level = -np.log1p(rng.random(len(hit)) * np.expm1(-top)) if member.renews else rng.random(len(hit)) * top
        runs.append(hit)
        legs.append((means < level[:, None]).sum(axis=1).clip(0, means.shape[1] - 1))
    if not runs:
        return np.empty(0, np.int64), np.empty(0, np.int64)
    return np.concatenate(runs), np.concatenate(legs)


# ---------------------------------------------------------------------------------------- the runs
@dataclass(frozen=True)
class _Outcome:
    """Hours lost and the end of every event (events,), and packs left (runs, positions)."""

    hours: Floats
    end: Ints
    left: Floats


def _play(world: _World, events: _Events, trials: int, rng: np.random.Generator, policy: Policy) -> _Outcome:
    """Work through the events, the n-th of every run together."""
    total = len(events.run)
    hours, end = np.zeros(total), np.zeros(total, np.int64)
    stock = np.tile(world.packs, (trials, 1))
    classes, chains = world.planned
    counts = np.zeros((trials, max(1, len(chains))), np.int64)
    broken, tries = _Broken(world, trials), {}
    starts = np.flatnonzero(np.r_[True, events.run[1:] != events.run[:-1]]) if total else np.empty(0, np.int64)
    round_of = np.arange(total) - np.repeat(starts, np.diff(np.r_[starts, total]))
    for number in range(int(round_of.max()) + 1 if total else 0):
        now = np.flatnonzero(round_of == number)
        now = now[np.argsort(events.member[now], kind="stable")]
        cuts = np.flatnonzero(np.r_[True, np.diff(events.member[now]) > 0])
        for mine in np.split(now, cuts[1:]):
            index = int(events.member[mine[0]])
            runs, legs = events.run[mine], events.leg[mine]
            number_in_class = np.ones(len(mine), np.int64)
            if classes[index] >= 0:
                counts[runs, classes[index]] += 1
                number_in_class = counts[runs, classes[index]]
            by_count = chains[classes[index]] if classes[index] >= 0 else {}
            if index not in tries:
                tries[index] = _Try(world, index, policy, stock, rng)
            for count in set(number_in_class.tolist()):
                part = number_in_class == count
                chain = by_count.get(count, ())
                hours[mine[part]], end[mine[part]] = tries[index].go(runs[part], legs[part], chain)
            if policy == "full":
                broken.note(world.keys[index], runs, legs, mine, hours, end)
    return _Outcome(hours, end, stock)


class _Broken:
    """Which ways of a function a vehicle has lost in each run: the last one strands it."""

    def __init__(self, world: _World, trials: int) -> None:
        self.world, self.trials = world, trials
        self.lost: dict[tuple[str, str], NDArray[np.bool_]] = {}

    def note(self, key: Key, runs: Ints, legs: Ints, events: Ints, hours: Floats, end: Ints) -> None:
        mode = self.world.trip.library.failure_modes[key[1]]
        for function in self.world.trip.library.functions.values():
            if mode.function not in function.ways:
                continue
            unmended = end[events] >= TO_WORKSHOP
            others = [
                self.lost[(key[0], w)][runs] for w in function.ways if w != mode.function and (key[0], w) in self.lost
            ]
            gone = unmended & (np.logical_and.reduce(others) if len(others) == len(function.ways) - 1 else False)
            factor = self.world.trip.vehicle(key[0]).archetype.part_lead_factor
            dead = self.world.stuck_hours[legs] + mode.part_lead_days * 24 * factor + mode.fit_hours
            hours[events] = np.where(gone, np.maximum(hours[events], dead), hours[events])
            end[events] = np.where(gone, STRANDED, end[events])
            flags = self.lost.setdefault((key[0], mode.function or ""), np.zeros(self.trials, bool))
            flags[runs[unmended]] = True


class _Try:
    """One weak point's failures answered: which repair, does it hold, what does it use."""

    def __init__(self, world: _World, index: int, policy: Policy, stock: Floats, rng: np.random.Generator) -> None:
        self.world, self.policy, self.stock, self.rng = world, policy, stock, rng
        self.key, self.worth = world.keys[index], world.worths[index]
        self.second_try_h = kit_settings(world.trip.library).hours.second_try_h
        self.ends = np.array([world.end(self.key, leg) for leg in range(len(self.worth.loss))])
        self.saved = {w.procedure: self._saves(w) for w in self.worth.ways}
        self.takes = {
            w.procedure: [(np.array(world.sources(i, self.key[0])), n) for i, n in (*w.tools.items(), *w.stock.items())]
            for w in self.worth.ways
        }
        self.orders: dict[tuple[str, ...], list[tuple[Way, bool]]] = {}

    def go(self, runs: Ints, legs: Ints, chain: Sequence[str]) -> tuple[Floats, Ints]:
        """Hours lost and end of each failure."""
        loss = self.worth.loss[legs]
        hours, open_ = np.zeros(len(runs)), np.ones(len(runs), bool)
        end = self.ends[legs]
        tries = np.zeros(len(runs), np.int64)
        if tuple(chain) not in self.orders:
            self.orders[tuple(chain)] = self._order(chain)
        for way, planned in self.orders[tuple(chain)]:
            if not open_.any():
                break
            able = open_ & self._possible(way, runs, legs, planned)
            if not able.any():
                continue
            at = np.flatnonzero(able)
            self._use(way, runs[at], planned)
            hours[at] += way.hours + np.where(tries[at] > 0, self.second_try_h, 0.0)
            tries[at] += 1
            held = at[self.rng.random(len(at)) < way.holds]
            hours[held] += way.left[legs[held]]
            end[held] = self._end_of(way)
            open_[held] = False
        return hours + np.where(open_, loss, 0.0), end

    def _order(self, chain: Sequence[str]) -> list[tuple[Way, bool]]:
        """The plan's repairs, then the others by what they save."""
        by_name = {w.procedure: w for w in self.worth.ways}
        first = [(by_name[p], True) for p in chain if p in by_name]
        if self.policy == "plan-only":
            return first
        rest = sorted(
            (w for w in self.worth.ways if w.procedure not in chain),
            key=lambda w: (-self.saved[w.procedure].mean(), w.procedure),
        )
        return first + [(w, False) for w in rest]

    def _saves(self, way: Way) -> Floats:
        return self.worth.loss - (way.hours + way.holds * way.left + (1 - way.holds) * self.worth.loss)

    def _possible(self, way: Way, runs: Ints, legs: Ints, planned: bool) -> NDArray[np.bool_]:
        if planned and self.policy == "plan-only":
            return np.ones(len(runs), bool)
        able = np.ones(len(runs), bool) if planned else self.saved[way.procedure][legs] > 1e-9
        for places, packs in self.takes[way.procedure]:
            if not able.any():
                break
            able &= self.stock[runs[:, None], places].sum(axis=1) >= packs - 1e-9
        return np.asarray(able)

    def _use(self, way: Way, runs: Ints, planned: bool) -> None:
        if planned and self.policy == "plan-only":
            return
        for item, packs in way.stock.items():
            wanted = np.full(len(runs), float(packs))
            for place in self.world.sources(item, self.key[0]):
                taken = np.minimum(wanted, self.stock[runs, place])
                self.stock[runs, place] -= taken
                wanted -= taken

    def _end_of(self, way: Way) -> int:
        leaves = self.world.trip.library.procedures[way.procedure].head.leaves
        return {"disabled": STRANDED, "limp": TO_WORKSHOP}.get(leaves, GOES_ON)


# -------------------------------------------------------------------------------------------- sums
def _summed(world: _World, events: _Events, out: _Outcome, trials: int, seed: int, policy: Policy) -> TrialRuns:
    hours = np.bincount(events.run, out.hours, trials)
    worst = np.zeros(trials, np.int64)
    np.maximum.at(worst, events.run, out.end)
    alone, stranded = worst == GOES_ON, worst == STRANDED
    return TrialRuns(
        runs=trials,
        seed=seed,
        policy=policy,
        unassisted=float(alone.mean()),
        stranded=float(stranded.mean()),
        hours_lost=float(hours.mean()),
        standard_error={
            n: _error(x) for n, x in (("unassisted", alone), ("stranded", stranded), ("hours_lost", hours))
        },
        quantiles={str(q): float(np.quantile(hours, q / 100)) for q in (10, 50, 90)},
        trouble=_trouble(world, events, out, trials),
        unused=_unused(world, out),
    )


def _error(values: NDArray[np.generic]) -> float:
    return float(values.std(ddof=1) / np.sqrt(len(values))) if len(values) > 1 else float("nan")


def _trouble(world: _World, events: _Events, out: _Outcome, trials: int) -> tuple[Trouble, ...]:
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


def _unused(world: _World, out: _Outcome) -> dict[str, float]:
    """Share of runs in which nothing of an item was used up; tools are not used up and are left out."""
    consumed = {i for w in world.worths for way in w.ways for i in way.stock}
    touched: dict[str, NDArray[np.bool_]] = {}
    for position, entry in enumerate(world.catalogue.entries):
        if world.packs[position] and entry.item in consumed:
            used = out.left[:, position] < world.packs[position] - 1e-9
            touched[entry.item] = touched[entry.item] | used if entry.item in touched else used
    return {item: float(1 - used.mean()) for item, used in sorted(touched.items())}


def _with_gap(world: _World, events: _Events, result: TrialRuns, trials: int, seed: int) -> TrialRuns:
    """The same failures again with the plan's repairs alone: what sharing and second tries are worth."""
    rng = np.random.default_rng([seed, 1])
    reserved = _play(world, events, trials, rng, "plan-only")
    shared_only = float(reserved.hours.sum() / trials)
    gap = {
        "program": world.kit.hours_with,
        "plan_only": shared_only,
        "sharing_and_fallback": shared_only - result.hours_lost,
    }
    return TrialRuns(**{**result.__dict__, "gap": gap})
