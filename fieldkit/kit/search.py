"""One program, many questions: hot linear relaxations and exact searches under changing limits and bounds.

A search keeps the matrix and a solver with its last basis. Every exact answer is whole numbers, re-checked against
every row without floating point before it is handed out.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import highspy
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array, vstack

from fieldkit.kit.matrix import Matrix, build_matrix, load
from fieldkit.kit.program import Ints, Program
from fieldkit.kit.reduce import Reduced, reduce

Floats = NDArray[np.float64]

#: Exact on whole-number objectives (less than one apart is equal), and small cut pools: quick on this kind of program.
EXACT: dict[str, bool | float | int] = {
    "output_flag": False,
    "mip_rel_gap": 0.0,
    "mip_abs_gap": 0.9,
    "mip_pool_soft_limit": 100,
    "mip_lp_age_limit": 3,
    "mip_pool_age_limit": 5,
}
#: With a good kit known already, the solver's own hunt for one only costs time.
NO_HUNT: dict[str, bool | float | int] = {
    "mip_heuristic_run_rins": False,
    "mip_heuristic_run_rens": False,
    "mip_heuristic_run_root_reduced_cost": False,
    "mip_heuristic_run_feasibility_jump": False,
}


@dataclass(frozen=True)
class Found:
    """Column values as whole numbers, objective and proven bound in the question's own terms."""

    values: Floats
    objective: int
    bound: int


class Unsound(RuntimeError):
    """A solver's answer broke a row when re-checked in whole numbers."""


class Search:
    """Questions to one program.

    Parameters
    ----------
    program : Program
    """

    def __init__(self, program: Program) -> None:
        self.program = program
        self.reduced: Reduced = reduce(program)
        self.matrix: Matrix = build_matrix(program, self.reduced)
        self._relaxed: highspy.Highs | None = None

    # ---------------------------------------------------------------- relaxation
    def relaxation(self, limits: Ints | None = None) -> tuple[float, Floats, Floats]:
        """Bound, column values and resource prices of the linear relaxation, from the last basis."""
        solver = self._relaxed or self._new_relaxed()
        self._relaxed = solver
        wanted = self.program.limits if limits is None else limits
        for row, limit in enumerate(wanted.tolist()):
            solver.changeRowBounds(row, -np.inf, float(limit))
        solver.run()
        if solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return -np.inf, np.zeros(0), np.zeros(0)
        solution = solver.getSolution()
        value = solver.getInfo().objective_function_value
        return -value, np.array(solution.col_value), -np.array(solution.row_dual[: len(wanted)])

    def _new_relaxed(self) -> highspy.Highs:
        solver = highspy.Highs()
        solver.setOptionValue("output_flag", False)
        load(solver, self.matrix, self.matrix.upper_rows, whole=False)
        return solver

    def held(self, least: Ints | None = None, most: Ints | None = None) -> Matrix:
        """The matrix with other fewest and most packs of each item."""
        items = len(self.program.items)
        lower, upper = self.matrix.lower.copy(), self.matrix.upper.copy()
        lower[:items] = lower[:items] if least is None else least
        upper[:items] = upper[:items] if most is None else most
        return replace(self.matrix, lower=lower, upper=upper)

    def packs(self, found: Found) -> Ints:
        """Packs of each item (items,)."""
        return found.values[: len(self.program.items)].astype(np.int64)

    # ---------------------------------------------------------------- exact
    def best(
        self, table: Matrix | None = None, limits: Ints | None = None, known: Floats | None = None, hunt: bool = True
    ) -> Found | None:
        """The best whole-number answer, or None when there is none.

        Parameters
        ----------
        table : Matrix or None
            A changed matrix (``dataclasses.replace``, ``with_rows``, ``with_flags``); the program's own when None. Its
            objective is maximised and must be whole numbers.
        limits : (resources,) or None
            Instead of the program's own.
        known : (columns,) or None
            An answer to start from.
        hunt : bool
            Whether the solver looks for good answers by itself beside branching.
        """
        table = self.matrix if table is None else table
        high = table.upper_rows if limits is None else np.concatenate([limits, table.upper_rows[len(limits) :]])
        solver = highspy.Highs()
        for option, value in {**EXACT, **({} if hunt else NO_HUNT)}.items():
            solver.setOptionValue(option, value)
        load(solver, table, high, whole=True)
        if known is not None:
            start = highspy.HighsSolution()
            start.col_value = known.tolist()
            solver.setSolution(start)
        solver.run()
        return answer(solver, table, high)


def answer(solver: highspy.Highs, table: Matrix, high: Floats) -> Found | None:
    status = solver.getModelStatus()
    if status == highspy.HighsModelStatus.kInfeasible:
        return None
    if status != highspy.HighsModelStatus.kOptimal:
        raise Unsound(f"the solver stopped with '{solver.modelStatusToString(status)}'")
    values = np.rint(np.array(solver.getSolution().col_value))
    check_rows(table, values, high)
    objective = round(float(table.objective @ values))
    bound = int(np.floor(-solver.getInfo().mip_dual_bound + 1e-4))
    return Found(values, objective, max(objective, bound))


def check_rows(table: Matrix, values: Floats, high: Floats) -> None:
    """Every row and bound in whole numbers.

    Raises
    ------
    Unsound
        If one is broken.
    """
    rows = csr_array((table.rows.data.astype(np.int64), table.rows.indices, table.rows.indptr), shape=table.rows.shape)
    got = rows @ values.astype(np.int64)
    if np.any(got > high) or np.any(got < table.lower_rows):
        raise Unsound("a row is broken when re-checked in whole numbers")
    if np.any(values > table.upper) or np.any(values < table.lower):
        raise Unsound("a bound is broken when re-checked in whole numbers")


def with_rows(table: Matrix, more: list[Floats], high: list[float]) -> Matrix:
    """The same matrix with further rows ``more @ x <= high``."""
    return replace(
        table,
        rows=csr_array(vstack([table.rows, csr_array(np.array(more))], format="csr")),
        lower_rows=np.concatenate([table.lower_rows, np.full(len(high), -np.inf)]),
        upper_rows=np.concatenate([table.upper_rows, np.array(high, float)]),
    )


def with_flags(table: Matrix, count: int) -> Matrix:
    """The same matrix with ``count`` further 0/1 columns that stand in no row yet."""
    rows, old = table.rows, table.rows.shape
    return replace(
        table,
        rows=csr_array((rows.data, rows.indices, rows.indptr), shape=(old[0], old[1] + count)),
        lower=np.concatenate([table.lower, np.zeros(count)]),
        upper=np.concatenate([table.upper, np.ones(count)]),
        objective=np.concatenate([table.objective, np.zeros(count)]),
        whole=np.concatenate([table.whole, np.ones(count, bool)]),
    )
