"""Failures of many trips, drawn at once with the factors that the program's counts are integrated over.

A member's own factor is never drawn: the first failure of theta ~ Gamma(a, b) under a hazard x has the chance
1 - (1 + g x / b)^-a to have come by then (Lomax), and after a failure at x theta is Gamma(a + 1, b + g x). So only trips in which
something fails cost time. Positions are sound or degraded by chance; a renewed one fails once.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from fieldkit.kit.counts import SURE, Member

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

#: Above this chance a uniform number for every trip is quicker than the gaps between the trips that are hit.
OFTEN = 0.2


@dataclass(frozen=True)
class Events:
    """Failures of all trips in route order.

    ``trip``, ``member``, ``leg``, ``position``: (events,); ``when`` (events,): leg and the part of it that is behind.
    """

    trip: Ints
    member: Ints
    leg: Ints
    position: Ints
    when: Floats


@dataclass(frozen=True)
class Edge:
    """A failure of ``source`` damages ``target`` on the same leg with this chance (both member indices)."""

    source: int
    target: int
    probability: float


def draw_events(
    members: Sequence[Member],
    worths: Mapping[str, float],
    trips: int,
    seed: int,
    edges: Sequence[Edge] | None = None,
) -> Events:
    """Failures of many trips.

    Parameters
    ----------
    members : Member
        Weak points of vehicles.
    worths : factor name -> failures' worth, as ``shared_worth`` gives them.
    trips : int
    seed : int
        Same seed, same failures.
    edges : sequence of Edge or None
        Damage from one failure to another, drawn failure by failure; None: each member's mean damage is drawn as failures of its own, as
        the program counts it.

    Returns
    -------
    Events
        Sorted by trip, then by route order.
    """
    draw = np.random.default_rng([seed, 1])
    shared = {n: np.ones(trips) if k >= SURE else draw.gamma(k, 1.0 / k, trips) for n, k in worths.items()}
    products: dict[tuple[str, tuple[str, ...]], tuple[Floats, float]] = {}
    parts = []
    for index, member in enumerate(members):
        key = (member.vehicle, member.groups)
        if key not in products:
            names = [f"vehicle {member.vehicle}", "trip", *(f"cause {g}" for g in member.groups)]
            product = np.prod([shared[n] for n in names], axis=0)
            products[key] = product, float(product.max())
        own = _own_failures(member, *products[key], draw)
        found = [own] if edges is not None else [own, _damage_failures(member, *products[key], draw)]
        parts.append(_member_events(index, member, found))
    events = _joined(parts)
    if edges:
        events = _with_damage(events, members, edges, draw)
    return _in_order(events)


#: (trip, position, when) of one member's failures.
_Raw = tuple[Ints, Ints, Floats]


def _member_events(index: int, member: Member, found: Sequence[_Raw]) -> Events:
    trip, position, when = (np.concatenate(x) for x in zip(*found, strict=True))
    if member.renews and len(found) > 1 and len(trip):
        order = np.lexsort((when, position, trip))
        trip, position, when = trip[order], position[order], when[order]
        first = np.ones(len(trip), bool)
        first[1:] = (trip[1:] != trip[:-1]) | (position[1:] != position[:-1])
        trip, position, when = trip[first], position[first], when[first]
    return Events(trip, np.full(len(trip), index), np.floor(when).astype(np.int64), position, when)


def _joined(parts: Sequence[Events]) -> Events:
    fields = ("trip", "member", "leg", "position", "when")
    return Events(*(np.concatenate([getattr(p, f) for p in parts]) for f in fields))


def _in_order(events: Events) -> Events:
    order = np.lexsort((events.member, events.when, events.trip))
    return Events(*(getattr(events, f)[order] for f in ("trip", "member", "leg", "position", "when")))


# -------------------------------------------------------------------------------- one member's own
def _own_failures(member: Member, factor: Floats, largest: float, draw: np.random.Generator) -> _Raw:
    """Failures by the member's own wear, one after the other in every trip that still has some."""
    worst = np.where((member.share > 0)[:, None], np.maximum(member.sound, member.worn), member.sound)
    top = float(worst[:, -1].sum())
    trip, first = _some_trips(len(factor), _chance_by(member, largest * top), draw)
    at = _arrival(member, first, factor[trip], np.zeros(len(trip)), 0)
    trip, at = trip[at < top], at[at < top]
    worn = draw.random((len(trip), len(member.share))) < member.share
    kept = at < np.where(worn, member.worn[:, -1], member.sound[:, -1]).sum(axis=1)
    trip, at, worn = trip[kept], at[kept], worn[kept]
    hazards = np.where(worn[:, :, None], member.worn, member.sound)
    alive = np.ones(worn.shape, bool)
    behind = np.zeros(worn.shape)
    past = np.zeros(len(trip))
    out: list[_Raw] = []
    for count in range(1, 1000):
        left = ((hazards[:, :, -1] - behind) * alive).sum(axis=1)
        keep = at - past < left
        trip, at, past, hazards, alive, behind = (x[keep] for x in (trip, at, past, hazards, alive, behind))
        if not len(trip):
            break
        when, here = _progress(hazards, alive, behind, at - past)
        struck = _struck(hazards, alive, behind, when, draw)
        out.append((trip, struck, when))
        past, behind = at, here
        if member.renews:
            alive[np.arange(len(trip)), struck] = False
        at = _arrival(member, draw.random(len(trip)), factor[trip], past, count)
    return _stacked(out)


