"""The kit as a pure integer program: which packs to carry and which repair to do for which failure.

Every number is an integer: benefits in thousandths of an hour, masses in grams, volumes in millilitres, money in
hundredths, stock in thousandths of a pack. So a solution can be checked exactly, and "optimal" means optimal.

Columns are repairs: column j saves ``benefit[j]`` when it is chosen for its slot (one failure of one demand class), and
each slot takes at most one. It needs tools (present, never used up) and uses up stock. A slot may belong to a
*state*: one of several versions of a demand class, by the workshop options chosen.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]

#: Stock units in one pack.
UNITS = 1000


@dataclass(frozen=True)
class Column:
    """One repair (or a chain of two) for one failure.

    ``slot``: index of the failure it answers; ``benefit`` [0.001 h]; ``tools``: item index -> pieces that must be there;
    ``stock``: item index -> units used up [0.001 pack].
    """

    slot: int
    benefit: int
    tools: Mapping[int, int] = field(default_factory=dict)
    stock: Mapping[int, int] = field(default_factory=dict)


@dataclass(frozen=True)
class State:
    """One version of a demand class: in force exactly when the works in ``on`` are chosen and those in ``off`` are not.

    ``group``: index of the class; just one state of a group is in force. ``benefit`` [0.001 h] against the group's first state.
    """

    group: int
    benefit: int
    on: tuple[int, ...] = ()
    off: tuple[int, ...] = ()


@dataclass(frozen=True)
class Work:
    """A workshop option: name, what it takes of each resource (resources,), and the group of which at most one is done."""

    name: str
    takes: tuple[int, ...]
    group: int


@dataclass(frozen=True)
class Entries:
    """Sparse entries (column, item, amount), each array of shape (entries,)."""

    column: Ints
    item: Ints
    amount: Ints


@dataclass(frozen=True)
class Program:
    """Arrays of the program; build one with ``make_program``.

    Attributes
    ----------
    items : (items,) names
    pack : (items,) units in a pack [0.001 pack]; 0 for a tool
    least, most : (items,) fewest and most packs
    owned : (items,) packs that cost no money
    resources : (resources,) names; ``money`` is the index of the one that owned packs don't use, or -1
    weights, limits : (resources, items), (resources,)
    benefit, slot : (columns,)
    tools, stock : sparse needs of the columns
    slot_state : (slots,) index of the state a slot belongs to, -1 for none
    slot_pool : (slots,) slots of one pool draw on the same stock; each pool has all that is carried for itself (failures that
        never come on the same trip). All 0: one trip
    stand_ins : per item the items that may stand in for it
    required : sets of works of which at least one is done
    cuts : sets of (item, packs) that cannot all be carried together
    """

    items: tuple[str, ...]
    pack: Ints
    least: Ints
    most: Ints
    owned: Ints
    resources: tuple[str, ...]
    weights: Ints
    limits: Ints
    money: int
    benefit: Ints
    slot: Ints
    tools: Entries
    stock: Entries
    slot_state: Ints
    slot_pool: Ints
    stand_ins: tuple[tuple[int, ...], ...] = ()
    works: tuple[Work, ...] = ()
    states: tuple[State, ...] = ()
    required: tuple[tuple[int, ...], ...] = ()
    cuts: tuple[tuple[tuple[int, int], ...], ...] = ()

    def limited(self, row: int, limit: int) -> Ints:
        """The limits with one of them changed, (resources,)."""
        limits = self.limits.copy()
        limits[row] = limit
        return limits


@dataclass(frozen=True)
class Solution:
    """A kit with its proof.

    ``packs`` (items,), ``chosen`` indices of the columns, ``works`` indices of the works, ``states`` indices in force.
    ``objective`` and ``bound`` [0.001 h], whole numbers; ``used`` (resources,) what is taken of each limit.
    """

    packs: Ints
    chosen: Ints
    works: tuple[int, ...]
    states: tuple[int, ...]
    objective: int
    bound: int
    used: Ints

    @property
    def gap(self) -> float:
        """(bound - objective) / bound; 0 when nothing can be saved."""
        return (self.bound - self.objective) / self.bound if self.bound > 0 else 0.0

    @property
    def optimal(self) -> bool:
        """Whether the gap is at most 1e-6."""
        return self.gap <= 1e-6


def make_program(
    items: Sequence[str],
    pack: Sequence[int] | Ints,
    resources: Sequence[str],
    weights: Sequence[Sequence[int]] | Ints,
    limits: Sequence[int] | Ints,
    columns: Iterable[Column],
    *,
    most: Sequence[int] | Ints | None = None,
    least: Sequence[int] | Ints | None = None,
    owned: Sequence[int] | Ints | None = None,
    money: int | None = None,
    stand_ins: Mapping[int, Sequence[int]] | None = None,
    works: Sequence[Work] = (),
    states: Sequence[State] = (),
    slot_state: Mapping[int, int] | None = None,
    slot_pool: Mapping[int, int] | None = None,
    required: Sequence[Sequence[int]] = (),
) -> Program:
    """A program from plain lists.

    Parameters
    ----------
    items, pack : (items,)
        Names, and units in a pack [0.001 pack]; 0 for a tool.
    resources, weights, limits : (resources,), (resources, items), (resources,)
        Whole numbers; what a pack takes of each limit.
    columns : Column
        Repairs; a column of benefit 0 or less is dropped.
    most, least, owned : (items,) or None
        Packs; None means as many as could be used, none, none.
    money : int or None
        Index of the resource that owned packs don't use.
    stand_ins : item index -> item indices that may stand in for it.

    Examples
    --------
    A jack serves two failures, a tube only one; both weigh 5 kg and 6 kg is allowed:

    >>> from fieldkit.kit.solve import solve
    >>> program = make_program(
    ...     ["jack", "tube"], [0, 1000], ["mass"], [[5000, 5000]], [6000],
    ...     [Column(0, 900, {0: 1}), Column(1, 800, {0: 1}), Column(2, 1500, {}, {1: 1000})])
    >>> found = solve(program)
    >>> found.packs.tolist(), found.objective, found.optimal
    ([1, 0], 1700, True)
    """
    kept = [c for c in columns if c.benefit > 0]
    slots = max([c.slot for c in kept], default=-1) + 1
    state_of = np.full(slots, -1, np.int64)
    for slot, state in (slot_state or {}).items():
        if slot < slots:
            state_of[slot] = state
    pool_of = np.zeros(slots, np.int64)
    for slot, pool in (slot_pool or {}).items():
        if slot < slots:
            pool_of[slot] = pool
    tools = _entries([(j, i, n) for j, c in enumerate(kept) for i, n in c.tools.items()])
    stock = _entries([(j, i, n) for j, c in enumerate(kept) for i, n in c.stock.items() if n > 0])
    size = len(items)
    packs = np.asarray(pack, np.int64)
    slot_array = np.array([c.slot for c in kept], np.int64)
    alike = stand_ins or {}
    stands = tuple(tuple(alike.get(i, ())) for i in range(size))
    useful = _useful(size, packs, tools, stock, slot_array, pool_of, stands)
    least_packs = _whole(least, size, 0)
    highest = useful if most is None else np.minimum(np.asarray(most, np.int64), useful)
    return Program(
        items=tuple(items),
        pack=packs,
        least=least_packs,
        most=np.maximum(highest, least_packs),
        owned=_whole(owned, size, 0),
        resources=tuple(resources),
        weights=np.asarray(weights, np.int64).reshape(len(resources), size),
        limits=np.asarray(limits, np.int64),
        money=-1 if money is None else money,
        benefit=np.array([c.benefit for c in kept], np.int64),
        slot=slot_array,
        tools=tools,
        stock=stock,
        slot_state=state_of,
        slot_pool=pool_of,
        stand_ins=stands,
        works=tuple(works),
        states=tuple(states),
        required=tuple(tuple(r) for r in required),
    )


def _entries(found: list[tuple[int, int, int]]) -> Entries:
    table = np.array(found, np.int64).reshape(-1, 3)
    return Entries(table[:, 0], table[:, 1], table[:, 2])


def _whole(values: Sequence[int] | Ints | None, size: int, otherwise: int) -> Ints:
    return np.full(size, otherwise, np.int64) if values is None else np.asarray(values, np.int64)


def _useful(
    size: int, pack: Ints, tools: Entries, stock: Entries, slot: Ints, pool: Ints, stands: Sequence[Sequence[int]]
) -> Ints:
    """Most packs that all failures of one pool together could need, stand-ins included."""
    pieces = np.zeros(size, np.int64)
    np.maximum.at(pieces, tools.item, tools.amount)
    units = most_units(size, stock, slot, pool)
    own = pieces + np.where(pack > 0, -(-units // np.maximum(pack, 1)), 0)
    total = own.copy()
    for item, others in enumerate(stands):
        for other in others:
            more = pieces[item] if pack[other] == 0 else -(-units[item] // pack[other])
            total[other] += more
    return total


def most_units(size: int, stock: Entries, slot: Ints, pool: Ints) -> Ints:
    """Most units of each item that one pool's slots together could use (items,) [0.001 pack]."""
    best: dict[tuple[int, int], int] = {}
    for column, item, amount in zip(stock.column.tolist(), stock.item.tolist(), stock.amount.tolist(), strict=True):
        key = (int(slot[column]), item)
        best[key] = max(best.get(key, 0), amount)
    by_pool: dict[tuple[int, int], int] = {}
    for (at, item), amount in best.items():
        key = (int(pool[at]), item)
        by_pool[key] = by_pool.get(key, 0) + amount
    units = np.zeros(size, np.int64)
    for (_, item), amount in by_pool.items():
        units[item] = max(int(units[item]), amount)
    return units
