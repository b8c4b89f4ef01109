"""One program, many questions under changing limits and bounds: relaxed, nearly, or to a proof.

Every answer is whole numbers, re-checked against every row without floating point before it is handed out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array, vstack

from fieldkit.kit.fill import Filler
from fieldkit.kit.matrix import Matrix, build_matrix
from fieldkit.kit.program import Ints, Program
from fieldkit.kit.reduce import Reduced, reduce
from fieldkit.kit.relax import ROUNDS, Relaxation, Relaxed, around
from fieldkit.kit.solver import Found, Model, Unsound

Floats = NDArray[np.float64]

#: Share of the distance between a good answer and the bound within which a better one is looked for first, and the solver's most work on that.
NEAR, NEAR_EFFORT = 0.05, 4.0


class Search:
    """Questions to one program.

    Parameters
    ----------
    program : Program
    rounds : int
        Times that the relaxation is tightened by rounding under the program's own limits; 0 where a look is all that is wanted.
    """

    def __init__(self, program: Program, rounds: int = ROUNDS) -> None:
        self.program, self.rounds = program, rounds
        self.reduced: Reduced = reduce(program)
        self.matrix: Matrix = build_matrix(program, self.reduced)

    @cached_property
    def model(self) -> Model:
        """The program as the exact solver sees it, with the rows that rounding finds at the program's own limits."""
        return Model(self.relaxation.tight, len(self.program.limits))

    @cached_property
    def relaxation(self) -> Relaxation:
        """The program's linear relaxation; keeps its last basis."""
        return Relaxation(self.matrix, self.program.limits, self.rounds)

    @cached_property
    def filler(self) -> Filler:
        """Quick whole-number answers, for programs without works."""
        return Filler(self.program, self.reduced, self.matrix)

    # -------------------------------------------------------------------- answers
    def best(
        self,
        limits: Ints | None = None,
        known: Sequence[Floats] = (),
        lower: Floats | None = None,
        upper: Floats | None = None,
        share: float = 0.0,
        effort: float | None = None,
    ) -> Found | None:
        """The best answer, proven; None when there is none.

        1. a good answer and the relaxation's bound (``near``);
        2. the best near the relaxation: each column no further from it than a better answer of a ``NEAR`` share of the distance to the bound goes;
        3. the best of all that can better it, by the relaxation's slopes.

        Parameters
        ----------
        limits : (resources,) or None
            Instead of the program's own.
        known : answers to start from; those that break a limit or a bound are passed over.
        lower, upper : (columns,) or None
            Bounds within the matrix's own.
        share : float
            Stop within this share of the bound; the bound is then above the answer.
        effort : float or None
            The solver's work on each step after which it stops; the bound is then above the answer, and where none was found
            its objective is -1. None: no limit.
        """
        wanted = self.program.limits if limits is None else np.asarray(limits, np.int64)
        asked = any(given is not None for given in (limits, lower, upper))  # under its own limits it is tight already
        relaxed = self.relaxation.tightened(wanted, lower, upper, self.rounds if asked else 0)
        start = None if relaxed is None else self._begun(relaxed, wanted, known, (), lower, upper, effort)
        if relaxed is None or start is None:
            found = self.model.ask(wanted, lower, upper, None, share, effort)
            if found is not None and found.objective >= 0:
                self.check(found.values, wanted)
            return found
        for part, work in ((NEAR, min(effort or NEAR_EFFORT, NEAR_EFFORT)), (1.0, effort)):
            if start.short <= share * start.bound:
                return start
            goal = relaxed.value - part * (relaxed.value - start.objective)
            found = self.model.ask(wanted, *relaxed.reaching(goal), start.values, share, work)
            bound = start.bound if part < 1 or found is None else min(start.bound, max(found.bound, start.objective))
            if found is not None and found.objective > start.objective:
                self.check(found.values, wanted)
                start = found
            start = replace(start, bound=max(bound, start.objective))
        return start

    def near(
        self,
        limits: Ints | None = None,
        known: Sequence[Floats] = (),
        lower: Floats | None = None,
        upper: Floats | None = None,
        effort: float | None = None,
    ) -> Found | None:
        """A good answer, and the relaxation's bound; None when there is none. For programs without works."""
        wanted = self.program.limits if limits is None else np.asarray(limits, np.int64)
        relaxed = self.relaxation.solve(wanted, lower, upper)
        start = None if relaxed is None else self._begun(relaxed, wanted, known, known, lower, upper, effort)
        return self.best(wanted, known, lower, upper) if start is None else start

    def _begun(
        self,
        relaxed: Relaxed,
        wanted: Ints,
        known: Sequence[Floats],
        pool: Sequence[Floats],
        lower: Floats | None,
        upper: Floats | None,
        effort: float | None,
    ) -> Found | None:
        """The best of what lies between a pool of answers, the best known, one near the relaxation, and the relaxation rounded down and up."""
        offers = [*known, *self.rounded(relaxed, wanted, upper)]
        start = self._start(wanted, offers, lower, upper)
        if start is None:
            return None
        return self.between(
            [*pool, start.values, *around(relaxed.values)], start, wanted, lower, upper, effort, relaxed.bound
        )

    def rounded(self, relaxed: Relaxed, limits: Ints, upper: Floats | None = None) -> list[Floats]:
        """Whole answers near a relaxation: one, or none where rounding down breaks a limit already, or with works."""
        if self.program.works:
            return []
        _, most = self.matrix.bounds(None, upper)
        found = self.filler.from_fraction(relaxed.values, limits.astype(float), relaxed.prices, most)
        return [] if found is None else [found]

    def between(
        self,
        pool: Sequence[Floats],
        start: Found,
        limits: Ints,
        lower: Floats | None = None,
        upper: Floats | None = None,
        effort: float | None = None,
        bound: int | None = None,
    ) -> Found:
        """The best answer whose packs lie between the fewest and the most that a pool of others has of each item.

        Parameters
        ----------
        pool : column values; the start is one of them.
        start : Found
            An answer to the same question.
        bound : int or None
            What no answer exceeds, known from elsewhere; the start's own otherwise.
        """
        items = self.matrix.blocks.owned
        packs = np.array([values[:items] for values in [*pool, start.values]])
        low, high = (bound.copy() for bound in self.matrix.bounds(lower, upper))
        low[:items] = np.maximum(low[:items], packs.min(axis=0))
        high[:items] = np.minimum(high[:items], packs.max(axis=0))
        found = self.model.ask(limits, low, high, start.values, 0.0, effort)
        top = start.bound if bound is None else bound
        if found is None or found.objective <= start.objective:
            return replace(start, bound=max(top, start.objective))
        self.check(found.values, limits)
        return replace(found, bound=max(top, found.objective))

    def other(self, table: Matrix, limits: Ints | None = None, hint: Floats | None = None) -> Found | None:
        """The best answer of a changed matrix (``with_row``, another objective); None when there is none."""
        wanted = self.program.limits if limits is None else np.asarray(limits, np.int64)
        found = Model(table, len(wanted)).ask(wanted, hint=hint)
        if found is not None:
            check_rows(table, found.values, np.concatenate([wanted, table.upper_rows[len(wanted) :]]))
        return found

    # ------------------------------------------------------------------------ parts
    def offered(
        self, values: Floats, limits: Ints, lower: Floats | None = None, upper: Floats | None = None
    ) -> Found | None:
        """Some column values as an answer under these limits and bounds; None where they break one."""
        table = self.matrix
        got, ends = table.rows @ values, np.concatenate([limits, table.upper_rows[len(limits) :]])
        low, high = table.bounds(lower, upper)
        if (got > ends).any() or (got < table.lower_rows).any() or (values < low).any() or (values > high).any():
            return None
        objective = round(float(table.objective @ values))
        return Found(values, objective, objective)

    def _start(self, limits: Ints, known: Sequence[Floats], lower: Floats | None, upper: Floats | None) -> Found | None:
        offers = [self.offered(values, limits, lower, upper) for values in known]
        return max((o for o in offers if o is not None), key=lambda o: o.objective, default=None)

    def check(self, values: Floats, limits: Ints) -> None:
        """Every row under these limits, in whole numbers; raises ``Unsound`` where one is broken."""
        check_rows(self.matrix, values, np.concatenate([limits, self.matrix.upper_rows[len(limits) :]]))

    def packs(self, found: Found) -> Ints:
        """Packs of each item (items,)."""
        return found.values[: len(self.program.items)].astype(np.int64)


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


def with_row(table: Matrix, row: Floats, high: float) -> Matrix:
    """The same matrix with one more row ``row @ x <= high``."""
    return replace(
        table,
        rows=csr_array(vstack([table.rows, csr_array(row[None, :])], format="csr")),
        lower_rows=np.append(table.lower_rows, -np.inf),
        upper_rows=np.append(table.upper_rows, high),
    )