def _some_trips(trips: int, chance: float, draw: np.random.Generator) -> tuple[Ints, Floats]:
    """Trips on which a uniform number falls below a chance, and that number.

    Rare ones are found by the gaps between them, which are geometric, without a number for every trip.
    """
    if chance > OFTEN:
        every = draw.random(trips)
        trip = np.flatnonzero(every < chance)
        return trip, every[trip]
    found = [np.zeros(0, np.int64)]
    last, size = -1, int(chance * trips + 6.0 * np.sqrt(chance * trips)) + 8
    while last < trips and chance > 0.0:
        gaps = np.minimum(draw.geometric(chance, size), trips + 1)
        found.append(last + np.cumsum(gaps))
        last = int(found[-1][-1])
    trip = np.concatenate(found)
    trip = trip[trip < trips]
    return trip, chance * draw.random(len(trip))


def _chance_by(member: Member, scaled: float) -> float:
    """Chance of a failure by a hazard already multiplied by the shared factor."""
    if member.shape_a >= SURE:
        return float(-np.expm1(-scaled * _sure(member)))
    return float(1.0 - (1.0 + scaled / member.rate_b) ** -member.shape_a)


def _sure(member: Member) -> float:
    return 1.0 if np.isinf(member.shape_a) else member.shape_a / member.rate_b


def _arrival(member: Member, uniform: Floats, factor: Floats, past: Floats, count: int) -> Floats:
    """Hazard at which the next failure comes, after ``count`` failures the last of which came at ``past``."""
    if member.shape_a >= SURE:
        return past - np.log1p(-uniform) / (factor * _sure(member))
    scale = (member.rate_b + factor * past) / factor
    return np.asarray(past + scale * np.expm1(-np.log1p(-uniform) / (member.shape_a + count)))


def _progress(hazards: Floats, alive: NDArray[np.bool_], behind: Floats, more: Floats) -> tuple[Floats, Floats]:
    """Where on the route the living positions have gathered ``more`` hazard, and each position's own hazard by then."""
    rows = np.arange(len(more))
    gathered = ((hazards - behind[:, :, None]).clip(0.0) * alive[:, :, None]).sum(axis=1)
    leg = np.minimum((gathered <= more[:, None]).sum(axis=1), gathered.shape[1] - 1)
    before = np.where(leg > 0, gathered[rows, leg - 1], 0.0)
    step = gathered[rows, leg] - before
    part = np.clip(np.divide(more - before, step, out=np.zeros_like(step), where=step > 0), 0.0, 1.0 - 1e-9)
    low = np.where((leg > 0)[:, None], hazards[rows, :, leg - 1], 0.0)
    low = np.maximum(low, np.minimum(behind, hazards[rows, :, leg]))
    return leg + part, low + part[:, None] * (hazards[rows, :, leg] - low)


