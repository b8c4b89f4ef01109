"""Demand classes: failures that the same repairs answer with the same parts, counted together over the vehicles."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from fieldkit.kit.catalogue import Catalogue
from fieldkit.kit.counts import Counted
from fieldkit.kit.program import UNITS
from fieldkit.kit.result import Worth
from fieldkit.kit.value import saved_by_chain
from fieldkit.specs.trip import Trip

Floats = NDArray[np.float64]
Key = tuple[str, str]

#: Counts of a class kept apart at most.
MOST_COUNTS = 20


@dataclass(frozen=True)
class Needs:
    """What one repair takes, by catalogue position: tools in pieces, stock in units [0.001 pack]."""

    tools: Mapping[int, int]
    stock: Mapping[int, int]


@dataclass(frozen=True)
class Demand:
    """One class.

    ``members``: (vehicle, weak point) pairs; ``worths``: theirs; ``needs``: of each repair, in the order of every worth's ways;
    ``chains``: ordered repairs as indices into the ways, one or two.
    """

    members: tuple[Key, ...]
    worths: tuple[Worth, ...]
    needs: tuple[Needs, ...]
    chains: tuple[tuple[int, ...], ...]
    second_try_h: float

    @cached_property
    def saved(self) -> Floats:
        """G of every member and chain by leg, shape (members, chains, legs) [h]."""
        return np.array(
            [
                [saved_by_chain(w.loss, tuple(w.ways[i] for i in c), self.second_try_h) for c in self.chains]
                for w in self.worths
            ]
        ).reshape(len(self.worths), len(self.chains), -1)

    @cached_property
    def loss(self) -> Floats:
        """L of every member by leg, shape (members, legs) [h]."""
        return np.array([w.loss for w in self.worths])

    def chain_needs(self, chain: int) -> Needs:
        """What a chain takes in all: tools once, stock of each repair."""
        return self._chain_needs[chain]

    @cached_property
    def _chain_needs(self) -> list[Needs]:
        return [_together([self.needs[way] for way in chain]) for chain in self.chains]

    def procedures(self, chain: int) -> tuple[str, ...]:
        return tuple(self.worths[0].ways[i].procedure for i in self.chains[chain])


def _together(needs: Sequence[Needs]) -> Needs:
    tools: dict[int, int] = {}
    stock: dict[int, int] = {}
    for need in needs:
        for item, pieces in need.tools.items():
            tools[item] = max(pieces, tools.get(item, 0))
        for item, units in need.stock.items():
            stock[item] = stock.get(item, 0) + units
    return Needs(tools, stock)


def demands(trip: Trip, worths: Mapping[Key, Worth], catalogue: Catalogue, second_try_h: float) -> list[Demand]:
    """Classes of all weak points that some repair can answer, in the order of their first members."""
    pools: dict[object, list[tuple[Key, Worth, tuple[Needs, ...]]]] = {}
    for key, worth in worths.items():
        ways = tuple(w for w in worth.ways if not catalogue.refused.keys() & {*w.tools, *w.stock})
        if not ways:
            continue
        worth = replace(worth, ways=ways)
        needs = tuple(_needs(catalogue, key[0], w.tools, w.stock) for w in ways)
        mode = trip.library.failure_modes[key[1]]
        alike = (
            mode.severity,
            tuple(sorted(mode.severity_where.items())),
            mode.unsafe_kind,
            tuple(
                (w.procedure, *(tuple(sorted(x.items())) for x in (n.tools, n.stock)))
                for w, n in zip(ways, needs, strict=True)
            ),
        )
        pools.setdefault(alike, []).append((key, worth, needs))
    return [_demand(members, second_try_h) for members in pools.values()]


def _needs(catalogue: Catalogue, vehicle: str, tools: Mapping[str, int], stock: Mapping[str, float]) -> Needs:
    return Needs(
        {catalogue.index[(i, vehicle)]: int(n) for i, n in sorted(tools.items())},
        {catalogue.index[(i, vehicle)]: max(1, round(n * UNITS)) for i, n in sorted(stock.items())},
    )


def _demand(members: Sequence[tuple[Key, Worth, tuple[Needs, ...]]], second_try_h: float) -> Demand:
    keys, worths, needs = zip(*members, strict=True)
    ways = range(len(needs[0]))
    single = [(i,) for i in ways]
    pairs = [(i, j) for i in ways for j in ways if i != j]
    return Demand(tuple(keys), tuple(worths), needs[0], (*single, *pairs), second_try_h)


def mean_saved(demand: Demand, counted: Counted) -> Floats:
    """G(c, l, chain), shape (chains, legs): members' averaged by their share of the failures on each leg."""
    total = counted.means.sum(axis=0)
    shares = np.divide(counted.means, total, out=np.full_like(counted.means, 1.0 / len(counted.means)), where=total > 0)
    return np.einsum("ml,mcl->cl", shares, demand.saved)


def benefits(demand: Demand, counted: Counted) -> Floats:
    """Hours saved by each chain at the k-th failure, shape (counts, chains) [h]; a second repair that adds nothing saves nothing."""
    gained = counted.weights @ mean_saved(demand, counted).T
    first = {chain[0]: n for n, chain in enumerate(demand.chains) if len(chain) == 1}
    for n, chain in enumerate(demand.chains):
        if len(chain) == 2:
            gained[:, n] = np.where(gained[:, n] > gained[:, first[chain[0]]], gained[:, n], 0.0)
    return gained


def lost_without(demand: Demand, counted: Counted) -> float:
    """Hours expected to be lost with no repair of this class [h]."""
    return float((counted.means * demand.loss).sum())
