"""One program, many questions under changing limits and bounds: relaxed, nearly, or to a proof.

Every answer is whole numbers, re-checked against every row without floating point before it is handed out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
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
NEAR, NEAR_EFFORT = 0.07, 4.0
#: What an answer is refused with that does not keep its rows.
BROKEN = "a row or a bound is broken when re-checked in whole numbers"


@dataclass(frozen=True)
class Question:
    """Limits (resources,), bounds (columns,) each, and the solver's work on each step after which it stops; None: no limit."""

    limits: Ints
    lower: Floats
    upper: Floats
    effort: float | None = None


class Search:
    """Questions to one program.

    Parameters
    ----------
    program : Program
    rounds : int
        Times that the relaxation is tightened by rounding under the program's own limits; 0 where a look is all that is wanted.
    like : Search or None
        A search of the same program, or of one that differs in what repairs save: the same repairs are told apart as there, and what was
        built there for its rows and limits is taken over, but nothing of what it was asked.
    """

    def __init__(self, program: Program, rounds: int = ROUNDS, like: Search | None = None) -> None:
        self.program, self.rounds, self._like = program, rounds, like
        self.reduced: Reduced = reduce(program) if like is None else like.reduced.worth(program.benefit)
        self.matrix: Matrix = build_matrix(program, self.reduced) if like is None else like.matrix.worth(self.reduced)

    @cached_property
    def tight(self) -> Matrix:
        """The matrix with the rows that rounding finds at the program's own limits."""
        return self.relaxation.tight if self._like is None else self._like.tight.worth(self.reduced)

    @cached_property
    def relaxation(self) -> Relaxation:
        """The program's linear relaxation; keeps its last basis."""
        tight = None if self._like is None else self.tight
        return Relaxation(self.matrix, self.program.limits, self.rounds, tight)

    @cached_property
    def model(self) -> Model:
        """The tight matrix as the exact solver sees it."""
        if self._like is not None:
            return self._like.model.worth(self.tight)
        return Model(self.tight, len(self.program.limits))

    @cached_property
    def filler(self) -> Filler:
        """Quick whole-number answers, for programs without works."""
        if self._like is not None:
            return self._like.filler.worth(self.reduced, self.matrix)
        return Filler(self.program, self.reduced, self.matrix)

    def __getstate__(self) -> dict[str, object]:
        """What another process takes over: the rows, without any solver."""
        return {
            "program": self.program,
            "rounds": self.rounds,
            "_like": None,
            "reduced": self.reduced,
            "matrix": self.matrix,
            "tight": self.tight,
        }

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
        asked = self.question(limits, lower, upper, effort)
        own = limits is None and lower is None and upper is None  # tight already
        relaxed = self.relaxation.tightened(asked.limits, asked.lower, asked.upper, 0 if own else self.rounds)
        start = None if relaxed is None else self._begun(asked, relaxed, known)
        if relaxed is None or start is None:
            found = self.model.ask(asked.limits, asked.lower, asked.upper, None, share, effort)
            return found if found is None or found.objective < 0 else sound(self.matrix, found, asked.limits)
        for part, work in ((NEAR, min(effort or NEAR_EFFORT, NEAR_EFFORT)), (1.0, effort)):
            if start.short <= share * start.bound:
                return start
            goal = relaxed.value - part * (relaxed.value - start.objective)
            found = self.model.ask(asked.limits, *relaxed.reaching(goal), start.values, share, work)
            bound = start.bound if part < 1 or found is None else min(start.bound, max(found.bound, start.objective))
            if found is not None and found.objective > start.objective:
                start = sound(self.matrix, found, asked.limits)
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
        """A good answer, and the relaxation's bound; None when there is none. For programs without works.

        It lies between the known ones, not only the best of them; parameters are those of ``best``.
        """
        asked = self.question(limits, lower, upper, effort)
        relaxed = self.relaxation.solve(asked.limits, asked.lower, asked.upper)
        start = None if relaxed is None else self._begun(asked, relaxed, known, known)
        return self.best(limits, known, lower, upper) if start is None else start

    def other(self, table: Matrix, hint: Floats | None = None) -> Found | None:
        """The best answer of a changed matrix (``with_row``, another objective) under the program's own limits; None when there is none."""
        limits = self.program.limits
        found = Model(table, len(limits)).ask(limits, hint=hint)
        return found and sound(table, found, limits)

    # ------------------------------------------------------------------------ parts
    def question(
        self,
        limits: Ints | None = None,
        lower: Floats | None = None,
        upper: Floats | None = None,
        effort: float | None = None,
    ) -> Question:
        """A question with the program's own limits and the matrix's own bounds where none are given."""
        wanted = self.program.limits if limits is None else np.asarray(limits, np.int64)
        return Question(wanted, *self.matrix.bounds(lower, upper), effort)

    def offered(self, values: Floats, asked: Question) -> Found | None:
        """Some column values as an answer; None where they break a limit, a row or a bound."""
        if not self.matrix.keeps(values, asked.limits, asked.lower, asked.upper):
            return None
        return self.valued(values)

    def valued(self, values: Floats) -> Found:
        """Column values with what they save."""
        objective = round(float(self.matrix.objective @ values))
        return Found(values, objective, objective)

    def rounded(self, asked: Question, relaxed: Relaxed) -> list[Floats]:
        """Whole answers near a relaxation: one, or none where rounding down breaks a limit already, or with works."""
        if self.program.works:
            return []
        found = self.filler.from_fraction(relaxed.values, asked.limits.astype(float), relaxed.prices, asked.upper)
        return [] if found is None else [found]

    def _begun(
        self, asked: Question, relaxed: Relaxed, known: Sequence[Floats], pool: Sequence[Floats] = ()
    ) -> Found | None:
        """The best of what lies between a pool of answers, the best known, one near the relaxation, and the relaxation rounded down and up."""
        offers = [self.offered(values, asked) for values in (*known, *self.rounded(asked, relaxed))]
        start = max((o for o in offers if o is not None), key=lambda o: o.objective, default=None)
        if start is None:
            return None
        start = replace(start, bound=max(start.objective, relaxed.bound))
        return self.between(asked, [*pool, *around(relaxed.values)], start)

    def between(self, asked: Question, pool: Sequence[Floats], start: Found) -> Found:
        """The best answer whose packs lie between the fewest and the most that a start and a pool of column values have of each item.

        Parameters
        ----------
        start : Found
            An answer to the question; its bound stays.
        """
        items = self.matrix.blocks.owned
        packs = np.array([values[:items] for values in [*pool, start.values]])
        low, high = asked.lower.copy(), asked.upper.copy()
        low[:items] = np.maximum(low[:items], packs.min(axis=0))
        high[:items] = np.minimum(high[:items], packs.max(axis=0))
        found = self.model.ask(asked.limits, low, high, start.values, 0.0, asked.effort)
        if found is None or found.objective <= start.objective:
            return start
        return replace(sound(self.matrix, found, asked.limits), bound=max(start.bound, found.objective))

    def packs(self, found: Found) -> Ints:
        """Packs of each item (items,)."""
        return found.values[: len(self.program.items)].astype(np.int64)


def sound(table: Matrix, found: Found, limits: Ints) -> Found:
    """An answer, once every row and bound is added up again in whole numbers under these limits.

    Raises
    ------
    Unsound
        If one is broken.
    """
    if not table.keeps(found.values, limits):
        raise Unsound(BROKEN)
    return found


def with_row(table: Matrix, row: Floats, high: float) -> Matrix:
    """The same matrix with one more row ``row @ x <= high``."""
    return replace(
        table,
        rows=csr_array(vstack([table.rows, csr_array(row[None, :])], format="csr")),
        lower_rows=np.append(table.lower_rows, -np.inf),
        upper_rows=np.append(table.upper_rows, high),
    )
