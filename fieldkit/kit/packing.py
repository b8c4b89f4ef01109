"""The best kit that can be packed: solved pooled, placed, and solved again with a cut wherever some set cannot be placed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fieldkit.errors import CannotBeSolved, several
from fieldkit.kit.case import Case
from fieldkit.kit.placing import Lot, Placed, Stowage, place, unplaceable
from fieldkit.kit.problem import Problem
from fieldkit.kit.program import Ints, Solution
from fieldkit.kit.search import Search
from fieldkit.kit.solve import check_limits, lightened, settled, solution_of
from fieldkit.kit.solver import Found

Floats = NDArray[np.float64]

#: Cuts after which the search for a kit that can be placed stops, its gap shown.
MOST_CUTS = 12
#: Repairs up to which ties are settled by searches of their own; beyond, the lightest form of the answer found is taken.
TIES_TO = 1500


@dataclass(frozen=True)
class Packed:
    """A kit with its places and proof.

    ``bound`` [0.001 h]: no kit that keeps all limits saves more. ``cuts``: sets of packs that cannot be placed together.
    """

    problem: Problem
    search: Search
    found: Found
    solution: Solution
    lots: tuple[Lot, ...]
    placed: tuple[Placed, ...]
    stowage: Stowage
    bound: int
    cuts: int


def best_packed(
    case: Case, problem: Problem, quick: bool = False, search: Search | None = None, known: Sequence[Floats] = ()
) -> Packed:
    """The best kit that can be placed, proven; with ``quick`` a good one with its bound.

    ``search``: of the problem's program, where there is one already; ``known``: column values of kits to start from.

    1. the pooled program bounds every placing of it;
    2. its best kit, ties settled, is placed;
    3. where it can't be, the smallest set found that can't becomes a cut, and 1 again.

    Raises
    ------
    CannotBeSolved
        If what must be carried cannot be placed.
    """
    stowage = stowage_of(case)
    program, bound = problem.program, None
    check_limits(program)
    search = search or Search(program)
    while True:
        best = search.best(known=known)
        if best is None:
            raise CannotBeSolved("No kit meets the limits together.")
        if bound is None or not stowage.undecided:  # a cut that is not proven may cut the best kit off: the bound stays
            bound = best.bound if bound is None else min(bound, best.bound)
        found = (
            settled(search, best) if len(search.reduced.benefit) <= TIES_TO and not quick else lightened(search, best)
        )
        lots = lots_of(case, search.packs(found))
        placed = place(stowage, lots, apart_of(case, search, search.packs(found)))
        if placed is None and len(program.cuts) < MOST_CUTS:
            program = replace(program, cuts=(*program.cuts, cut_of(stowage, lots)))
            search, known = Search(program), ()
            continue
        if placed is None:
            found, lots, placed = thinned(case, stowage, search, lots)
        solution = solution_of(search, found)
        cuts = len(program.cuts)
        return Packed(problem, search, found, solution, tuple(lots), tuple(placed), stowage, bound, cuts)


def pack(case: Case, packed: Packed, packs: Ints) -> Packed | None:
    """The same with other packs, placed; None where they cannot be."""
    lots = lots_of(case, packs)
    placed = place(packed.stowage, lots, apart_of(case, packed.search, packs))
    if placed is None:
        return None
    lower, upper = packed.search.matrix.lower.copy(), packed.search.matrix.upper.copy()
    lower[: len(packs)] = upper[: len(packs)] = packs
    found = packed.search.best(lower=lower, upper=upper)
    if found is None:
        return None
    return replace(
        packed, found=found, solution=solution_of(packed.search, found), lots=tuple(lots), placed=tuple(placed)
    )


def apart_of(case: Case, search: Search, packs: Ints) -> dict[str, frozenset[str]]:
    """Things that should not lie all in one vehicle: what much hangs on, with its second pack or what stands in for it."""
    if len(case.trip.vehicles) < 2:
        return {}
    now, least = search.filler.value(packs), 1000.0 * case.settings.show.critical_hours
    carried = {case.catalogue.entries[i].item for i in np.flatnonzero(packs)}
    found = {}
    for i in np.flatnonzero(packs).tolist():
        item = case.catalogue.item(i)
        others = carried & set(item.substitutes)
        if packs[i] < 2 and not others:
            continue
        without = packs.copy()
        without[i] = 0
        if now - search.filler.value(without) >= least or others:
            found[item.id] = frozenset({item.id, *others})
    return found


def lots_of(case: Case, packs: Ints) -> list[Lot]:
    """Packs to place: what must be carried where it belongs, the rest where it is kept or what it suits."""
    lots = []
    meant = {m.item: m.vehicles for m in case.catalogue.must}
    shares = {m.item: m.shares for m in case.catalogue.must}
    kept: dict[str, set[str]] = {}
    for stock in case.trip.inventory:
        if stock.vehicle:
            kept.setdefault(stock.item, set()).add(stock.vehicle)
    for i, entry in enumerate(case.catalogue.entries):
        home = tuple(v for v in entry.suits if v in meant.get(entry.item, ()))
        told = [(v, n) for v, n in shares.get(entry.item, ()) if v in entry.suits]
        lots += [Lot(i, n, True, (v,)) for v, n in told]
        if rest := entry.needed - sum(n for _, n in told):
            lots.append(Lot(i, rest, True, home))
        if packs[i] > entry.needed:
            own = tuple(sorted(kept.get(entry.item, set()) & set(entry.suits)))
            lots.append(Lot(i, int(packs[i]) - entry.needed, False, own or (entry.suits if entry.scope else ())))
    return lots


def stowage_of(case: Case) -> Stowage:
    """The vehicles' bins and limits; tyres pumped up where what must be carried asks for it.

    Raises
    ------
    CannotBeSolved
        If what must be carried finds no place even so; names what would have to stay out.
    """
    must, undecided = [lot for lot in lots_of(case, case.budget.needed) if lot.must], 0
    for pumped in (False, True):
        stowage = Stowage(case.trip, case.loads, case.catalogue, case.settings, pumped)
        if place(stowage, must) is not None:
            stowage.undecided = 0
            return stowage
        undecided += stowage.undecided
    names, kept = [], must
    for lot in sorted(must, key=lambda x: (-case.catalogue.item(x.entry).volume_l * x.packs, x.entry)):
        kept = [x for x in kept if x is not lot]
        item = case.catalogue.item(lot.entry)
        names.append(f"{lot.packs} x {item.name} ({item.mass_kg:g} kg, {item.volume_l:g} L each)")
        if place(stowage, kept) is not None:
            break
    searched = " (a long search found none; it is not proven that there is none)" if undecided else ""
    raise CannotBeSolved(
        f"What must be carried finds no place within payload, axle, tyre, roof and stowage limits{searched}. It would fit without: "
        f"{several(names)}. Make room of that size, or move loads to another vehicle."
    )


def cut_of(stowage: Stowage, lots: list[Lot]) -> tuple[tuple[int, int], ...]:
    """(item, packs in all) of the smallest set found that cannot be placed."""
    must: dict[int, int] = {}
    for lot in lots:
        must[lot.entry] = must.get(lot.entry, 0) + (lot.packs if lot.must else 0)
    return tuple((lots[i].entry, lots[i].packs + must.get(lots[i].entry, 0)) for i in unplaceable(stowage, lots))


def thinned(case: Case, stowage: Stowage, search: Search, lots: list[Lot]) -> tuple[Found, list[Lot], list[Placed]]:
    """The last kit without packs of the sets that cannot be placed, one by one, until the rest can; at last what must be carried alone.

    Raises
    ------
    CannotBeSolved
        If not even that can be placed.
    """
    packs = case.budget.needed.copy()
    for lot in lots:
        packs[lot.entry] += 0 if lot.must else lot.packs
    while True:
        named = unplaceable(stowage, lots)
        if named:
            packs[lots[named[0]].entry] -= 1
        found = _within(search, packs) if named else None
        if found is None:
            found = _within(search, case.budget.needed)
            named = []
        if found is None:
            raise CannotBeSolved("What must be carried leaves no kit that can be placed.")
        lots = lots_of(case, search.packs(found))
        placed = place(stowage, lots)
        if placed is not None:
            return found, lots, placed
        if not named:
            raise CannotBeSolved("What must be carried finds no place beside what the vehicles carry already.")


def _within(search: Search, packs: Ints) -> Found | None:
    """The best kit of no more than these packs."""
    upper = search.matrix.upper.copy()
    upper[: len(packs)] = packs
    return search.best(upper=upper)
