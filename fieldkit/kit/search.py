"""One program, many questions: hot linear relaxations and exact searches under changing limits and bounds.

A search keeps the matrix and a solver with its last basis. Every exact answer is whole numbers, re-checked against
every row without floating point before it is handed out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import highspy
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array, vstack

from fieldkit.hushed import hushed
from fieldkit.kit.branch import Tree
from fieldkit.kit.fill import Filler
from fieldkit.kit.matrix import Matrix, build_matrix, load
from fieldkit.kit.program import Ints, Program
from fieldkit.kit.reduce import Reduced, reduce

Floats = NDArray[np.float64]

#: Exact on whole-number objectives (less than one apart is equal), and small cut pools: quick on this kind of program.
EXACT: dict[str, bool | float | int | str] = {
    "output_flag": False,
    "mip_rel_gap": 0.0,
    "mip_abs_gap": 0.9,
    "mip_pool_soft_limit": 100,
    "mip_lp_age_limit": 3,
    "mip_pool_age_limit": 5,
}
#: With a good kit known already, the solver's own hunt for one only costs time.
NO_HUNT: dict[str, bool | float | int | str] = {
    "mip_heuristic_run_rins": False,
    "mip_heuristic_run_rens": False,
    "mip_heuristic_run_root_reduced_cost": False,
    "mip_heuristic_run_feasibility_jump": False,
}
#: With works in, both take longer than they save, and the answers found without them are nearer the bound.
WITH_WORKS: dict[str, bool | float | int | str] = {"presolve": "off", "mip_heuristic_run_root_reduced_cost": False}

#: Relaxations of our own branch and cut before the library's is asked, and the gap from which that one hunts for answers too.
EXACT_SOLVES, FAR = 300, 0.003


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

    @cached_property
    def tree(self) -> Tree:
        """The program's own branch and cut; keeps what it learns."""
        blocks = self.matrix.blocks
        first = np.zeros(blocks.end, bool)
        first[: blocks.owned] = True
        first[blocks.flags : blocks.bundles] = True
        first[blocks.works : blocks.states] = True
        fill = None if self.program.works else self.filler.from_fraction
        return Tree(self.matrix, len(self.program.limits), first, fill)

    @cached_property
    def filler(self) -> Filler:
        """Quick whole-number answers, for programs without works."""
        return Filler(self.program, self.reduced, self.matrix)

    # -------------------------------------------------------------------- answers
    def exact(
        self,
        limits: Ints | None = None,
        known: Sequence[Floats] = (),
        lower: Floats | None = None,
        upper: Floats | None = None,
    ) -> Found | None:
        """The best answer, proven: by our own branch and cut, by the library's where that takes too long. None: there is none.

        Parameters
        ----------
        limits : (resources,) or None
            Instead of the program's own.
        known : answers to start from.
        lower, upper : (columns,) or None
            Bounds within the matrix's own.
        """
        near = self.near(limits, known, lower, upper, EXACT_SOLVES)
        if near is None or near.bound <= near.objective:
            return near
        table = replace(
            self.matrix,
            lower=self.matrix.lower if lower is None else np.maximum(lower, self.matrix.lower),
            upper=self.matrix.upper if upper is None else np.minimum(upper, self.matrix.upper),
        )
        far = near.bound - near.objective > FAR * near.bound
        return self.best(table, limits, near.values if near.objective >= 0 else None, hunt=far)

    def near(
        self,
        limits: Ints | None = None,
        known: Sequence[Floats] = (),
        lower: Floats | None = None,
        upper: Floats | None = None,
        solves: int = 60,
    ) -> Found | None:
        """A good answer with a proven bound after so many relaxations; None when there is none.

        An answer of objective -1 and no values: none was found, though there may be one.
        """
        wanted = self.program.limits if limits is None else np.asarray(limits, np.int64)
        budget = int(wanted[0])
        best = self.tree.search(wanted.astype(float), 0, [budget], known, lower, upper, solves)[budget]
        if best.values is None:
            return None if best.proven else Found(np.zeros(0), -1, best.bound)
        return Found(best.values, best.objective, best.bound)

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
        self,
        table: Matrix | None = None,
        limits: Ints | None = None,
        known: Floats | None = None,
        hunt: bool = True,
        share: float = 0.0,
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
        share : float
            Stop within this share of the bound; the bound is then above the answer.
        """
        table = self.matrix if table is None else table
        high = table.upper_rows if limits is None else np.concatenate([limits, table.upper_rows[len(limits) :]])
        solver = highspy.Highs()
        how = {**EXACT, **({} if hunt else NO_HUNT), **(WITH_WORKS if self.program.works else {}), "mip_rel_gap": share}
        for option, value in how.items():
            solver.setOptionValue(option, value)
        load(solver, table, high, whole=True)
        if known is not None:
            start = highspy.HighsSolution()
            start.col_value = known.tolist()
            solver.setSolution(start)
        with hushed():
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