def _struck(hazards: Floats, alive: NDArray[np.bool_], behind: Floats, when: Floats, draw: np.random.Generator) -> Ints:
    """Which position fails: by its share of the hazard gathered on that leg."""
    if hazards.shape[1] == 1:
        return np.zeros(len(when), np.int64)
    rows, leg = np.arange(len(when)), np.floor(when).astype(np.int64)
    low = np.where((leg > 0)[:, None], hazards[rows, :, leg - 1], 0.0)
    step = (hazards[rows, :, leg] - np.maximum(low, behind)).clip(0.0) * alive + 1e-300 * alive
    sums = step.cumsum(axis=1)
    return np.asarray((sums <= (draw.random(len(when)) * sums[:, -1])[:, None]).sum(axis=1).clip(0, step.shape[1] - 1))


def _stacked(out: Sequence[_Raw]) -> _Raw:
    if not out:
        return np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros(0)
    trip, position, when = (np.concatenate(x) for x in zip(*out, strict=True))
    return trip, position, when


# ----------------------------------------------------------------------------- damage from others
def _damage_failures(member: Member, factor: Floats, largest: float, draw: np.random.Generator) -> _Raw:
    """The mean damage from others as failures of its own, position by position."""
    out: list[_Raw] = []
    for position, mean in enumerate(member.damage):
        if mean[-1] <= 0:
            continue
        uniform = draw.random(len(factor))
        trip = np.flatnonzero(uniform < -np.expm1(-largest * mean[-1]))
        at = -np.log1p(-uniform[trip]) / factor[trip]
        while len(trip):
            trip, at = trip[at < mean[-1]], at[at < mean[-1]]
            leg = np.searchsorted(mean, at, side="right")
            low = np.where(leg > 0, mean[leg - 1], 0.0)
            part = np.clip((at - low) / (mean[leg] - low), 0.0, 1.0 - 1e-9)
            out.append((trip, np.full(len(trip), position), leg + part))
            if member.renews:
                break
            at = at - np.log1p(-draw.random(len(trip))) / factor[trip]
    return _stacked(out)


def _with_damage(events: Events, members: Sequence[Member], edges: Sequence[Edge], draw: np.random.Generator) -> Events:
    """Failures that failures raise, and those that these raise, until no new ones come; renewed positions fail once."""
    by_source: dict[int, list[Edge]] = {}
    for edge in edges:
        by_source.setdefault(edge.source, []).append(edge)
    total, fresh = [events], events
    for _ in range(50):
        raised = [
            _raised(fresh, source, edge, members, draw) for source in sorted(by_source) for edge in by_source[source]
        ]
        raised = [r for r in raised if len(r.trip)]
        if not raised:
            break
        fresh = _joined(raised)
        total.append(fresh)
    return _once(_joined(total), members)


def _raised(fresh: Events, source: int, edge: Edge, members: Sequence[Member], draw: np.random.Generator) -> Events:
    hit = np.flatnonzero(fresh.member == source)
    hit = hit[draw.random(len(hit)) < edge.probability]
    position = draw.integers(0, len(members[edge.target].share), len(hit))
    rest = np.floor(fresh.when[hit]) + 1.0 - fresh.when[hit]
    when = np.minimum(fresh.when[hit] + rest * draw.random(len(hit)), np.floor(fresh.when[hit]) + 1.0 - 1e-9)
    return Events(fresh.trip[hit], np.full(len(hit), edge.target), fresh.leg[hit], position, when)


def _once(events: Events, members: Sequence[Member]) -> Events:
    """Renewed positions fail at most once on a trip: the first time."""
    renews = np.array([m.renews for m in members])[events.member]
    order = np.lexsort((events.when, events.position, events.member, events.trip))
    keys = np.stack([events.trip, events.member, events.position])[:, order]
    again = np.zeros(len(order), bool)
    again[1:] = (keys[:, 1:] == keys[:, :-1]).all(axis=0)
    keep = np.ones(len(order), bool)
    keep[order] = ~(again & renews[order])
    return Events(*(getattr(events, f)[keep] for f in ("trip", "member", "leg", "position", "when")))
