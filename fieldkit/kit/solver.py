"""Whole-number programs answered with a proof, by a general constraint solver with linear relaxations underneath.

Asked with one thread, fixed settings and an effort that is counted, never timed: equal questions get equal answers. Bounds are
proven in whole numbers, and every answer is checked again by the caller's own rows.
"""

from __future__ import annotations

from collections.abc import Sequence
from copy import copy
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from ortools.sat.python import cp_model

from fieldkit.kit.matrix import Matrix
from fieldkit.kit.program import Ints

Floats = NDArray[np.float64]

#: Full use of the relaxation and its rounding cuts; what only costs time on programs of shared tools is off.
SETTINGS: dict[str, int | bool] = {
    "num_workers": 1,
    "linearization_level": 2,
    "cp_model_probing_level": 0,
    "symmetry_level": 0,
    "max_presolve_iterations": 1,
    "add_cg_cuts": False,
    "new_constraints_batch_size": 20,
    "use_implied_bounds": False,
    "use_sat_inprocessing": False,
    "catch_sigint_signal": False,
}
#: Any whole number, as the solver writes it.
LEAST, MOST = cp_model.INT_MIN, cp_model.INT_MAX


class Unsound(RuntimeError):
    """A solver's answer broke a row when re-checked in whole numbers, or it refused the question."""


@dataclass(frozen=True)
class Found:
    """Column values as whole numbers, objective and proven bound in the question's own terms.

    Where the search ended before any answer was found: no values, objective -1.
    """

    values: Floats
    objective: int
    bound: int

    @property
    def short(self) -> int:
        """What no answer betters this one by more than; 0: it is proven."""
        return self.bound - self.objective


class Model:
    """The rows of one matrix, asked many times under other limits and bounds.

    Parameters
    ----------
    table : Matrix
        Everything whole; its objective is maximised.
    limits : int
        How many of the first rows are limits that a question may change.
    """

    def __init__(self, table: Matrix, limits: int) -> None:
        self.table, self.limits = table, limits
        self._base = cp_model.CpModel()
        form = self._base.proto
        for low, high in zip(_whole(table.lower), _whole(table.upper), strict=True):
            form.variables.add().domain.extend([low, high])
        ends = table.upper_rows.copy()
        ends[:limits] = np.inf
        columns, values, starts = table.rows.indices.tolist(), _whole(table.rows.data), table.rows.indptr.tolist()
        for start, end, low, most in zip(starts, starts[1:], _whole(table.lower_rows), _whole(ends), strict=False):
            _add_row(form, columns[start:end], values[start:end], low, most)
        _set_objective(form, table.objective)

    def worth(self, table: Matrix) -> Model:
        """The same rows where the columns are worth what this table, else the same, says."""
        other = copy(self)
        other.table, other._base = table, self._base.clone()
        other._base.proto.clear_objective()
        _set_objective(other._base.proto, table.objective)
        return other

    def _row(self, row: int) -> tuple[list[int], list[int]]:
        rows = self.table.rows
        start, end = rows.indptr[row], rows.indptr[row + 1]
        return rows.indices[start:end].tolist(), _whole(rows.data[start:end])

    def ask(
        self,
        limits: Sequence[int] | Ints,
        lower: Floats | None = None,
        upper: Floats | None = None,
        hint: Floats | None = None,
        share: float = 0.0,
        effort: float | None = None,
    ) -> Found | None:
        """The best answer, or None when there is none.

        Parameters
        ----------
        limits : (limits,)
            Right-hand sides of the first rows.
        lower, upper : (columns,) or None
            Bounds within the matrix's own.
        hint : (columns,) or None
            Where to begin; an answer already, or near one.
        share : float
            Stop within this share of the bound.
        effort : float or None
            The solver's own count of its work, about a second for each unit or two; None: until it is proven.
        """
        model = self._base.clone()
        _bound(model.proto, self.table, lower, upper)
        for row, limit in enumerate(np.asarray(limits).tolist()):
            _set_limit(model.proto, row, int(limit))
        found, bound = _solve(model, hint, share, effort)
        if found is None:
            return None if bound is None else Found(np.zeros(0), -1, bound)
        values = np.array(found[: len(self.table.objective)], float)
        objective = round(float(self.table.objective @ values))
        return Found(values, objective, objective if bound is None else max(objective, bound))

    def above(
        self,
        limits: Sequence[int] | Ints,
        row: int,
        budgets: Sequence[int],
        kits: Sequence[Found],
        effort: float | None = None,
        lower: Floats | None = None,
        upper: Floats | None = None,
    ) -> tuple[list[Floats], int]:
        """One question about many budgets of one limit: does any kit of theirs save more than the one known, by more than so much?

        Where there is none, to show just that is all the work: the answers known only show the way.

        Parameters
        ----------
        limits : (limits,)
        row : int
            Index of the limit that changes.
        budgets : whole numbers, rising
        kits : the answer known for each budget.
        lower, upper : (columns,) or None
            Bounds within the matrix's own that every such kit keeps.

        Returns
        -------
        better : list of (columns,)
            Answers that better the one known for a budget of their size as they were found; the last one by most.
        more : int
            What no answer betters a known one by more than; 0 when all of them are proven.
        """
        model = self._base.clone()
        form, size, last = model.proto, len(self.table.objective), budgets[-1]
        for other, limit in enumerate(np.asarray(limits).tolist()):
            if other != row:
                _set_limit(form, other, int(limit))
        _bound(form, self.table, lower, upper)
        picks = list(range(size, size + len(budgets)))
        for _ in picks:
            form.variables.add().domain.extend([0, 1])
        _add_row(form, picks, [1] * len(picks), 1, 1)
        columns, values = self._row(row)
        _add_row(form, [*columns, *picks], [*values, *(last - b for b in budgets)], LEAST, last)
        form.objective.vars.extend(picks)
        form.objective.coeffs.extend([k.objective for k in kits])
        form.objective.domain.extend([LEAST, -1])
        start = np.concatenate([kits[0].values, [1.0], np.zeros(len(budgets) - 1)])
        seen = _Seen()
        found, bound = _solve(model, start, 0.0, effort, seen)
        if found is None:
            return [], 0 if bound is None else max(0, bound)
        gains = [
            round(float(self.table.objective @ answer[:size])) - kits[int(np.argmax(answer[size:]))].objective
            for answer in seen.values
        ]
        return [answer[:size] for answer in seen.values], max(gains) if bound is None else max(*gains, bound)


