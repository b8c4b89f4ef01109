"""What a chosen kit does: which repairs it plans, what hangs on each item, what was left out, what backs up what."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from fieldkit.exposure.settings import supply_figures
from fieldkit.kit.case import Case
from fieldkit.kit.demand import lost_without
from fieldkit.kit.problem import Origin, Problem
from fieldkit.kit.program import UNITS
from fieldkit.kit.result import Cover, KitItem, Planned
from fieldkit.kit.search import Found, Search
from fieldkit.kit.solve import solution_of

Key = tuple[str, str]


@dataclass(frozen=True)
class Account:
    """The chosen repairs of one answer.

    ``chosen``: columns of the program that the answer takes.
    """

    case: Case
    problem: Problem
    found: Found
    search: Search | None = None

    @cached_property
    def chosen(self) -> list[int]:
        search = self.search or Search(self.problem.program)
        return [int(c) for c in solution_of(search, self.found).chosen]

    @cached_property
    def packs(self) -> np.ndarray:
        return self.found.values[: len(self.problem.program.items)].astype(np.int64)

    def origin(self, column: int) -> Origin:
        return self.problem.columns[column]

    def hours(self, column: int) -> float:
        return float(self.problem.program.benefit[column]) / 1000.0

    @cached_property
    def needs(self) -> list[set[int]]:
        """Per column the items that its repairs take, by catalogue position."""
        found: list[set[int]] = [set() for _ in self.problem.program.benefit]
        for entries in (self.problem.program.tools, self.problem.program.stock):
            for column, item in zip(entries.column.tolist(), entries.item.tolist(), strict=True):
                found[column].add(item)
        return found

    # ------------------------------------------------------------------------------- the plan
    def planned(self) -> tuple[Planned, ...]:
        """The repairs by demand class and count."""
        rows = []
        for column in self.chosen:
            c, k, n = self.origin(column)
            demand = self.problem.demands[c]
            rows.append(Planned(demand.members, k, demand.procedures(n), self.hours(column)))
        return tuple(sorted(rows, key=lambda p: (p.members, p.count)))

    @cached_property
    def _saved_by_class(self) -> dict[int, float]:
        saved: dict[int, float] = {}
        for column in self.chosen:
            c = self.origin(column)[0]
            saved[c] = saved.get(c, 0.0) + self.hours(column)
        return saved

    def _lost(self, number: int) -> float:
        return lost_without(self.problem.demands[number], self.problem.counted[number])

    def shares_left(self) -> dict[Key, float]:
        """Share of each weak point's hours that the kit leaves, in [0, 1]; 1 where no repair answers it."""
        left = dict.fromkeys(self.case.uncovered, 1.0)
        for number, demand in enumerate(self.problem.demands):
            lost = self._lost(number)
            share = 1.0 - self._saved_by_class.get(number, 0.0) / lost if lost > 0 else 1.0
            left.update(dict.fromkeys(demand.members, min(1.0, max(0.0, share))))
        return left

    def cover(self, tried: Mapping[Key, float] | None = None) -> tuple[Cover, ...]:
        """Every weak point with a risk: what can be done about it with the kit, in order, and the hours without and with it.

        Parameters
        ----------
        tried : (vehicle, weak point) -> hours lost in trial runs, where those count; else the plan's.
        """
        rows, chains = [], self._chains()
        left = self.shares_left()
        for number, demand in enumerate(self.problem.demands):
            counted = self.problem.counted[number]
            for m, key in enumerate(demand.members):
                lost = float((counted.means[m] * demand.loss[m]).sum())
                planned = chains.get(number, ())
                procedures = (*planned, *(p for p in self._possible(number, m) if p not in planned))
                why = "" if procedures else self._why_not(number)
                rest = lost * left[key] if tried is None else tried.get(key, 0.0)
                rows.append(Cover(*key, procedures, lost, rest, why))
        rows += [self._bare(key, lost, tried) for key, lost in self.case.uncovered.items()]
        return tuple(sorted(rows, key=lambda c: (-c.hours_with, c.vehicle, c.mode)))

    def _chains(self) -> dict[int, tuple[str, ...]]:
        found: dict[int, dict[str, None]] = {}
        for column in sorted(self.chosen, key=lambda c: self.origin(c)[1]):
            c, _, n = self.origin(column)
            found.setdefault(c, {}).update(dict.fromkeys(self.problem.demands[c].procedures(n)))
        return {c: tuple(names) for c, names in found.items()}

    def _possible(self, number: int, member: int) -> list[str]:
        """Repairs of one weak point for which everything is carried at least once, most saving first."""
        demand = self.problem.demands[number]
        saved = demand.saved[member].mean(axis=1)
        ready = []
        for n, chain in enumerate(demand.chains):
            needs = demand.chain_needs(n)
            there = all(self._there(i) >= count for i, count in needs.tools.items())
            stocked = all(self._there(i) * UNITS >= units for i, units in needs.stock.items())
            if len(chain) == 1 and saved[n] > 0 and there and stocked:
                ready.append((-float(saved[n]), demand.worths[member].ways[chain[0]].procedure))
        return [name for _, name in sorted(ready)]

    def carried_for(self, item: int) -> list[int]:
        """What is carried to meet a need: the item itself where it is there, else what stands in for it."""
        others = self.case.catalogue.stand_ins.get(item, ())
        return [item] if self.packs[item] else [o for o in others if self.packs[o]]

    def _there(self, item: int) -> int:
        """Packs of an item and of what may stand in for it."""
        return int(self.packs[item]) + sum(int(self.packs[o]) for o in self.case.catalogue.stand_ins.get(item, ()))

    def _why_not(self, number: int) -> str:
        """Which things the nearest repair would need that are not carried."""
        lacking = [
            self.needs[j] - set(np.flatnonzero(self.packs).tolist())
            for j, (c, k, _) in enumerate(self.problem.columns)
            if c == number and k == 1
        ]
        if not lacking:
            return "a field repair would save no time here"
        names = sorted(self.case.catalogue.item(i).name for i in min(lacking, key=lambda x: (len(x), sorted(x))))
        return f"would need {', '.join(names)}" if names else "other repairs need its parts more"

    def _bare(self, key: Key, lost: float, tried: Mapping[Key, float] | None) -> Cover:
        worth = self.case.worths[key]
        rest = lost if tried is None else tried.get(key, 0.0)
        if worth.free:
            return Cover(*key, (worth.free,), lost, rest, "only what can be done without a kit")
        why = worth.refused[0][1] if worth.refused else "no field repair: stop and call"
        return Cover(*key, (), lost, rest, why)

    # --------------------------------------------------------------------------------- items
    def serves(self) -> dict[int, tuple[tuple[str, str, str], ...]]:
        """Item -> the (vehicle, weak point, field repair) that the plan uses it for."""
        found: dict[int, dict[tuple[str, str, str], None]] = {}
        for column in self.chosen:
            c, _, n = self.origin(column)
            demand = self.problem.demands[c]
            for way in demand.chains[n]:
                name = demand.worths[0].ways[way].procedure
                for need in (*demand.needs[way].tools, *demand.needs[way].stock):
                    for item in self.carried_for(need):
                        found.setdefault(item, {}).update(dict.fromkeys((*key, name) for key in demand.members))
        return {item: tuple(sorted(rows)) for item, rows in found.items()}


