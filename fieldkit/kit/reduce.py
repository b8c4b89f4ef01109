"""A smaller program with the same best kits: what can be settled before any solver sees it.

1. Tools that are carried anyway are no condition; repairs whose tools cannot be there, or that save nothing, are dropped.
2. Stock that cannot run out, whatever fails, is only a matter of presence: it becomes a tool.
3. A repair that saves no more than another for the same failure and takes at least as much is dropped.
4. Failures that take the same tools, and rank them alike, are answered alike: their slots become one.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from fieldkit.kit.program import Ints, Program, most_units

#: A column's needs: tools as ((item, pieces), ...) and stock as ((item, units), ...), both sorted.
Needs = tuple[tuple[tuple[int, int], ...], tuple[tuple[int, int], ...]]


@dataclass(frozen=True)
class Reduced:
    """Columns left after reduction.

    ``benefit``, ``slot``, ``needs`` by column; ``origin``: per column the program's columns that it stands for;
    ``slot_state``, ``slot_pool`` by slot.
    """

    benefit: list[int]
    slot: list[int]
    needs: list[Needs]
    origin: list[tuple[int, ...]]
    slot_state: list[int]
    slot_pool: list[int]

    def worth(self, benefit: Ints) -> Reduced:
        """The same columns where the program's save ``benefit``; what was dropped for saving too little stays out."""
        return replace(self, benefit=[int(benefit[list(columns)].sum()) for columns in self.origin])


def reduce(program: Program) -> Reduced:
    """The program's columns, fewer.

    Examples
    --------
    Two tyres that take the same plug kit become one decision:

    >>> from fieldkit.kit.program import Column, make_program
    >>> program = make_program(["plugs"], [0], ["mass"], [[1500]], [2000],
    ...     [Column(0, 400, {0: 1}), Column(1, 300, {0: 1})])
    >>> reduce(program).benefit
    [700]
    """
    needs = _needs(program)
    impossible = _impossible(program)
    benefit = program.benefit.tolist()
    by_slot: dict[int, list[int]] = {}
    for column, slot in enumerate(program.slot.tolist()):
        if column not in impossible and benefit[column] > 0:
            by_slot.setdefault(slot, []).append(column)
    kept = {slot: _undominated(columns, benefit, needs) for slot, columns in by_slot.items()}
    return _merged(program, kept, benefit, needs)


def _needs(program: Program) -> list[Needs]:
    tools: list[dict[int, int]] = [{} for _ in program.benefit]
    stock: list[dict[int, int]] = [{} for _ in program.benefit]
    for column, item, count in _rows(program.tools):
        tools[column][item] = max(count, tools[column].get(item, 0))
    endless = _endless(program)
    for column, item, units in _rows(program.stock):
        if item in endless:
            packs = max(1, -(-units // int(program.pack[item])))
            tools[column][item] = max(packs, tools[column].get(item, 0))
        else:
            stock[column][item] = units
    there = program.least.tolist()
    tools = [{i: n for i, n in t.items() if n > there[i]} for t in tools]
    return [(tuple(sorted(t.items())), tuple(sorted(s.items()))) for t, s in zip(tools, stock, strict=True)]


def _impossible(program: Program) -> set[int]:
    """Columns that need more of an item than may be carried, stand-ins included."""
    reach, units = program.most.copy(), program.most * program.pack
    for item, others in enumerate(program.stand_ins):
        reach[item] += program.most[list(others)].sum()
        units[item] += (program.most * program.pack)[list(others)].sum()
    tools, stock = program.tools, program.stock
    lacking = tools.column[tools.amount > reach[tools.item]], stock.column[stock.amount > units[stock.item]]
    return set(np.concatenate(lacking).tolist())


def _rows(entries: object) -> Iterable[tuple[int, int, int]]:
    columns, items, amounts = entries.column, entries.item, entries.amount  # type: ignore[attr-defined]
    return zip(columns.tolist(), items.tolist(), amounts.tolist(), strict=True)


def _endless(program: Program) -> set[int]:
    """Items of which one pack covers all that could ever be used, by itself or standing in for others."""
    stands = {i for others in program.stand_ins for i in others}
    most = most_units(len(program.items), program.stock, program.slot, program.slot_pool)
    return {
        item
        for item in np.unique(program.stock.item).tolist()
        if most[item] <= program.pack[item] and item not in stands and not program.stand_ins[item]
    }


def _undominated(columns: list[int], benefit: list[int], needs: list[Needs]) -> list[int]:
    """Columns of one slot, best first, without those that a better one makes idle."""
    ordered = sorted(columns, key=lambda j: (-benefit[j], len(needs[j][0]) + len(needs[j][1]), needs[j], j))
    kept: list[int] = []
    tables: list[tuple[dict[int, int], dict[int, int]]] = []
    for column in ordered:
        tools, stock = dict(needs[column][0]), dict(needs[column][1])
        if not any(_within(t, tools) and _within(s, stock) for t, s in tables):
            kept.append(column)
            tables.append((tools, stock))
    return kept


def _within(small: dict[int, int], large: dict[int, int]) -> bool:
    return len(small) <= len(large) and all(large.get(i, 0) >= n for i, n in small.items())


def _merged(program: Program, kept: dict[int, list[int]], benefit: list[int], needs: list[Needs]) -> Reduced:
    groups: dict[object, list[list[int]]] = {}
    states = program.slot_state.tolist()
    for slot in sorted(kept):
        columns = kept[slot]
        alike = not any(needs[j][1] for j in columns)
        key = (states[slot], tuple(needs[j] for j in columns)) if alike else slot
        groups.setdefault(key, []).append(columns)
    result = Reduced([], [], [], [], [], [])
    for slot, members in enumerate(groups.values()):
        first = int(program.slot[members[0][0]])
        result.slot_state.append(states[first])
        result.slot_pool.append(int(program.slot_pool[first]))
        for ranked in zip(*members, strict=True):
            result.benefit.append(sum(benefit[j] for j in ranked))
            result.slot.append(slot)
            result.needs.append(needs[ranked[0]])
            result.origin.append(tuple(ranked))
    return result
