"""The program as sparse rows for the solver.

Column blocks, in order: packs of each item; packs that cost nothing because they are owned; stock lent by a stand-in;
one flag per entry of a cut; works; states; repairs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array

from fieldkit.kit.program import Ints, Program
from fieldkit.kit.reduce import Reduced

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Blocks:
    """Where each block of columns starts, and where the last one ends."""

    packs: int
    owned: int
    lent: int
    flags: int
    works: int
    states: int
    repairs: int
    end: int


@dataclass(frozen=True)
class Matrix:
    """Maximise ``objective`` x subject to ``rows`` x <= ``upper_rows`` (and = for the rows in ``equal``), bounds, integers.

    Attributes
    ----------
    rows : csr, shape (rows, columns); the first rows are the program's resources, in order
    lower, upper, objective, whole : arrays, shape (columns,)
    part_owned : items that the block of owned packs is about
    """

    blocks: Blocks
    rows: csr_array
    lower_rows: Floats
    upper_rows: Floats
    lower: Floats
    upper: Floats
    objective: Floats
    whole: NDArray[np.bool_]
    part_owned: tuple[int, ...] = ()


class _Rows:
    """Sparse rows under construction."""

    def __init__(self) -> None:
        self.row: list[Ints] = []
        self.column: list[Ints] = []
        self.value: list[Ints] = []
        self.low: list[Floats] = []
        self.high: list[Floats] = []
        self.count = 0

    def add(self, rows: Ints, columns: Ints, values: Ints, high: Floats, low: Floats | None = None) -> None:
        """``len(high)`` more rows from entries whose row numbers start at 0."""
        self.row.append(rows + self.count)
        self.column.append(columns)
        self.value.append(values)
        self.high.append(high)
        self.low.append(np.full(len(high), -np.inf) if low is None else low)
        self.count += len(high)

    def csr(self, columns: int) -> tuple[csr_array, Floats, Floats]:
        index = np.concatenate(self.row), np.concatenate(self.column)
        values = np.concatenate(self.value).astype(float)
        rows = csr_array((values, index), shape=(self.count, columns))
        return rows, np.concatenate(self.low), np.concatenate(self.high)


def build_matrix(program: Program, reduced: Reduced) -> Matrix:
    """The rows of a reduced program.

    1. limits: weights of packs, less the money of owned ones, and what works take;
    2. a repair's tools must be there: one row per slot and tool, over all its repairs that need it;
    3. stock used is at most stock carried, and a repair that uses any needs a pack there;
    4. each slot takes one repair, and only in the state it belongs to;
    5. one state per class, in force exactly with its works; one work per group; cuts.
    """
    owned, lent = _part_owned(program), _lendings(program, reduced)
    blocks = _blocks(program, reduced, len(owned), len(lent))
    rows = _Rows()
    _limit_rows(rows, program, blocks, owned)
    _owned_rows(rows, blocks, owned)
    needs = _need_table(reduced, blocks)
    _presence_rows(rows, program, blocks, needs)
    _stock_rows(rows, program, blocks, needs, lent)
    _slot_rows(rows, reduced, blocks)
    _state_rows(rows, program, blocks)
    _cut_rows(rows, program, blocks)
    matrix, low, high = rows.csr(blocks.end)
    return Matrix(blocks, matrix, low, high, *_bounds(program, reduced, blocks, owned), tuple(owned))


def _blocks(program: Program, reduced: Reduced, owned: int, lent: int) -> Blocks:
    flags = sum(len(cut) for cut in program.cuts)
    sizes = [len(program.items), owned, lent, flags, len(program.works), len(program.states), len(reduced.benefit)]
    return Blocks(*np.concatenate([[0], np.cumsum(sizes)]).tolist())


def _part_owned(program: Program) -> list[int]:
    """Items of which only some of the packs that may be carried are owned."""
    if program.money < 0:
        return []
    costs = program.weights[program.money] > 0
    return np.flatnonzero(costs & (program.owned > 0) & (program.owned < program.most)).tolist()


def _lendings(program: Program, reduced: Reduced) -> list[tuple[int, int]]:
    """(stand-in, item) pairs where stock of one may be used as the other."""
    used = {i for _, stock in reduced.needs for i, _ in stock}
    return [(other, item) for item in sorted(used) for other in program.stand_ins[item] if program.pack[other] > 0]


def _limit_rows(rows: _Rows, program: Program, blocks: Blocks, owned: list[int]) -> None:
    weights = program.weights.copy()
    if program.money >= 0:
        weights[program.money, program.owned >= program.most] = 0
    r, i = np.nonzero(weights)
    parts = [(r, i, weights[r, i])]
    if owned:
        o = np.arange(len(owned)) + blocks.owned
        parts.append((np.full(len(owned), program.money), o, -weights[program.money, owned]))
    for w, work in enumerate(program.works):
        takes = np.asarray(work.takes, np.int64)
        parts.append((np.flatnonzero(takes), np.full(np.count_nonzero(takes), blocks.works + w), takes[takes != 0]))
    rows.add(*_joined(parts), program.limits.astype(float))


def _joined(parts: list[tuple[Ints, Ints, Ints]]) -> tuple[Ints, Ints, Ints]:
    row, column, value = (np.concatenate(p) for p in zip(*parts, strict=True))
    return row, column, value


def _owned_rows(rows: _Rows, blocks: Blocks, owned: list[int]) -> None:
    if owned:
        at = np.arange(len(owned))
        ones = np.ones(len(owned), np.int64)
        index = np.concatenate([at, at]), np.concatenate([at + blocks.owned, np.array(owned)])
        rows.add(*index, np.concatenate([ones, -ones]), np.zeros(len(owned)))


@dataclass(frozen=True)
class _Needs:
    """Sparse needs of the repairs: solver column, slot, item, amount; tools and stock."""

    tool: tuple[Ints, Ints, Ints, Ints]
    stock: tuple[Ints, Ints, Ints, Ints]


def _need_table(reduced: Reduced, blocks: Blocks) -> _Needs:
    tables = []
    for kind in (0, 1):
        found = [
            (j + blocks.repairs, reduced.slot[j], item, amount)
            for j, need in enumerate(reduced.needs)
            for item, amount in need[kind]
        ]
        table = np.array(found, np.int64).reshape(-1, 4)
        tables.append((table[:, 0], table[:, 1], table[:, 2], table[:, 3]))
    return _Needs(*tables)


def _presence_rows(rows: _Rows, program: Program, blocks: Blocks, needs: _Needs) -> None:
    """sum over a slot's repairs of pieces needed <= packs there, stand-ins included; one row per (slot, item).

    Stock of which a repair takes less than a pack gets such a row too, for one pack: without it a fraction of a pack
    would serve.
    """
    column, slot, item, amount = needs.tool
    s_column, s_slot, s_item, s_amount = needs.stock
    part = s_amount < program.pack[s_item]
    column = np.concatenate([column, s_column[part]])
    slot, item = np.concatenate([slot, s_slot[part]]), np.concatenate([item, s_item[part]])
    amount = np.concatenate([amount, np.ones(np.count_nonzero(part), np.int64)])
    if not len(column):
        return
    keys, row = np.unique(slot * len(program.items) + item, return_inverse=True)
    at, who = _suppliers(program, keys % len(program.items))
    rows.add(
        np.concatenate([row, at]),
        np.concatenate([column, who + blocks.packs]),
        np.concatenate([amount, -np.ones(len(who), np.int64)]),
        np.zeros(len(keys)),
    )


def _suppliers(program: Program, items: Ints) -> tuple[Ints, Ints]:
    """(row, item) for each item and each of its stand-ins."""
    if not any(program.stand_ins):
        return np.arange(len(items)), items
    pairs = [(r, other) for r, i in enumerate(items.tolist()) for other in (i, *program.stand_ins[i])]
    table = np.array(pairs, np.int64)
    return table[:, 0], table[:, 1]


def _stock_rows(rows: _Rows, program: Program, blocks: Blocks, needs: _Needs, lent: list[tuple[int, int]]) -> None:
    """Units used + units lent away <= units carried + units borrowed."""
    column, _, item, amount = needs.stock
    items = np.unique(np.concatenate([item, np.array([i for pair in lent for i in pair], np.int64)]))
    if not len(items):
        return
    at = {i: r for r, i in enumerate(items.tolist())}
    row = np.searchsorted(items, item)
    own = np.arange(len(items))
    parts = [(row, column, amount), (own, items + blocks.packs, -program.pack[items])]
    if lent:
        flow = np.arange(len(lent)) + blocks.lent
        one = np.ones(len(lent), np.int64)
        parts.append((np.array([at[other] for other, _ in lent]), flow, one))
        parts.append((np.array([at[i] for _, i in lent]), flow, -one))
    rows.add(*_joined(parts), np.zeros(len(items)))


def _slot_rows(rows: _Rows, reduced: Reduced, blocks: Blocks) -> None:
    slots = len(reduced.slot_state)
    if not slots:
        return
    states = np.array(reduced.slot_state, np.int64)
    bound = np.flatnonzero(states >= 0)
    row = np.concatenate([np.array(reduced.slot, np.int64), bound])
    column = np.concatenate([np.arange(len(reduced.slot)) + blocks.repairs, states[bound] + blocks.states])
    value = np.concatenate([np.ones(len(reduced.slot), np.int64), -np.ones(len(bound), np.int64)])
    rows.add(row, column, value, np.where(states >= 0, 0.0, 1.0))


def _state_rows(rows: _Rows, program: Program, blocks: Blocks) -> None:
    for members in _grouped([s.group for s in program.states]):
        at = np.array(members) + blocks.states
        rows.add(np.zeros(len(at), np.int64), at, np.ones(len(at), np.int64), np.ones(1), np.ones(1))
    for s, state in enumerate(program.states):
        for works, sign, high in ((state.on, -1, 0.0), (state.off, 1, 1.0)):
            for w in works:
                index = np.array([blocks.states + s, blocks.works + w])
                rows.add(np.zeros(2, np.int64), index, np.array([1, sign]), np.array([high]))
    for members in _grouped([w.group for w in program.works]):
        if len(members) > 1:
            at = np.array(members) + blocks.works
            rows.add(np.zeros(len(at), np.int64), at, np.ones(len(at), np.int64), np.ones(1))


def _grouped(groups: Sequence[int]) -> list[list[int]]:
    found: dict[int, list[int]] = {}
    for member, group in enumerate(groups):
        found.setdefault(group, []).append(member)
    return [members for _, members in sorted(found.items())]


def _cut_rows(rows: _Rows, program: Program, blocks: Blocks) -> None:
    """A flag is up when an item reaches the packs named; not all flags of a cut are up."""
    flag = blocks.flags
    for cut in program.cuts:
        for item, packs in cut:
            room = int(program.most[item]) - packs + 1
            index = np.array([blocks.packs + item, flag])
            rows.add(np.zeros(2, np.int64), index, np.array([1, -max(room, 0)]), np.array([packs - 1.0]))
            flag += 1
        at = np.arange(flag - len(cut), flag)
        rows.add(np.zeros(len(at), np.int64), at, np.ones(len(at), np.int64), np.array([len(cut) - 1.0]))


def _bounds(
    program: Program, reduced: Reduced, blocks: Blocks, owned: list[int]
) -> tuple[Floats, Floats, Floats, NDArray[np.bool_]]:
    lower, upper, objective = np.zeros(blocks.end), np.ones(blocks.end), np.zeros(blocks.end)
    lower[: blocks.owned], upper[: blocks.owned] = program.least, program.most
    upper[blocks.owned : blocks.lent] = program.owned[owned]
    upper[blocks.lent : blocks.flags] = np.inf
    objective[blocks.states : blocks.repairs] = [s.benefit for s in program.states]
    objective[blocks.repairs :] = reduced.benefit
    whole = np.ones(blocks.end, bool)
    whole[blocks.owned : blocks.flags] = False
    return lower, upper, objective, whole
