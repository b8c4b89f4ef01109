"""Programs with thousands of columns, answered by branching over linear relaxations, up to a count of branches.

With many weak points of few failures each the relaxation and its cuts say nearly everything; a general constraint solver then spends its time on the
linear part. With many failures of one weak point it is the other way round: this is only the first of two ways to a proof.
"""

from __future__ import annotations

import highspy
import numpy as np
from numpy.typing import NDArray

from fieldkit.hushed import hushed
from fieldkit.kit.matrix import Matrix, load
from fieldkit.kit.program import Ints
from fieldkit.kit.relax import SURE
from fieldkit.kit.solver import Found

Floats = NDArray[np.float64]

#: Branches after which the search ends with what it has. A count, never a clock: equal questions get equal answers.
MOST_BRANCHES = 200


def branched(
    table: Matrix, limits: Ints, lower: Floats | None = None, upper: Floats | None = None, share: float = 0.0
) -> Found | None:
    """A good answer and its bound, often the best and proven; None where no answer was found.

    Parameters are those of ``Model.ask``.
    """
    solver, columns = highspy.Highs(), len(table.objective)
    for name, value in (("output_flag", False), ("mip_rel_gap", share), ("mip_abs_gap", 1.0 - SURE)):
        solver.setOptionValue(name, value)
    solver.setOptionValue("mip_max_nodes", MOST_BRANCHES)
    load(solver, table)
    for row, limit in enumerate(limits.tolist()):
        solver.changeRowBounds(row, -np.inf, float(limit))
    every = np.arange(columns, dtype=np.int32)
    solver.changeColsBounds(columns, every, *table.bounds(lower, upper))
    solver.changeColsIntegrality(columns, every, np.full(columns, highspy.HighsVarType.kInteger.value, np.uint8))
    with hushed():
        solver.run()
    info = solver.getInfo()
    if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return None
    values = np.rint(np.array(solver.getSolution().col_value))
    objective = round(float(table.objective @ values))
    return Found(values, objective, max(objective, int(np.floor(-info.mip_dual_bound + SURE))))
