"""A trip's whole kit program as anybody would write it, for a second solver: no reductions, no bundles, one row for each thing said.

Written apart from the package's own matrix, from the program's meaning alone: packs carried and paid for, stand-ins, stock
lent, tools, slots, limits. For programs without works and with one pool.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array, lil_array

from fieldkit.kit.program import Program

Floats = NDArray[np.float64]


def second_optimum(program: Program, budget: int, row: int = 0) -> int:
    """The best objective [0.001 h] under another limit, by scipy's solver with gap 0."""
    cost, table, high, least, most = _rows(program, budget, row)
    found = milp(
        cost,
        constraints=LinearConstraint(table, -np.inf, high),
        bounds=Bounds(least, most),
        integrality=np.ones(len(cost)),
        options={"mip_rel_gap": 0.0},
    )
    assert found.status == 0
    return -round(float(found.fun))


def _rows(program: Program, budget: int, row: int) -> tuple[Floats, csr_array, Floats, Floats, Floats]:
    """Cost, rows with their right-hand sides, least and most of each column: packs, packs paid for, repairs, stock lent."""
    assert not program.works
    assert not program.states
    assert not program.cuts
    assert not program.slot_pool.any()
    items, repairs = len(program.items), len(program.benefit)
    used = sorted(set(program.stock.item.tolist()))
    loans = [(lender, item) for item in used for lender in program.stand_ins[item] if program.pack[lender] > 0]
    paid, done, lent, size = items, 2 * items, 2 * items + repairs, 2 * items + repairs + len(loans)
    lines: list[tuple[dict[int, float], float]] = []
    for r in range(len(program.limits)):
        first = paid if r == program.money else 0
        limit = budget if r == row else int(program.limits[r])
        lines.append(({first + i: float(w) for i, w in enumerate(program.weights[r].tolist()) if w}, float(limit)))
    for i in range(items):  # what is carried beyond what is owned is paid for
        lines.append(({i: 1.0, paid + i: -1.0}, float(program.owned[i])))
    tools = program.tools
    for j, i, n in zip(tools.column.tolist(), tools.item.tolist(), tools.amount.tolist(), strict=True):
        lines.append(({done + j: float(n), **dict.fromkeys((i, *program.stand_ins[i]), -1.0)}, 0.0))
    stock = program.stock
    for item in sorted({*used, *(lender for lender, _ in loans)}):
        line = {item: -float(program.pack[item])}
        for j, i, n in zip(stock.column.tolist(), stock.item.tolist(), stock.amount.tolist(), strict=True):
            if i == item:
                line[done + j] = line.get(done + j, 0.0) + n
        for n, (lender, borrower) in enumerate(loans):
            if lender == item:
                line[lent + n] = line.get(lent + n, 0.0) + 1.0
            if borrower == item:
                line[lent + n] = line.get(lent + n, 0.0) - 1.0
        lines.append((line, 0.0))
    for lender in sorted({a for a, _ in loans}):  # lent is what is carried, never what is borrowed
        line = {lent + n: 1.0 for n, (a, _) in enumerate(loans) if a == lender}
        lines.append(({**line, lender: -float(program.pack[lender])}, 0.0))
    for slot in range(int(program.slot.max()) + 1):
        lines.append(({done + int(j): 1.0 for j in np.flatnonzero(program.slot == slot)}, 1.0))
    table = lil_array((len(lines), size))
    for n, (line, _) in enumerate(lines):
        for column, value in line.items():
            table[n, column] = value
    cost = np.zeros(size)
    cost[done:lent] = -program.benefit
    least, most = np.zeros(size), np.full(size, np.inf)
    least[:items], most[:items], most[done:lent] = program.least, program.most, 1.0
    most[lent:] = [float(program.pack[a] * program.most[a]) for a, _ in loans]
    most[paid:done] = program.most
    high = np.array([h for _, h in lines])
    return cost, csr_array(table), high, least, most
