"""Exact answers sooner: columns that the linear relaxation settles are fixed before the search.

1. the relaxation gives a bound and what each column would cost to move off its bound (its reduced cost);
2. a search among the undecided columns alone gives a good answer quickly;
3. whatever would cost more to move than the distance between bound and answer cannot be part of a better one: fixed;
4. what is left is searched exactly; the answer of 2 stands where nothing better is left.

The argument is the usual one of reduced-cost fixing (Nemhauser and Wolsey, Integer and Combinatorial Optimization, section II.1.6; from
memory); every answer is still re-checked in whole numbers by the search.
"""

from __future__ import annotations

from dataclasses import replace

import highspy
import numpy as np
from numpy.typing import NDArray

from fieldkit.kit.matrix import Matrix, load
from fieldkit.kit.program import Ints
from fieldkit.kit.search import EXACT, Found, Search, answer

Floats = NDArray[np.float64]

#: Share of the bound by which columns count as undecided in the first, quick search.
FIRST_SHARE = 0.0002
#: The same for a near answer, and how near it has to be to the best among them.
NEAR_SHARE, NEAR_GAP = 0.00005, 0.005


def best_by_fixing(search: Search, limits: Ints | None = None, near: bool = False) -> Found | None:
    """The same answer as ``search.best``, with fewer columns to search.

    Parameters
    ----------
    limits : (resources,) or None
        Instead of the program's own.
    near : bool
        Stop after the first, quick search: its answer with the relaxation's bound.

    Returns
    -------
    Found or None
        None when there is no answer at all.
    """
    table = search.matrix
    high = table.upper_rows if limits is None else np.concatenate([limits, table.upper_rows[len(limits) :]])
    relaxed = _relaxed(table, high)
    if relaxed is None:
        return None
    bound, values, costs = relaxed
    share, gap = (NEAR_SHARE, NEAR_GAP) if near else (FIRST_SHARE, 0.0)
    first = _searched(_fixed(table, values, costs, share * max(bound, 1.0)), high, gap)
    if first is None:
        return search.best(limits=limits)
    whole = int(np.floor(bound + 1e-4))
    if near or first.objective >= whole:
        return Found(first.values, first.objective, max(first.objective, whole))
    rest = _fixed(table, values, costs, bound - first.objective + 1.0)
    better = search.best(rest, limits, first.values, hunt=False)
    if better is None or better.objective < first.objective:
        return Found(first.values, first.objective, first.objective)
    return better


def _searched(table: Matrix, high: Floats, gap: float) -> Found | None:
    """The best answer of a matrix within a share of its bound."""
    solver = highspy.Highs()
    for option, value in {**EXACT, "mip_rel_gap": gap}.items():
        solver.setOptionValue(option, value)
    load(solver, table, high, whole=True)
    solver.run()
    return answer(solver, table, high)


def _relaxed(table: Matrix, high: Floats) -> tuple[float, Floats, Floats] | None:
    """Bound, column values and reduced costs of the linear relaxation."""
    solver = highspy.Highs()
    solver.setOptionValue("output_flag", False)
    load(solver, table, high, whole=False)
    solver.run()
    if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
        return None
    solution = solver.getSolution()
    return -solver.getInfo().objective_function_value, np.array(solution.col_value), np.array(solution.col_dual)


def _fixed(table: Matrix, values: Floats, costs: Floats, distance: float) -> Matrix:
    """The matrix with every column held at the bound where it lies when moving it costs more than ``distance``."""
    at_lower = (np.abs(values - table.lower) < 1e-9) & (costs > distance)
    at_upper = (np.abs(values - table.upper) < 1e-9) & (-costs > distance)
    upper = np.where(at_lower, table.lower, table.upper)
    lower = np.where(at_upper, table.upper, table.lower)
    return replace(table, lower=lower, upper=upper)
