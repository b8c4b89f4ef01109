"""The kit's main path: a trip with its risks in, the kit with its proof and what explains it out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from fieldkit.errors import CannotBeSolved
from fieldkit.exposure.result import Exposure
from fieldkit.inspection.result import WorkOption
from fieldkit.inspection.work import in_time, money
from fieldkit.kit.budget import RESOURCES, SCALE
from fieldkit.kit.case import Case, case_after, make_case
from fieldkit.kit.curve import Point, steps
from fieldkit.kit.explain import Account, backups, drop_out
from fieldkit.kit.fixing import best_by_fixing
from fieldkit.kit.options import KitOptions
from fieldkit.kit.packing import MOST_CUTS, Packed, cut_of, lots_of, must_be_placeable, thinned
from fieldkit.kit.placing import Stowage, place
from fieldkit.kit.problem import Problem
from fieldkit.kit.program import Ints
from fieldkit.kit.result import CurvePoint, Kit, KitItem, Proof, WorkChoice
from fieldkit.kit.search import Found, Search
from fieldkit.kit.solve import check_limits, lightened, settled, solution_of
from fieldkit.kit.works import pick_works
from fieldkit.likelihood.result import Risks
from fieldkit.loads.result import Loads
from fieldkit.specs.trip import Trip

#: Points of a quick curve at most, the one at 0 kg apart.
QUICK_POINTS = 4
#: A second look at the works once the kit is known; a third changed nothing on the trips tried.
ROUNDS = 2


def choose_kit(
    trip: Trip,
    exposure: Exposure,
    risks: Risks,
    loads: Loads,
    work_options: Sequence[WorkOption] = (),
    options: KitOptions | None = None,
) -> Kit:
    """The kit that leaves the fewest hours lost, and the work before leaving.

    1. what the kit alone could do; from it, which work is worth most for what the kit leaves;
    2. the trip once that work is done;
    3. the best kit for it that can be packed, with its bound;
    4. the curve of hours against kilograms;
    5. what each item serves, what was left out, what backs up what.

    Parameters
    ----------
    risks : Risks
        Before any work.
    loads : Loads
        Before the kit.
    work_options : sequence of WorkOption
        What a workshop could do.

    Raises
    ------
    CannotBeSolved
        If the must-carry things do not fit; names the limit, by how much, and the heaviest causes.
    """
    options = options or KitOptions()
    before = make_case(trip, exposure, risks, loads)
    chosen, required, saves = _works(before, work_options, options)
    case = case_after(before, [work_options[i] for i in chosen])
    packed = _packed(case, options)
    chooser = _Chooser(before, case, packed, work_options, frozenset(chosen), frozenset(required), saves, options)
    return chooser.kit()


def _works(
    case: Case, options: Sequence[WorkOption], how: KitOptions
) -> tuple[tuple[int, ...], tuple[int, ...], Mapping[int, float]]:
    """Work chosen for what the kit leaves: first against no kit, then against the kit that goes with it."""
    left: Mapping[tuple[str, str], float] = {}
    picked: tuple[tuple[int, ...], tuple[int, ...], Mapping[int, float]] = ((), (), {})
    rounds = 1 if how.quick else ROUNDS
    for number in range(rounds if options else 0):
        picked = pick_works(case, options, left)
        if number + 1 < rounds:
            after = case_after(case, [options[i] for i in picked[0]])
            problem = after.problem()
            found = best_by_fixing(Search(problem.program), near=True)
            left = Account(after, problem, found).shares_left() if found else {}
    return picked


def _packed(case: Case, options: KitOptions) -> Packed:
    """The best kit that can be placed: pooled first, cut and solved again where some set finds no place."""
    problem = case.problem()
    stowage = Stowage(case.trip, case.loads, case.catalogue, case.settings)
    must_be_placeable(case, stowage)
    program = problem.program
    check_limits(program)
    bound = None
    while True:
        search = Search(program)
        best = best_by_fixing(search, near=options.quick)
        if best is None:
            raise CannotBeSolved("No kit meets the limits together.")
        bound = best.bound if bound is None else min(bound, best.bound)
        found = lightened(search, best) if options.quick else settled(search, best)
        found = _without_idle(case, problem, search, found)
        lots = lots_of(case, search.packs(found))
        placed = place(stowage, lots)
        if placed is None and len(program.cuts) < MOST_CUTS:
            program = replace(program, cuts=(*program.cuts, cut_of(stowage, lots)))
            continue
        if placed is None:
            found, lots, placed = thinned(case, stowage, search, lots, None)
        solution = solution_of(search, found)
        return Packed(problem, search, found, solution, tuple(lots), tuple(placed), stowage, bound, len(program.cuts))


def _without_idle(case: Case, problem: Problem, search: Search, found: Found) -> Found:
    """The same answer without packs that no planned repair takes and that need not be carried."""
    busy = set(Account(case, problem, found, search).hangs_on())
    values = found.values.copy()
    for item, least in enumerate(problem.program.least.tolist()):
        if item not in busy:
            values[item] = least
    return replace(found, values=values)


@dataclass(frozen=True)
class _Chooser:
    """Everything known once the kit is chosen; puts the result together."""

    before: Case
    case: Case
    packed: Packed
    options: Sequence[WorkOption]
    chosen: frozenset[int]
    required: frozenset[int]
    saves: Mapping[int, float]
    how: KitOptions

    @property
    def problem(self) -> Problem:
        return self.packed.problem

    @cached_property
    def account(self) -> Account:
        return Account(self.case, self.problem, self.packed.found, self.packed.search)

    def kit(self) -> Kit:
        objective = self.packed.found.objective / 1000.0
        bound = max(self.packed.bound, self.packed.found.objective) / 1000.0
        gap = (bound - objective) / bound if bound > 0 else 0.0
        items = self._items()
        return Kit(
            items=items,
            mass_kg=sum(i.quantity * i.mass_kg for i in items),
            must_carry_kg=self.case.budget.must_grams / SCALE[0],
            hours_without=self.before.problem().lost,
            hours_with=self.problem.lost - objective,
            proof=Proof(gap <= 1e-6, objective, bound, gap),
            chosen_by="program",
            curve=self._curve(),
            work=self._work(),
            left_out=self.account.left_out(self.case.settings.show.left_out),
            cover=self.account.cover(),
            limits=self._limits(),
            backups=backups(self.case, items, self.account),
            drop_out=drop_out(self.case, items),
            notes=self._notes(gap),
            plan=self.account.planned(),
            worths=self.case.worths,
            after=self.case.changed,
            gone=self.case.gone,
        )

    # ------------------------------------------------------------------------------- items
    def _items(self) -> tuple[KitItem, ...]:
        """Packs by place; owned packs are counted first where they must be carried."""
        found = []
        owned = {i: e.owned for i, e in enumerate(self.case.catalogue.entries)}
        serves, hangs = self.account.serves(), self.account.hangs_on()
        order = sorted(self.packed.placed, key=lambda p: (not self.packed.lots[p.lot].must, p.lot, p.bin))
        for placed in order:
            lot, at = self.packed.lots[placed.lot], self.packed.stowage.bins[placed.bin]
            entry, item = self.case.catalogue.entries[lot.entry], self.case.catalogue.item(lot.entry)
            mine = min(owned[lot.entry], placed.packs)
            owned[lot.entry] -= mine
            suits = entry.suits if len(entry.suits) < len(self.case.trip.vehicles) else ()
            found.append(
                KitItem(
                    item.id,
                    placed.packs,
                    item.mass_kg,
                    lot.must,
                    mine,
                    at.vehicle,
                    at.room.place,
                    serves.get(lot.entry, ()),
                    hangs.get(lot.entry, 0.0),
                    suits=suits,
                )
            )
        return tuple(sorted(found, key=lambda i: (i.vehicle, i.place, i.item, not i.must_carry)))

    # ------------------------------------------------------------------------------- curve
    def _curve(self) -> tuple[CurvePoint, ...]:
        """Hours lost at every budget of the grid, must-carry apart; each with its bound."""
        search, must = Search(self.problem.program), self.case.budget.must_grams
        most = int(self.problem.program.limits[0]) - must
        step = self._step(most)
        budgets = sorted({*range(0, most + 1, step), most})
        points: list[Point] = []
        for grams in budgets:
            limits = self.problem.program.limits.copy()
            limits[0] = grams + must
            found = self._at(search, limits)
            if found is None:
                continue
            objective = max(found.objective, points[-1].objective if points else 0)
            packs = search.packs(found) if not points or found.objective > points[-1].objective else points[-1].packs
            points.append(Point(grams, objective, found.bound, packs, 0))
        return self._shown(points)

    def _at(self, search: Search, limits: Ints) -> Found | None:
        """The best at other limits; the chosen kit itself at its own."""
        if np.array_equal(limits, self.problem.program.limits):
            return replace(self.packed.found, bound=max(self.packed.bound, self.packed.found.objective))
        return best_by_fixing(search, limits, near=True)

    def _step(self, most: int) -> int:
        """The grid's step in grams; in a quick run no more than so many points."""
        step = round(self.how.step_kg * SCALE[0])
        return max(step, -(-most // (QUICK_POINTS * step)) * step) if self.how.quick else step

    def _shown(self, points: Sequence[Point]) -> tuple[CurvePoint, ...]:
        lost = self.problem.lost
        least = round(self.case.settings.show.step_hours * 1000)
        changes = {p.budget: (enter, leave) for p, enter, leave in steps(points, least)} if points else {}
        names = [self.case.catalogue.item(i).id for i in range(len(self.case.catalogue.entries))]

        def listed(packs: np.ndarray) -> tuple[str, ...]:
            return tuple(names[i] for i in np.flatnonzero(packs).tolist())

        return tuple(
            CurvePoint(
                p.budget / SCALE[0],
                lost - p.objective / 1000.0,
                lost - p.bound / 1000.0,
                *(listed(x) for x in changes.get(p.budget, (np.zeros(0), np.zeros(0)))),
            )
            for p in points
        )

    # ------------------------------------------------------------------------------ the rest
    def _work(self) -> tuple[WorkChoice, ...]:
        rows = []
        for i, work in enumerate(self.options):
            option = work.option
            rows.append(
                WorkChoice(
                    work.vehicle,
                    work.mode,
                    option.id,
                    option.title,
                    option.hours,
                    option.cost_low,
                    option.cost_high,
                    option.lead_weeks,
                    self.saves.get(i, 0.0),
                    i in self.chosen,
                    i in self.required,
                    not in_time(option, self.case.trip),
                )
            )
        return tuple(sorted(rows, key=lambda w: (not w.chosen, -w.saves_hours, w.vehicle, w.mode, w.option)))

    def _limits(self) -> dict[str, tuple[float, float]]:
        used, limits = self.packed.solution.used, self.problem.program.limits
        spare = self.problem.program.limits - self.case.budget.limits
        kit = np.maximum(0, used - spare) / np.array(SCALE)
        found = {name: (float(kit[n]), float(limits[n] - spare[n]) / SCALE[n]) for n, name in enumerate(RESOURCES)}
        head = self.case.trip.head.limits
        work = [self.options[i].option for i in sorted(self.chosen)]
        found["workshop hours"] = (sum(o.hours for o in work), head.workshop_hours)
        found["workshop money"] = (sum(money(o, head) for o in work), head.workshop_money)
        return found

    def _notes(self, gap: float) -> tuple[str, ...]:
        notes = [
            f"The kit's mass is limited by {self.case.budget.binding[0]}.",
            "The work before leaving is chosen for what the kit leaves, under hours, money and lead time; the kit is then "
            "chosen with that work done. The proof is the kit's.",
            "The hours beside an item are those of the planned repairs that need it; they do not add up.",
        ]
        if self.how.quick:
            notes.append(
                f"Worked out quickly: the kit is within {100 * gap:.2g} % of the best possible, and the curve is coarse."
            )
        if self.packed.cuts:
            notes.append(f"{self.packed.cuts} sets of things found no place together and were left out as sets.")
        return tuple(notes)
