"""Solving the pure integer program: proven, re-checked in whole numbers, ties settled in stages."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fieldkit.errors import CannotBeSolved
from fieldkit.kit.program import Ints, Program, Solution
from fieldkit.kit.search import Search, with_row
from fieldkit.kit.solver import Found, Unsound

Floats = NDArray[np.float64]


def solve(program: Program, *, ties: bool = True) -> Solution:
    """The best kit, proven.

    1. the most hours saved;
    2. among those, the least of the first resource (weight);
    3. among those, the least of the program's money;
    4. among those, items whose names come first.

    Each stage is a search of its own, with the stages before as rows: no weights between them.

    Parameters
    ----------
    program : Program
    ties : bool
        Whether stages 2 to 4 run. Without them the answer is as good, but one of several equal ones.

    Raises
    ------
    CannotBeSolved
        If the packs that must be carried break a limit; names it, by how much, and the heaviest of them.

    Examples
    --------
    >>> from fieldkit.kit.program import Column, make_program
    >>> program = make_program(["a", "b", "c"], [0, 0, 0], ["mass"], [[400, 300, 300]], [600],
    ...     [Column(0, 50, {0: 1}), Column(1, 50, {1: 1}), Column(2, 20, {2: 1})])
    >>> solve(program).packs.tolist()
    [0, 1, 1]
    """
    check_limits(program)
    search = Search(program)
    found = search.best()
    if found is None:
        raise CannotBeSolved("No choice of packs and works meets the limits together.")
    return solution_of(search, settled(search, found) if ties else lightened(search, found))


def check_limits(program: Program) -> None:
    """Refuse limits that the packs which must be carried break.

    Raises
    ------
    CannotBeSolved
        Naming the limit, by how much, the heaviest causes and the least change.
    """
    taken = program.weights * program.least
    if program.money >= 0:
        taken[program.money] = program.weights[program.money] * np.maximum(0, program.least - program.owned)
    said = [
        _short(program, row, over, taken[row])
        for row, over in enumerate((taken.sum(axis=1) - program.limits).tolist())
        if over > 0
    ]
    if said:
        raise CannotBeSolved("No kit meets the limits: " + " ".join(said))


def _short(program: Program, row: int, over: int, taken: Ints) -> str:
    heavy = [i for i in np.argsort(-taken, kind="stable")[:3].tolist() if taken[i] > 0]
    causes = ", ".join(f"{program.items[i]} {taken[i]}" for i in heavy)
    said = f"'{program.resources[row]}' is {over} over its limit of {program.limits[row]}"
    return f"{said}{'; heaviest: ' + causes if causes else ''}; raise the limit by {over} or take as much out."


def settled(search: Search, found: Found) -> Found:
    """The best answer with ties settled: least weight, then least money, then least sum of places in the order of names.

    What is known already bounds each stage, and what it found the stages after it; the relaxation says where answers as good lie.
    """
    program, light, table = search.program, lightened(search, found), search.tight
    relaxed = search.relaxation.solve(program.limits)
    if relaxed is not None:
        lower, upper = relaxed.reaching(found.objective)
        table = replace(table, lower=lower, upper=upper)
    stages = [_over_items(search, program.weights[0])]
    if program.money > 0:
        stages.append(_paid(search))
    order = np.argsort(np.argsort(np.array(program.items), kind="stable"))
    stages.append(_over_items(search, order + 1))
    table, values = with_row(table, -table.objective, -light.objective), light.values
    for stage in stages:
        no_more = with_row(table, stage, float(stage @ values))
        best = search.other(replace(no_more, objective=-stage), hint=values)
        if best is None:
            raise Unsound("the solver lost an answer that it was given")
        values = best.values
        table = with_row(table, stage, float(stage @ values))
    return Found(values, found.objective, found.bound)


def lightened(search: Search, found: Found) -> Found:
    """The same repairs without packs that none of them takes, heaviest out first.

    What is lent or stands ready as a bundle for no repair is taken back first: it would hold packs of its own.
    """
    table, blocks, program = search.matrix, search.matrix.blocks, search.program
    rows = table.rows.tocsc()
    values = found.values.copy()
    room = table.upper_rows - table.rows @ values
    heaviest_first = np.argsort(-program.weights[0], kind="stable").tolist()
    for column in (*range(blocks.lent, blocks.flags), *range(blocks.bundles, blocks.works), *heaviest_first):
        if values[column] <= table.lower[column]:
            continue
        start, end = rows.indptr[column], rows.indptr[column + 1]
        index, coefficient = rows.indices[start:end], rows.data[start:end]
        holding = coefficient < 0
        spare = np.floor(room[index[holding]] / -coefficient[holding]).min(initial=values[column])
        fewer = min(spare, values[column] - table.lower[column])
        if fewer > 0:
            values[column] -= fewer
            room[index] += fewer * coefficient
    owned = np.array(table.part_owned, np.int64)
    values[blocks.owned : blocks.lent] = np.minimum(values[owned], program.owned[owned])
    return Found(values, found.objective, found.bound)


def _over_items(search: Search, weights: Ints) -> Floats:
    row = np.zeros(search.matrix.blocks.end)
    row[: search.matrix.blocks.owned] = weights
    return row


def _paid(search: Search) -> Floats:
    """The money row of the matrix: what is paid for packs and works."""
    return np.asarray(search.matrix.rows[[search.program.money]].toarray()[0], np.float64)


def solution_of(search: Search, found: Found) -> Solution:
    """A search's answer in the program's own terms, every limit checked again in whole numbers."""
    program, blocks, reduced = search.program, search.matrix.blocks, search.reduced
    values = found.values
    chosen = [c for j in np.flatnonzero(values[blocks.repairs :] > 0.5).tolist() for c in reduced.origin[j]]
    used = search.matrix.rows[: len(program.limits)] @ values
    return Solution(
        packs=values[: blocks.owned].astype(np.int64),
        chosen=np.array(sorted(chosen), np.int64),
        works=tuple(np.flatnonzero(values[blocks.works : blocks.states] > 0.5).tolist()),
        states=tuple(np.flatnonzero(values[blocks.states : blocks.repairs] > 0.5).tolist()),
        objective=found.objective,
        bound=found.bound,
        used=np.rint(used).astype(np.int64),
    )