# ----------------------------------------------------------------------------- what if one is missing
def backups(case: Case, items: Sequence[KitItem], account: Account) -> tuple[str, ...]:
    """Critical things of which there is one only: what would stand in, then by vehicle those that nothing stands in for."""
    critical = case.settings.show.critical_hours
    total: dict[str, int] = {}
    for entry in items:
        total[entry.item] = total.get(entry.item, 0) + entry.quantity
    lines: dict[str, None] = {}
    alone: dict[str, dict[str, None]] = {}
    for entry in sorted(items, key=lambda i: (-(i.adds_hours or 0.0), i.item)):
        if total[entry.item] == 1 and (entry.adds_hours or 0.0) >= critical:
            item = case.trip.library.items[entry.item]
            others = [_lies(case, items, s) for s in item.substitutes if s in total]
            vehicle = case.trip.vehicle(entry.vehicle).name
            if others:
                lines[f"{item.name}, in {vehicle}; could stand in: {', '.join(others)}"] = None
            else:
                alone.setdefault(vehicle, {})[item.name] = None
    return (*lines, *(f"in {v}, and nothing aboard stands in: {', '.join(names)}" for v, names in alone.items()))


def _lies(case: Case, items: Sequence[KitItem], item: str) -> str:
    """An item and the vehicles it lies in."""
    where = dict.fromkeys(case.trip.vehicle(i.vehicle).name for i in items if i.item == item)
    return f"{case.trip.library.items[item].name} in {' and '.join(where)}"


def drop_out(case: Case, items: Sequence[KitItem]) -> dict[str, tuple[str, ...]]:
    """For each vehicle of a convoy: what is lost to the others when it drops out: kit, seats, water, fuel."""
    trip = case.trip
    if len(trip.vehicles) < 2:
        return {}
    return {v.id: _without(case, items, v.id) for v in trip.vehicles}


def _without(case: Case, items: Sequence[KitItem], vehicle: str) -> tuple[str, ...]:
    trip = case.trip
    gone = trip.vehicle(vehicle)
    others = [v for v in trip.vehicles if v.id != vehicle]
    seats = sum(v.archetype.seats - v.entry.crew for v in others)
    crew = gone.entry.crew
    lines = [
        f"{crew} people need seats with belts, {seats} are free in the others"
        + ("" if seats >= crew else f": {crew - seats} too few")
    ]
    water = sum(v.spec.water_l for v in others)
    lines.append(f"{gone.spec.water_l:.0f} L of water go with it, {water:.0f} L stay, if none is moved")
    cans = supply_figures(trip.library).fuel
    for fuel, item in cans.cans.items():
        there = sum(i.quantity for i in items if i.item == item and i.vehicle == vehicle)
        if there:
            users = [v.name for v in others if v.archetype.fuel == fuel]
            lines.append(
                f"{there * cans.can_l:.0f} L of {fuel} in cans, of use to {', '.join(users) or 'none of the others'}"
            )
    left: Mapping[str, int] = {
        i.item: sum(j.quantity for j in items if j.item == i.item and j.vehicle != vehicle) for i in items
    }
    single = sorted({i.item for i in items if i.vehicle == vehicle and not left[i.item] and i.serves})
    names = [trip.library.items[i].name for i in single]
    if names:
        lines.append(f"move out of it first: {', '.join(names[:12])}{' and more' if len(names) > 12 else ''}")
    return tuple(lines)
