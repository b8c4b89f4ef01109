"""A kit that cannot be placed loses packs until it can, and is refused in plain words where nothing can be placed."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from fieldkit.errors import CannotBeSolved
from fieldkit.kit import choosing, packing
from fieldkit.kit.case import Case
from fieldkit.kit.problem import Problem
from fieldkit.kit.program import Column, make_program
from fieldkit.kit.search import Search
from fieldkit.kit.solve import lightened
from fieldkit.kit.solver import Found
from fieldkit.plan import PlanOptions, make_plan
from fieldkit.specs.library import Library
from fieldkit.specs.read_trip import load_trip
from fieldkit.specs.scaffold import new_trip


@pytest.fixture
def worked(tmp_path: Path, library: Library, monkeypatch: pytest.MonkeyPatch) -> tuple[Case, Problem]:
    """The case and the program of the trip that ``new`` writes."""
    new_trip(tmp_path / "trip")
    kept: list[tuple[Case, Problem]] = []
    real = choosing.best_packed

    def watched(case: Case, problem: Problem, *rest: object) -> packing.Packed:
        kept.append((case, problem))
        return real(case, problem, *rest)  # type: ignore[arg-type]

    monkeypatch.setattr(choosing, "best_packed", watched)
    make_plan(load_trip(tmp_path / "trip", library), PlanOptions(quick=True))
    return kept[0]


def test_nothing_that_can_be_placed_is_a_plain_refusal(
    worked: tuple[Case, Problem], monkeypatch: pytest.MonkeyPatch
) -> None:
    case, problem = worked
    stowage, lots = packing.stowage_of(case), packing.lots_of(case, case.budget.needed)
    monkeypatch.setattr(packing, "place", lambda *_: None)
    with pytest.raises(CannotBeSolved, match="finds no place"):
        packing.thinned(case, stowage, Search(problem.program), lots)


def test_packs_go_one_by_one_until_the_rest_fits(worked: tuple[Case, Problem], monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever is named as having no place is left out; what must be carried stays."""
    case, problem = worked
    search = Search(problem.program)
    best = search.best()
    assert best is not None
    lots = packing.lots_of(case, search.packs(best))
    chosen = next(i for i, lot in enumerate(lots) if not lot.must)
    stowage = packing.stowage_of(case)
    monkeypatch.setattr(packing, "unplaceable", lambda *_: [chosen])
    found, left, placed = packing.thinned(case, stowage, search, lots)
    carried = search.packs(found)
    assert carried[lots[chosen].entry] == search.packs(best)[lots[chosen].entry] - 1
    assert (carried >= case.budget.needed).all()
    assert sum(p.packs for p in placed) == sum(lot.packs for lot in left)


def test_a_cut_that_is_not_proven_does_not_lower_the_bound(
    worked: tuple[Case, Problem], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A search that ends at its limit may cut the best kit off: the pooled bound stays and the gap is shown."""
    case, problem = worked
    free, real = packing.best_packed(case, problem), packing.place
    for undecided in (0, 1):
        refused: list[int] = []

        def once(
            stowage: packing.Stowage,
            lots: object,
            *rest: object,
            undecided: int = undecided,
            refused: list[int] = refused,
        ) -> object:
            if rest and not refused:
                refused.append(1)
                stowage.undecided += undecided
                return None
            return real(stowage, lots, *rest)  # type: ignore[arg-type]

        monkeypatch.setattr(packing, "place", once)
        chosen = [(i, int(n)) for i, n in enumerate(free.solution.packs) if n > case.budget.needed[i]]
        monkeypatch.setattr(packing, "cut_of", lambda *_, cut=tuple(chosen): cut)
        cut = packing.best_packed(case, problem)
        monkeypatch.undo()
        assert cut.cuts == 1
        assert cut.found.objective <= free.found.objective
        assert cut.bound == (free.bound if undecided else cut.found.objective)


def test_what_stands_ready_for_no_repair_is_left_at_home() -> None:
    """Two things that a repair takes together, and stock that one lends the other: carried, but no repair is planned."""
    program = make_program(
        ["cloth", "tape", "wire"],
        [1000, 1000, 0],
        ["mass"],
        [[100, 200, 300]],
        [1000],
        [Column(0, 50, {2: 1}, {0: 500}), Column(1, 40, {}, {1: 500})],
        stand_ins={1: [0]},
    )
    search = Search(program)
    table, blocks = search.matrix, search.matrix.blocks
    values = np.zeros(blocks.end)
    values[: blocks.owned] = 1
    values[blocks.lent : blocks.flags] = 1000
    values[blocks.bundles : blocks.works] = 1
    assert values[blocks.lent : blocks.flags].size
    assert values[blocks.bundles : blocks.works].size
    assert np.all(table.rows @ values <= table.upper_rows)
    assert not lightened(search, Found(values, 0, 90)).values.any()


def test_an_answer_keeps_the_packs_that_the_question_allows() -> None:
    """Whole answers made on the way, and answers known before, are no answers where they carry more, or less, than asked."""
    weights = [[300, 400, 500, 700]]
    repairs = [Column(n, benefit, {n: 1}) for n, benefit in enumerate((50, 60, 70, 101))]
    program = make_program(["a", "b", "c", "d"], [0] * 4, ["mass"], weights, [1300], repairs)
    search = Search(program)
    best = search.best()
    assert best is not None
    for item in range(4):
        upper, lower = search.matrix.upper.copy(), search.matrix.lower.copy()
        upper[item], lower[item] = 0, 1
        without, with_it = (
            search.best(known=[best.values], upper=upper),
            search.best(known=[best.values], lower=lower),
        )
        assert without is not None
        assert with_it is not None
        assert search.packs(without)[item] == 0
        assert search.packs(with_it)[item] == 1
        assert max(without.objective, with_it.objective) == best.objective
