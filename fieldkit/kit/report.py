"""Everything known once the kit is chosen, put together as the result."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from fieldkit.inspection.result import WorkOption
from fieldkit.inspection.work import in_time
from fieldkit.inspection.work import money as cost_of
from fieldkit.kit.additions import Additions
from fieldkit.kit.budget import RESOURCES, SCALE
from fieldkit.kit.case import Case
from fieldkit.kit.curve import Point, steps
from fieldkit.kit.explain import Account, backups, drop_out
from fieldkit.kit.firmness import share_in
from fieldkit.kit.options import KitOptions
from fieldkit.kit.packing import Packed
from fieldkit.kit.patterns import PatternKit
from fieldkit.kit.problem import Problem
from fieldkit.kit.program import Ints
from fieldkit.kit.result import (
    AddStep,
    CurvePoint,
    Group,
    Kit,
    KitItem,
    LeftOut,
    MoneyPoint,
    Proof,
    Swap,
    Tried,
    WorkChoice,
)
from fieldkit.kit.search import Search
from fieldkit.kit.swaps import add_only, swap_at
from fieldkit.kit.works import Chosen, savings

#: The change of budget that is told as a swap, and how far the curve goes beyond the limit for it [g].
SWAP_GRAMS = 5_000


@dataclass(frozen=True)
class Report:
    """A chosen kit on its way to a result.

    ``before``, ``case``: the trip before and after the work; ``plain``: the plain program's kit; ``patterns``: how it did in trial runs, None in
    a quick plan; ``curve``: gives the curve, and the points around the limit; ``redrawn``: gives the kits of the redraws, none
    in a quick plan; ``money``: gives the curve over money, none in a quick plan.
    """

    before: Case
    case: Case
    plain: Packed
    patterns: PatternKit | None
    curve: Callable[[], Sequence[Point]]
    redrawn: Callable[[], Sequence[Ints]]
    money: Callable[[], Sequence[Point]]
    options: Sequence[WorkOption]
    chosen: Chosen
    how: KitOptions

    def kit(self) -> Kit:
        """The result; what may be worked out elsewhere meanwhile is asked for last."""
        left_out, groups, work, limits = self._left_out(), self._groups(), self._work(), self._limits()
        cover = self.account.cover(self.patterns.lost if self.patterns and self._by_patterns else None)
        steps_up, greedy = self._add_only
        lightest = self._lightest()
        items = self._items()
        return replace(
            self.bare,
            items=items,
            curve=self._curve(),
            work=work,
            left_out=left_out,
            cover=cover,
            limits=limits,
            greedy_hours_with=self.problem.lost - greedy / 1000.0,
            backups=backups(self.case, items, self.account),
            drop_out=drop_out(self.case, items),
            notes=self._notes(),
            next_kg=self._swap(SWAP_GRAMS),
            drop_kg=self._swap(-SWAP_GRAMS),
            add_only=steps_up,
            money_curve=self._money(),
            groups=groups,
            lightest=self._listed(lightest.packs) if lightest else (),
            lightest_kg=(lightest.used - self.case.budget.must_grams) / SCALE[0] if lightest else None,
            work_gap=self.chosen.gap,
            tried=self._tried(),
        )

    @cached_property
    def bare(self) -> Kit:
        """What is carried and what is done with it, all that trial runs need: no curve, no hours beside items."""
        items = self._items(explained=False)
        return Kit(
            items=items,
            mass_kg=sum(i.quantity * i.mass_kg for i in items),
            must_carry_kg=self.case.budget.must_grams / SCALE[0],
            hours_without=self.before.lost(),
            hours_with=self._hours_with,
            program_hours=self.problem.lost - self.packed.found.objective / 1000.0,
            proof=self._proof,
            chosen_by="patterns" if self._by_patterns else "program",
            curve=(),
            work=(),
            left_out=(),
            cover=(),
            plan=self.account.planned(),
            worths=self.case.worths,
            after=self.case.changed,
            gone=self.case.gone,
        )

    # ------------------------------------------------------------------------------- what chose
    @property
    def _by_patterns(self) -> bool:
        return self.patterns is not None and self.patterns.packed is not None

    @property
    def packed(self) -> Packed:
        """The kit that was taken."""
        return self.patterns.packed if self.patterns and self.patterns.packed else self.plain

    @property
    def problem(self) -> Problem:
        return self.plain.problem

    @cached_property
    def account(self) -> Account:
        return Account(self.case, self.problem, self.packed.found, self.packed.search)

    @cached_property
    def _proof(self) -> Proof:
        """Of the program that chose: hours saved and their bound."""
        if self.patterns is not None and self.patterns.found is not None:
            objective, bound = self.patterns.found.objective / 1000.0, self.patterns.found.bound / 1000.0
        else:
            objective = self.plain.found.objective / 1000.0
            bound = max(self.plain.bound, self.plain.found.objective) / 1000.0
        gap = (bound - objective) / bound if bound > 0 else 0.0
        return Proof(gap <= 1e-6, objective, bound, gap)

    @property
    def _hours_with(self) -> float:
        """By what chose the kit: the plain program, or the trial runs of the patterns' kit."""
        if self.patterns is not None and self._by_patterns:
            return self.patterns.pattern_hours or 0.0
        return self.problem.lost - self.packed.found.objective / 1000.0

    def _tried(self) -> Tried | None:
        p = self.patterns
        return Tried(p.tried_hours, p.error, p.apart, p.pattern_hours, p.foresight_hours) if p is not None else None

    # ----------------------------------------------------------------------------------- items
    @cached_property
    def search(self) -> Search:
        """The program without the cuts that placing made: what the curve and the hours beside items are about."""
        return self.plain.search if not self.plain.cuts else Search(self.problem.program)

    @cached_property
    def points(self) -> Sequence[Point]:
        """The curve, and the points around the limit."""
        return self.curve()

    @cached_property
    def additions(self) -> Additions:
        """Of the program that chose."""
        search, found = self.search, self.packed.found
        if self.patterns is not None and self.patterns.search is not None and self.patterns.found is not None:
            search, found = self.patterns.search, self.patterns.found
        limits = search.program.limits
        relaxed = search.relaxation.solve(limits)
        prices = np.zeros(len(limits)) if relaxed is None else relaxed.prices
        return Additions(search, found, limits, prices, self.how.quick)

    @cached_property
    def _adds(self) -> dict[int, float]:
        """Hours that each chosen item adds, by catalogue position."""
        packs = self.account.packs
        return {int(i): self.additions.adds(int(i)) for i in np.flatnonzero(packs > self.case.budget.needed)}

    @cached_property
    def _firm(self) -> Ints | None:
        if self.how.quick or self.how.redraws < 1:
            return None
        return share_in(self.redrawn(), self.account.packs, self.case.budget.needed)

    def _items(self, explained: bool = True) -> tuple[KitItem, ...]:
        """Packs by place; owned packs are counted first where they must be carried."""
        firmness, adds = (self._firm, self._adds) if explained else (None, {})
        owned = {i: e.owned for i, e in enumerate(self.case.catalogue.entries)}
        serves, found = self.account.serves(), []
        for placed in sorted(self.packed.placed, key=lambda p: (not self.packed.lots[p.lot].must, p.lot, p.bin)):
            lot, at = self.packed.lots[placed.lot], self.packed.stowage.bins[placed.bin]
            entry, item = self.case.catalogue.entries[lot.entry], self.case.catalogue.item(lot.entry)
            mine = min(owned[lot.entry], placed.packs)
            owned[lot.entry] -= mine
            firm = "" if lot.must or firmness is None else f"in {firmness[lot.entry]} of {self.how.redraws}"
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
                    None if lot.must else adds.get(lot.entry),
                    firm,
                    entry.suits if len(entry.suits) < len(self.case.trip.vehicles) else (),
                )
            )
        return tuple(sorted(found, key=lambda i: (i.vehicle, i.place, i.item, not i.must_carry)))

    def _left_out(self) -> tuple[LeftOut, ...]:
        """The items that would add most if they came along besides."""
        most = self.case.settings.show.left_out
        best: dict[str, LeftOut] = {}
        for i, hours in self.additions.left_out(most):
            item = self.case.catalogue.item(i)
            best.setdefault(item.id, LeftOut(item.id, item.mass_kg, hours))
        return tuple(list(best.values())[:most])

    def _groups(self) -> tuple[Group, ...]:
        if self.how.quick:
            return ()
        chosen = set(self._adds)
        needs = [self.account.needs[c] for c in self.account.chosen]
        planned = [frozenset(i for n in need for i in self.account.carried_for(n)) & chosen for need in needs]
        return tuple(
            Group(tuple(self.case.catalogue.item(i).id for i in members), hours)
            for members, hours in self.additions.groups(self._adds, planned)
        )

    # ----------------------------------------------------------------------------------- curve
    def _curve(self) -> tuple[CurvePoint, ...]:
        """Hours lost at every budget of the grid, must-carry apart, by the plain program; with its bound."""
        must, limit = self.case.budget.must_grams, int(self.case.budget.limits[0])
        points = [self._at_limit(p) for p in self.points if p.budget - must <= limit]
        least = round(self.case.settings.show.step_hours * SCALE[0])
        changes = {p.budget: (enter, leave) for p, enter, leave in steps(points, least)} if points else {}
        none = np.zeros(0, np.int64)
        return tuple(
            CurvePoint(
                (p.budget - must) / SCALE[0],
                self.problem.lost - p.objective / 1000.0,
                self.problem.lost - self._bound_at(p) / 1000.0,
                *(self._names(x) for x in changes.get(p.budget, (none, none))),
            )
            for p in points
        )

    def _at_limit(self, point: Point) -> Point:
        """The chosen kit stands at its own budget, where it is better than what the curve found."""
        own = self.plain.found.objective
        if self.plain.cuts or point.budget != int(self.problem.program.limits[0]) or point.objective >= own:
            return point
        return replace(point, objective=own, packs=self.plain.search.packs(self.plain.found))

    def _bound_at(self, point: Point) -> int:
        """A proven kit bounds its own budget, and every smaller one."""
        must, limit = self.case.budget.must_grams, int(self.case.budget.limits[0])
        known = self.plain.bound if point.budget <= limit + must and not self.plain.cuts else point.bound
        return max(point.objective, min(point.bound, known))

    @cached_property
    def _add_only(self) -> tuple[tuple[AddStep, ...], int]:
        return add_only(self.search, self.points, self._names)

    def _swap(self, grams: int) -> Swap | None:
        found, budget = self.packed.found, int(self.problem.program.limits[0]) + grams
        return swap_at(self.search, self.points, self.account.packs, found.objective, budget, self._names)

    def _money(self) -> tuple[MoneyPoint, ...]:
        lost = self.problem.lost
        return tuple(
            MoneyPoint(p.budget / SCALE[2], lost - p.objective / 1000.0, lost - p.bound / 1000.0) for p in self.money()
        )

    def _lightest(self) -> Point | None:
        """The lightest kit of the curve that saves nearly as much as the chosen one."""
        least = (1.0 - self.case.settings.show.within) * self.packed.found.objective
        enough = [p for p in self.points if p.objective >= least]
        return min(enough, key=lambda p: (p.used, -p.objective), default=None)

    def _names(self, packs: Ints) -> tuple[str, ...]:
        return tuple(self.case.catalogue.item(i).id for i in np.flatnonzero(packs).tolist())

    def _listed(self, packs: Ints) -> tuple[tuple[str, int], ...]:
        extra = packs - self.case.budget.needed
        return tuple((self.case.catalogue.item(i).id, int(extra[i])) for i in np.flatnonzero(extra).tolist())

    # -------------------------------------------------------------------------------- the rest
    def _work(self) -> tuple[WorkChoice, ...]:
        saves = savings(self.before, self.options, self.chosen.works, self.account.shares_left())
        rows = [
            WorkChoice(
                work.vehicle,
                work.mode,
                work.option.id,
                work.option.title,
                work.option.hours,
                work.option.cost_low,
                work.option.cost_high,
                work.option.lead_weeks,
                saves[i],
                i in self.chosen.works,
                i in self.chosen.required,
                not in_time(work.option, self.case.trip),
            )
            for i, work in enumerate(self.options)
        ]
        return tuple(sorted(rows, key=lambda w: (not w.chosen, -w.saves_hours, w.vehicle, w.mode, w.option)))

    def _limits(self) -> dict[str, tuple[float, float]]:
        """Name -> used and limit, must-carry apart."""
        packs, budget = self.account.packs, self.case.budget
        used = budget.weights @ (packs - budget.needed)
        money_row = RESOURCES.index("money")
        used[money_row] = budget.weights[money_row] @ np.maximum(0, packs - budget.free)
        found = {n: (float(used[r]) / SCALE[r], float(budget.limits[r]) / SCALE[r]) for r, n in enumerate(RESOURCES)}
        head = self.case.trip.head.limits
        work = [self.options[i].option for i in self.chosen.works]
        found["workshop hours"] = (sum(o.hours for o in work), head.workshop_hours)
        found["workshop money"] = (sum(cost_of(o, head) for o in work), head.workshop_money)
        return found

    def _notes(self) -> tuple[str, ...]:
        return tuple(filter(None, [*self._kit_notes(), *self.chosen.notes, *self._curve_notes()]))

    def _kit_notes(self) -> Sequence[str]:
        gap, p = self._proof.gap, self.patterns
        notes = [f"The kit's mass is limited by {self.case.budget.binding[0]}."]
        if self.how.quick:
            near = "proven best" if gap <= 1e-6 else f"within {100 * gap:.2g} % of the best possible"
            notes.append(
                f"Worked out quickly: the kit is {near}, the curve has steps of {self.how.step_kg:g} kg, how firm each item is was not tried, the hours beside an item are what the rest of the "
                "kit cannot make up, and those of what was left out are a first estimate."
            )
        if p is not None and p.packed is not None:
            notes.append(
                f"Failure patterns chose the kit: trial runs with the plain program's kit lost {p.tried_hours:.1f} h, with this one "
                f"{p.pattern_hours or 0.0:.1f} h. Its hours are those of the runs; the curve, and how firm each item is, are the plain "
                "program's, which sets stock aside for every failure it plans for."
            )
        elif p is not None and p.pattern_hours is not None:
            notes.append(
                f"Trial runs were {100 * p.apart:.0f} % from the program, so failure patterns chose a kit too; it did no better "
                f"({p.pattern_hours:.1f} h against {p.tried_hours:.1f} h)."
            )
        if p is not None and p.foresight_hours is not None:
            notes.append(
                f"Were every failure of a trip known before its parts are given out, the best kit would still lose {p.foresight_hours:.1f} h: no kit of these "
                f"limits gets below that with what it plans to repair (this one loses {p.tried_hours:.1f} h in trial runs)."
            )
        if self.plain.stowage.pumped:
            notes.append("What must be carried is only within limits with the tyres at their marked pressures.")
        if self.plain.cuts:
            notes.append(f"{self.plain.cuts} sets of things found no place together and were left out as sets.")
        return notes

    def _curve_notes(self) -> Sequence[str]:
        gaps = [(p.bound - p.objective) / p.bound for p in self.points if p.bound > 0]
        worst = max(gaps, default=0.0)
        notes = []
        if worst > 1e-6:
            open_points = sum(g > 1e-6 for g in gaps)
            hours = max(p.bound - p.objective for p in self.points) / 1000.0
            notes.append(
                f"{open_points} of {len(gaps)} points of the curve are proven to {np.ceil(100 * hours) / 100:.2f} h: no kit of "
                "their weight saves more than that beyond the one shown."
                if 1000 * hours <= self.case.settings.a_step
                else f"{open_points} of {len(gaps)} points of the curve are not searched to the end; the widest gap between kit and bound "
                f"is {100 * worst:.1f} %."
            )
        if self.chosen.works and self.chosen.gap > 1e-6:
            notes.append(
                f"Work and kit together are within {100 * self.chosen.gap:.1f} % of the best possible; the kit that goes with the "
                "chosen work is proven by itself."
            )
        return notes
