"""The kit's main path: a trip with its risks in, the proven kit with everything that explains it out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from fieldkit.beside import Beside
from fieldkit.exposure.result import Exposure
from fieldkit.inspection.result import WorkOption
from fieldkit.kit.budget import RESOURCES, SCALE
from fieldkit.kit.case import Case, case_after, make_case
from fieldkit.kit.curve import Effort, Point, Swept, apart, proven, settled, swept
from fieldkit.kit.explain import Account
from fieldkit.kit.firmness import redrawn_kits
from fieldkit.kit.options import KitOptions
from fieldkit.kit.packing import best_packed
from fieldkit.kit.patterns import pattern_kit
from fieldkit.kit.report import SWAP_GRAMS, Report
from fieldkit.kit.result import Kit
from fieldkit.kit.search import Search
from fieldkit.kit.solver import Found
from fieldkit.kit.works import Chosen, choose_works, pick_works
from fieldkit.likelihood.result import Risks
from fieldkit.likelihood.settings import settings_of
from fieldkit.loads.result import Loads
from fieldkit.specs.trip import Trip

#: Neighbours on either side that a quick curve's kits are looked for between, and the solver's work on each look.
QUICK_REACH, QUICK_LOOK = 3, 0.008
#: Budgets of a kilogram apart that one question proves; each range is proven by itself.
TOGETHER = 12
#: Points of the curve over money, and which limit that is.
MONEY_POINTS, MONEY = 8, RESOURCES.index("money")


def choose_kit(
    trip: Trip,
    exposure: Exposure,
    risks: Risks,
    loads: Loads,
    work_options: Sequence[WorkOption] = (),
    options: KitOptions | None = None,
) -> Kit:
    """The kit that leaves the fewest hours lost, and the work before leaving that goes with it, with everything that explains it.

    ``decide_kit`` with its report written out; parameters and errors are the same.
    """
    return decide_kit(trip, exposure, risks, loads, work_options, options).kit()


def decide_kit(
    trip: Trip,
    exposure: Exposure,
    risks: Risks,
    loads: Loads,
    work_options: Sequence[WorkOption] = (),
    options: KitOptions | None = None,
    beside: Beside | None = None,
) -> Report:
    """The kit and the work before leaving, decided; what explains them is worked out when the report is asked for it.

    1. what every failure costs and every repair leaves, and what must be carried;
    2. the work before leaving, chosen together with the kit;
    3. the trip once that work is done;
    4. the proven best kit for it that can be packed;
    5. the curve of hours against kilograms (in a quick plan first: it finds good kits to start from);
    6. where trial runs are far from the program: failure patterns choose the kit;
    7. firmness, what each item adds, what backs up what.

    Parameters
    ----------
    risks : Risks
        Before any work.
    loads : Loads
        Before the kit.
    work_options : sequence of WorkOption
        What a workshop could do.
    beside : Beside or None
        Where the curves and the redraws are worked out meanwhile; None: here, when they are asked for.

    Raises
    ------
    CannotBeSolved
        If what must be carried does not fit, or no choice keeps every limit; names the limit, by how much, and the heaviest causes.
    """
    options, beside = options or KitOptions(), beside or Beside(second=False)
    before = make_case(trip, exposure, risks, loads)
    chosen = works_before_leaving(before, work_options, options)
    case = case_after(before, [work_options[i] for i in chosen.works])
    problem = case.problem()
    if options.quick:
        search = Search(problem.program)
        good = swept(search, curve_budgets(case, options), stride=1, reach=QUICK_REACH, effort=QUICK_LOOK)
        points = settled(search, 0, good.kits)
        packed = best_packed(case, problem, True, search, [p.values for p in points])
        return Report(before, case, packed, None, lambda: points, list, list, work_options, chosen, options)
    rows = Search(problem.program)
    curve = whole_curve(case, rows, options, beside)
    evidence = settings_of(trip.library).evidence
    redrawn = beside.ask(redrawn_kits, problem, rows, case.members, evidence, options.redraws, options.seed)
    packed = best_packed(case, problem, search=afresh(rows))
    limit = int(case.budget.limits[MONEY])
    grid = [limit * n // MONEY_POINTS for n in range(MONEY_POINTS + 1)]
    money = beside.ask(money_curve, rows, grid, {} if packed.cuts else {limit: packed.found})
    patterns = pattern_kit(case, packed, options)
    return Report(before, case, packed, patterns, curve, redrawn, money, work_options, chosen, options)


def whole_curve(case: Case, rows: Search, options: KitOptions, beside: Beside) -> Callable[[], Sequence[Point]]:
    """What gives the curve: kits for all budgets first, then proven in parts, to a step that is shown or, where asked, to the last.

    Each question has a search of its own, so that the answers are the same wherever it is worked out.

    Parameters
    ----------
    rows : Search
        Of the program: each question's own takes over what is built there.
    """
    sweep = beside.ask(swept_curve, rows, curve_budgets(case, options))
    effort = Effort(together=TOGETHER)

    def joined() -> list[Point]:
        good = sweep()
        budgets = sorted(good.kits)
        ranges = [budgets[n : n + TOGETHER] for n in range(0, len(budgets), TOGETHER)]
        parts = [
            beside.ask(proven_part, rows, good.only(some), effort, some) for some in reversed(ranges)
        ]  # longest first
        together = {budget: found for part in parts for budget, found in part().items()}
        return settled(rows, 0, together)

    return joined


def afresh(rows: Search) -> Search:
    """A search of the same program that remembers no question."""
    return Search(rows.program, rows.rounds, like=rows)


def swept_curve(rows: Search, budgets: Sequence[int]) -> Swept:
    """A good kit for every budget; the best one of the program's own limits helps to find them."""
    search = afresh(rows)
    best = search.best()
    return swept(search, budgets, 0, [] if best is None else [best.values])


def proven_part(rows: Search, good: Swept, effort: Effort, budgets: Sequence[int]) -> dict[int, Found]:
    """Neighbouring budgets, proven as far as the effort says."""
    return proven(afresh(rows), good, 0, effort, budgets)


def money_curve(rows: Search, budgets: Sequence[int], known: Mapping[int, Found]) -> list[Point]:
    """The best kit for each of some sums of money, proven."""
    search = afresh(rows)
    return settled(search, MONEY, apart(search, budgets, MONEY, known))


def curve_budgets(case: Case, options: KitOptions) -> list[int]:
    """The grid over kilograms, and the points around the limit that another 5 kg more or less are read from [g]."""
    must, limit = case.budget.must_grams, int(case.budget.limits[0])
    step = round(options.step_kg * SCALE[0])
    grams = {*range(0, limit + 1, step), limit, limit + SWAP_GRAMS, max(0, limit - SWAP_GRAMS)}
    return sorted(g + must for g in grams)


def works_before_leaving(case: Case, options: Sequence[WorkOption], how: KitOptions) -> Chosen:
    """The work of the best plan of work and kit together; a quick plan chooses it for what the kit before it leaves."""
    if not options:
        return Chosen((), (), 0.0, ())
    if not how.quick:
        return choose_works(case, options)
    works, required, _ = pick_works(case, options, _left_by_kit(case))
    return Chosen(
        works, required, 0.0, ("The work before leaving was chosen for what the kit leaves, not together with it.",)
    )


def _left_by_kit(case: Case) -> Mapping[tuple[str, str], float]:
    """Share of each weak point's hours that a good kit leaves before any work."""
    problem = case.problem()
    search = Search(problem.program)
    near = search.near()
    return Account(case, problem, near, search).shares_left() if near is not None else {}


__all__ = ["choose_kit", "decide_kit", "works_before_leaving"]
