"""The program as sparse rows for the solver.

Column blocks, in order: packs of each item; packs that cost nothing because they are owned; stock lent by a stand-in;
one flag per entry of a cut; bundles (things that some repairs take together: there or not); works; states; repairs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import highspy
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
    bundles: int
    works: int
    states: int
    repairs: int
    end: int


@dataclass(frozen=True)
class Matrix:
    """Maximise ``objective`` x over whole numbers x between bounds with ``lower_rows`` <= ``rows`` x <= ``upper_rows``.

    Attributes
    ----------
    rows : csr, shape (rows, columns); the first rows are the program's resources, in order
    lower, upper, objective : arrays, shape (columns,)
    lower_rows, upper_rows : arrays, shape (rows,)
    part_owned : items that the block of owned packs is about
    lent : (pool, stand-in, item) that the block of lent stock is about
    bundles : (item, pieces) sets that the block of bundles is about
    """

    blocks: Blocks
    rows: csr_array
    lower_rows: Floats
    upper_rows: Floats
    lower: Floats
    upper: Floats
    objective: Floats
    part_owned: tuple[int, ...] = ()
    lent: tuple[tuple[int, int, int], ...] = ()
    bundles: tuple[tuple[tuple[int, int], ...], ...] = ()

    def bounds(self, lower: Floats | None, upper: Floats | None) -> tuple[Floats, Floats]:
        """Bounds of a question, (columns,) each: its own, where it has any, within the matrix's."""
        low = self.lower if lower is None else np.maximum(lower, self.lower)
        high = self.upper if upper is None else np.minimum(upper, self.upper)
        return low, high

    def ends(self, limits: Ints) -> Floats:
        """Upper ends of the rows under these limits, (rows,)."""
        return np.concatenate([limits, self.upper_rows[len(limits) :]])

    def keeps(self, values: Floats, limits: Ints, lower: Floats | None = None, upper: Floats | None = None) -> bool:
        """Whether column values keep every row under these limits, and every bound, added up in whole numbers."""
        rows = csr_array((self.rows.data.astype(np.int64), self.rows.indices, self.rows.indptr), shape=self.rows.shape)
        got, (low, high) = rows @ values.astype(np.int64), self.bounds(lower, upper)
        kept = (got <= self.ends(limits)).all() and (got >= self.lower_rows).all()
        return bool(kept and (values >= low).all() and (values <= high).all())

    def worth(self, reduced: Reduced) -> Matrix:
        """The same rows where repairs save what a reduced program's columns do."""
        objective = self.objective.copy()
        objective[self.blocks.repairs :] = reduced.benefit
        return replace(self, objective=objective)


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
    5. one state per class, in force exactly with its works; one work per group; works that are required; cuts.
    """
    owned, lent = _part_owned(program), _lendings(program, reduced)
    presence = _presence(program, reduced)
    bundles = sorted({p.items for p in presence if len(p.items) > 1})
    blocks = _blocks(program, reduced, len(owned), len(lent), len(bundles))
    rows = _Rows()
    _limit_rows(rows, program, blocks, owned)
    _owned_rows(rows, blocks, owned)
    _presence_rows(rows, program, blocks, presence, bundles)
    _stock_rows(rows, program, blocks, reduced, lent)
    _slot_rows(rows, reduced, blocks)
    _state_rows(rows, program, blocks)
    _cut_rows(rows, program, blocks)
    matrix, low, high = rows.csr(blocks.end)
    return Matrix(
        blocks, matrix, low, high, *_bounds(program, reduced, blocks, owned), tuple(owned), tuple(lent), tuple(bundles)
    )


def _blocks(program: Program, reduced: Reduced, owned: int, lent: int, bundles: int) -> Blocks:
    flags = sum(len(cut) for cut in program.cuts)
    sizes = [
        len(program.items),
        owned,
        lent,
        flags,
        bundles,
        len(program.works),
        len(program.states),
        len(reduced.benefit),
    ]
    return Blocks(*np.concatenate([[0], np.cumsum(sizes)]).tolist())


def _part_owned(program: Program) -> list[int]:
    """Items of which only some of the packs that may be carried are owned."""
    if program.money < 0:
        return []
    costs = program.weights[program.money] > 0
    return np.flatnonzero(costs & (program.owned > 0) & (program.owned < program.most)).tolist()


def _lendings(program: Program, reduced: Reduced) -> list[tuple[int, int, int]]:
    """(pool, stand-in, item) where stock of one may be used as the other."""
    used = {(reduced.slot_pool[reduced.slot[j]], i) for j, (_, stock) in enumerate(reduced.needs) for i, _ in stock}
    return [
        (pool, other, item)
        for pool, item in sorted(used)
        for other in program.stand_ins[item]
        if program.pack[other] > 0
    ]


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
class _Presence:
    """Repairs of one slot that all need the same things: columns, how often, and ((item, pieces), ...)."""

    columns: tuple[int, ...]
    items: tuple[tuple[int, int], ...]


def _presence(program: Program, reduced: Reduced) -> list[_Presence]:
    """Per slot and set of its repairs, what just these repairs need.

    Stock that a repair takes counts too, in whole packs: without it a fraction of a pack would serve. Where
    the repairs of a slot need different numbers of an item, each number is a thing of its own.
    """
    needed: dict[tuple[int, int, int], list[int]] = {}
    for j, (tools, stock) in enumerate(reduced.needs):
        wanted = dict(tools)
        for item, units in stock:
            wanted[item] = max(wanted.get(item, 0), _packs(program, item, units))
        for item, pieces in wanted.items():
            needed.setdefault((reduced.slot[j], item, pieces), []).append(j)
    together: dict[tuple[int, tuple[int, ...]], list[tuple[int, int]]] = {}
    for (slot, item, pieces), columns in needed.items():
        together.setdefault((slot, tuple(columns)), []).append((item, pieces))
    return [_Presence(columns, tuple(sorted(items))) for (_, columns), items in together.items()]


def _packs(program: Program, item: int, units: int) -> int:
    """Packs that must be there for so much stock: whole ones, where what may stand in comes in packs of the same size."""
    sizes = {int(program.pack[i]) for i in _suppliers(program, item)}
    return -(-units // sizes.pop()) if len(sizes) == 1 else 1


def _presence_rows(
    rows: _Rows,
    program: Program,
    blocks: Blocks,
    presence: list[_Presence],
    bundles: list[tuple[tuple[int, int], ...]],
) -> None:
    """A slot takes one repair: all its repairs that need a thing together are at most that thing.

    Pieces x the sum of the repairs that need them <= packs there, stand-ins included; for several things the sum is at
    most their bundle, and the bundle at most each of them.
    """
    at = {bundle: blocks.bundles + n for n, bundle in enumerate(bundles)}
    entries: list[tuple[int, int, int]] = []
    count = 0
    for part in presence:
        pieces = part.items[0][1] if len(part.items) == 1 else 1
        entries += [(count, blocks.repairs + j, pieces) for j in part.columns]
        if len(part.items) == 1:
            entries += [(count, blocks.packs + i, -1) for i in _suppliers(program, part.items[0][0])]
        else:
            entries.append((count, at[part.items], -1))
        count += 1
    for bundle in bundles:
        for item, pieces in bundle:
            entries.append((count, at[bundle], pieces))
            entries += [(count, blocks.packs + i, -1) for i in _suppliers(program, item)]
            count += 1
    if entries:
        table = np.array(entries, np.int64)
        rows.add(table[:, 0], table[:, 1], table[:, 2], np.zeros(count))


def _suppliers(program: Program, item: int) -> tuple[int, ...]:
    return (item, *program.stand_ins[item])


def _stock_rows(
    rows: _Rows, program: Program, blocks: Blocks, reduced: Reduced, lent: list[tuple[int, int, int]]
) -> None:
    """In every pool: units used + lent away <= units carried + borrowed; what is lent away is carried, not borrowed."""
    at: dict[tuple[int, int], int] = {}
    entries: list[tuple[int, int, int]] = []
    for j, (_, stock) in enumerate(reduced.needs):
        pool = reduced.slot_pool[reduced.slot[j]]
        entries += [(at.setdefault((pool, i), len(at)), blocks.repairs + j, n) for i, n in stock]
    for n, (pool, other, item) in enumerate(lent):
        entries.append((at.setdefault((pool, other), len(at)), blocks.lent + n, 1))
        entries.append((at.setdefault((pool, item), len(at)), blocks.lent + n, -1))
    entries += [(row, blocks.packs + item, -int(program.pack[item])) for (_, item), row in at.items()]
    count = len(at)
    for pool, other in sorted({(p, o) for p, o, _ in lent} & {(p, i) for p, _, i in lent}):
        entries += [(count, blocks.lent + n, 1) for n, (p, o, _) in enumerate(lent) if (p, o) == (pool, other)]
        entries.append((count, blocks.packs + other, -int(program.pack[other])))
        count += 1
    if entries:
        table = np.array(entries, np.int64)
        rows.add(table[:, 0], table[:, 1], table[:, 2], np.zeros(count))


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
    for wanted in program.required:
        at = np.array(wanted) + blocks.works
        rows.add(np.zeros(len(at), np.int64), at, -np.ones(len(at), np.int64), -np.ones(1))


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


def _bounds(program: Program, reduced: Reduced, blocks: Blocks, owned: list[int]) -> tuple[Floats, Floats, Floats]:
    lower, upper, objective = np.zeros(blocks.end), np.ones(blocks.end), np.zeros(blocks.end)
    lower[: blocks.owned], upper[: blocks.owned] = program.least, program.most
    upper[blocks.owned : blocks.lent] = program.owned[owned]
    upper[blocks.lent : blocks.flags] = program.pack.max(initial=0) * program.most.max(initial=0)
    objective[blocks.states : blocks.repairs] = [s.benefit for s in program.states]
    objective[blocks.repairs :] = reduced.benefit
    return lower, upper, objective


def load(solver: highspy.Highs, table: Matrix) -> None:
    """Give the solver a matrix with its own right-hand sides, relaxed."""
    model = highspy.HighsLp()
    model.num_col_, model.num_row_ = len(table.objective), len(table.upper_rows)
    model.col_cost_ = -table.objective
    model.col_lower_, model.col_upper_ = table.lower, table.upper
    model.row_lower_, model.row_upper_ = table.lower_rows, table.upper_rows
    model.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    model.a_matrix_.start_ = table.rows.indptr
    model.a_matrix_.index_ = table.rows.indices
    model.a_matrix_.value_ = table.rows.data
    solver.passModel(model)