class _Seen(cp_model.CpSolverSolutionCallback):
    """Every answer on the way to the best."""

    def __init__(self) -> None:
        super().__init__()
        self.values: list[Floats] = []

    def on_solution_callback(self) -> None:
        self.values.append(np.array(self.response_proto.solution, float))


def _solve(
    model: cp_model.CpModel,
    hint: Floats | None,
    share: float,
    effort: float | None,
    seen: _Seen | None = None,
) -> tuple[list[int] | None, int | None]:
    """Values of the best answer found, None for none, and the bound on the objective, None where it is proven."""
    if hint is not None:
        model.proto.solution_hint.vars.extend(range(len(hint)))
        model.proto.solution_hint.values.extend(_whole(hint))
    solver = cp_model.CpSolver()
    for name, value in SETTINGS.items():
        setattr(solver.parameters, name, value)
    if share > 0:
        solver.parameters.relative_gap_limit = share
    if effort is not None:
        solver.parameters.max_deterministic_time = effort
    status = solver.solve(model, seen)
    if status == cp_model.INFEASIBLE:
        return None, None
    bound = int(np.floor(-solver.best_objective_bound + 1e-6))
    if status == cp_model.UNKNOWN:
        return None, bound
    if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        raise Unsound(f"the solver stopped with '{solver.status_name(status)}'")
    return list(solver.response_proto.solution), None if status == cp_model.OPTIMAL and share <= 0 else bound


def _add_row(form: cp_model.CpModelProto, columns: list[int], values: list[int], low: int, high: int) -> None:
    row = form.constraints.add().linear
    row.vars.extend(columns)
    row.coeffs.extend(values)
    row.domain.extend([low, high])


def _set_objective(form: cp_model.CpModelProto, objective: Floats) -> None:
    """To maximise; the solver's form is to minimise."""
    form.objective.vars.extend(np.flatnonzero(objective).tolist())
    form.objective.coeffs.extend([-v for v in _whole(objective[objective != 0])])


def _set_limit(form: cp_model.CpModelProto, row: int, limit: int) -> None:
    form.constraints[row].linear.domain[1] = limit


def _bound(form: cp_model.CpModelProto, table: Matrix, lower: Floats | None, upper: Floats | None) -> None:
    low, high = table.bounds(lower, upper)
    for column in np.flatnonzero((low != table.lower) | (high != table.upper)).tolist():
        domain = form.variables[column].domain
        domain[0], domain[1] = int(low[column]), int(high[column])


def _whole(values: Floats) -> list[int]:
    """Whole numbers for the solver; the infinite ones at its own ends."""
    whole: list[int] = np.where(np.isfinite(values), values, 0.0).astype(np.int64).tolist()
    for n in np.flatnonzero(np.isinf(values)).tolist():
        whole[n] = MOST if values[n] > 0 else LEAST
    return whole
