"""After the trip: faults to put right, stock to replace, loans to bring back, vehicles left on the way."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Literal

from fieldkit.inspection.defects import unsafe_defect
from fieldkit.inspection.work import money, suits
from fieldkit.loads.fitted_tyres import features_of
from fieldkit.specs.library import FailureMode, WorkshopOption
from fieldkit.specs.marked import StockMove, VehicleOut
from fieldkit.specs.trip import Finding, Trip, Vehicle

WORSE = ("sound", "renewed", "not-seen", "worn", "defective")


@dataclass(frozen=True)
class Fault:
    """Something to put right on a vehicle.

    ``found``: worn, defective or failed (failed stands in the logbook); ``day`` and ``who`` of it, ``note`` as written; ``new``:
    found on the day of departure or later; ``unsafe``: a defect of it stops the vehicle. ``mend``: the least costly work that suits
    the vehicle, its ``hours`` [h], parts from ``cost_low`` to ``cost_high`` [the trip's currency] and ``lead_weeks`` [weeks]; blank and
    None where the library has none.
    """

    vehicle: str
    name: str
    mode: str
    title: str
    position: str
    found: Literal["worn", "defective", "failed"]
    day: date
    who: str
    note: str
    new: bool
    unsafe: bool
    mend: str = ""
    hours: float | None = None
    cost_low: float | None = None
    cost_high: float | None = None
    lead_weeks: float | None = None


@dataclass(frozen=True)
class Restock:
    """Packs of one item to replace: used and lost [packs], from which vehicles; prices of all of them, low and high."""

    item: str
    name: str
    used: float
    lost: float
    vehicles: tuple[str, ...]
    price_low: float | None
    price_high: float | None

    @property
    def packs(self) -> float:
        return self.used + self.lost


@dataclass(frozen=True)
class Loan:
    """Packs lent, or left with a vehicle: from whom, to whom, when. ``back``: brought back since."""

    item: str
    name: str
    packs: float
    vehicle: str
    to: str
    left: bool
    day: str
    back: bool
    note: str = ""


@dataclass(frozen=True)
class LeftBehind:
    """A vehicle that dropped out. ``kit_moved``: its kit went to the others first."""

    vehicle: str
    name: str
    kit_moved: bool
    day: str
    note: str


@dataclass(frozen=True)
class AfterTrip:
    """What is left to do after a trip, from its findings, logbook, stock moves and vehicles out.

    ``faults``: unsafe ones first, then by vehicle in the trip's order; ``restock`` by item; ``loans`` outstanding ones first;
    ``out``: vehicles left on the way. ``loose``: names in the moves that neither the trip nor the library has.
    """

    faults: tuple[Fault, ...]
    restock: tuple[Restock, ...]
    loans: tuple[Loan, ...]
    out: tuple[LeftBehind, ...]
    loose: tuple[str, ...]

    def of(self, vehicle: str) -> AfterTrip:
        """The same for one vehicle; loans that it gave and that it holds."""
        return AfterTrip(
            tuple(f for f in self.faults if f.vehicle == vehicle),
            tuple(r for r in self.restock if vehicle in r.vehicles),
            tuple(x for x in self.loans if vehicle in (x.vehicle, x.to)),
            tuple(o for o in self.out if o.vehicle == vehicle),
            (),
        )

    @property
    def empty(self) -> bool:
        return not (self.faults or self.restock or self.loans or self.out)


def after_trip(trip: Trip) -> AfterTrip:
    """What a trip leaves to do: faults to the workshop, stock to the shop, loans to their owners.

    1. faults: the latest finding of each position that is worn or defective, and failures in the logbook that nothing
       has renewed since;
    2. restock and loans: the stock moves in the order of their times; ``back`` undoes every earlier move of its line;
    3. vehicles out.

    Parameters
    ----------
    trip : Trip
        With what ``fieldkit findings`` brought back.
    """
    gone, loans = _settled(trip)
    return AfterTrip(
        tuple(_faults(trip)),
        tuple(_restock(trip, gone)),
        tuple(sorted(loans, key=lambda x: (x.back, x.day, x.item))),
        tuple(LeftBehind(o.vehicle, _name(trip, o.vehicle), o.kit_moved, o.at[:10], o.note) for o in _last_out(trip)),
        tuple(_loose(trip)),
    )


# ---------------------------------------------------------------------------------------------- faults
def _faults(trip: Trip) -> list[Fault]:
    order = {v.id: n for n, v in enumerate(trip.vehicles)}
    found = [*_from_findings(trip), *_from_logbook(trip)]
    found.sort(key=lambda f: (not f.unsafe, order[f.vehicle], not f.new, f.title, f.position))
    return found


def _from_findings(trip: Trip) -> Iterable[Fault]:
    for vehicle in trip.vehicles:
        for (mode, position), finding in sorted(standing(trip.findings, vehicle.id).items()):
            if finding.finding == "worn" or finding.finding == "defective":
                yield _fault(
                    trip, vehicle, mode, position, finding.finding, finding.date, finding.inspector, _said(finding)
                )


def standing(findings: Iterable[Finding], vehicle: str) -> dict[tuple[str, str], Finding]:
    """The finding that stands for each (weak point, position) of a vehicle: the latest, of one day the worst.

    A finding on all positions (position blank) replaces what single positions said before it; not-seen replaces nothing.
    """
    mine = [f for f in findings if f.vehicle == vehicle and f.finding != "not-seen"]
    mine.sort(key=lambda f: (f.date, WORSE.index(f.finding), f.line))
    found: dict[tuple[str, str], Finding] = {}
    for finding in mine:
        if not finding.position:
            for key in [k for k in found if k[0] == finding.failure_mode and found[k].date < finding.date]:
                del found[key]
        found[(finding.failure_mode, finding.position)] = finding
    return found


def _said(finding: Finding) -> str:
    return "; ".join(filter(None, (finding.measured, finding.note)))


def _from_logbook(trip: Trip) -> Iterable[Fault]:
    """Failures since departure that no look and no renewal has closed since."""
    for vehicle in trip.vehicles:
        latest = standing(trip.findings, vehicle.id)
        for entry in trip.logbook:
            if entry.kind != "failure" or entry.vehicle != vehicle.id or entry.date < trip.head.start:
                continue
            closed = any(
                e.kind == "renewed" and e.vehicle == vehicle.id and e.failure_mode == entry.failure_mode
                and e.position in ("", entry.position) and e.date >= entry.date
                for e in trip.logbook
            )  # fmt: skip
            looked = [f for (m, p), f in latest.items() if m == entry.failure_mode and p in ("", entry.position)]
            if entry.failure_mode and not closed and not any(f.date >= entry.date for f in looked):
                note = "; ".join(filter(None, (entry.procedure and f"field repair: {entry.procedure}", entry.note)))
                yield _fault(trip, vehicle, entry.failure_mode, entry.position, "failed", entry.date, "logbook", note)


def _fault(
    trip: Trip,
    vehicle: Vehicle,
    key: str,
    position: str,
    found: Literal["worn", "defective", "failed"],
    day: date,
    who: str,
    note: str,
) -> Fault:
    mode = trip.library.failure_modes[key]
    work = _cheapest(trip, vehicle, mode)
    return Fault(
        vehicle.id,
        vehicle.name,
        key,
        mode.title,
        position,
        found,
        day,
        who,
        note,
        day >= trip.head.start,
        found != "worn" and unsafe_defect(mode),
        *((work.title, work.hours, work.cost_low, work.cost_high, work.lead_weeks) if work else ()),
    )


def _cheapest(trip: Trip, vehicle: Vehicle, mode: FailureMode) -> WorkshopOption | None:
    """The least costly work that renews the weak point itself and suits the vehicle."""
    features = features_of(vehicle)
    options = [o for o in mode.workshop if (o.renews is None or o.renews) and suits(o, trip.library, vehicle, features)]
    return min(options, key=lambda o: (money(o, trip.head.limits), o.hours, o.id), default=None)


# ----------------------------------------------------------------------------------------------- stock
Line = tuple[str, str, str, str]


def _settled(trip: Trip) -> tuple[dict[Line, list[StockMove]], list[Loan]]:
    """Used and lost moves that stand, by line, and every loan with whether it came back."""
    gone: dict[Line, list[StockMove]] = {}
    open_loans: dict[Line, list[StockMove]] = {}
    loans: list[Loan] = []
    for move in sorted(trip.stock_moves, key=lambda m: m.at):
        line = move.line
        if move.what == "back":
            gone.pop(line, None)
            loans += [_loan(trip, m, True) for m in open_loans.pop(line, [])]
        elif move.what in ("used", "lost"):
            gone.setdefault(line, []).append(move)
        else:
            open_loans.setdefault(line, []).append(move)
    loans += [_loan(trip, m, False) for moves in open_loans.values() for m in moves]
    return gone, loans


def _loan(trip: Trip, move: StockMove, back: bool) -> Loan:
    name = _item(trip, move.item)
    return Loan(
        move.item, name, move.quantity, move.vehicle, move.to, move.what == "left", move.at[:10], back, move.note
    )


def _restock(trip: Trip, gone: dict[Line, list[StockMove]]) -> Iterable[Restock]:
    moves = [m for found in gone.values() for m in found]
    for item in sorted({m.item for m in moves}):
        mine = [m for m in moves if m.item == item]
        used, lost = (sum(m.quantity for m in mine if m.what == what) for what in ("used", "lost"))
        spec = trip.library.items.get(item)
        yield Restock(
            item,
            _item(trip, item),
            used,
            lost,
            tuple(sorted({m.vehicle for m in mine})),
            (used + lost) * spec.price_low if spec else None,
            (used + lost) * spec.price_high if spec else None,
        )


def _last_out(trip: Trip) -> list[VehicleOut]:
    """One entry per vehicle, the latest."""
    return list({o.vehicle: o for o in sorted(trip.vehicles_out, key=lambda o: o.at)}.values())


def _item(trip: Trip, item: str) -> str:
    return trip.library.items[item].name if item in trip.library.items else item


def _name(trip: Trip, vehicle: str) -> str:
    return next((v.name for v in trip.vehicles if v.id == vehicle), vehicle)


def _loose(trip: Trip) -> list[str]:
    """Names that nothing on this trip bears: typed by hand, or from an older revision."""
    vehicles = {v.id for v in trip.vehicles}
    items = dict.fromkeys(m.item for m in trip.stock_moves if m.item not in trip.library.items)
    cars = dict.fromkeys(
        [m.vehicle for m in trip.stock_moves if m.vehicle and m.vehicle not in vehicles]
        + [o.vehicle for o in trip.vehicles_out if o.vehicle not in vehicles]
    )
    return [f"no item '{i}' in the library" for i in items] + [f"no vehicle '{v}' on this trip" for v in cars]


# ----------------------------------------------------------------------------------------------- words
def after_lines(after: AfterTrip, currency: str) -> list[str]:
    """An AfterTrip as lines for a terminal, each with what it is first."""
    lines = [f"put right: {_fault_words(f, currency)}" for f in after.faults]
    lines += [f"to restock: {r.packs:g} x {r.name}{_price_words(r, currency)}" for r in after.restock]
    lines += [loan_words(x) for x in after.loans]
    lines += [
        f"left on the way: {o.name}{f', {o.day}' if o.day else ''}; its kit "
        f"{'was moved to the others' if o.kit_moved else 'is still in it'}{f'; {o.note}' if o.note else ''}"
        for o in after.out
    ]
    return lines + [f"note: {x}" for x in after.loose]


def _fault_words(fault: Fault, currency: str) -> str:
    where = f" ({fault.position})" if fault.position else ""
    stop = ", STOPS THE VEHICLE" if fault.unsafe else ""
    mend = (
        f"; {fault.mend}, {fault.hours:g} h, parts {fault.cost_low:.0f} to {fault.cost_high:.0f} {currency}"
        if fault.mend
        else ""
    )
    return f"{fault.name}: {fault.title}{where}: {fault.found}{stop}, {fault.day.isoformat()}{mend}"


def _price_words(entry: Restock, currency: str) -> str:
    if entry.price_low is None or entry.price_high is None:
        return ""
    return f", {entry.price_low:.0f} to {entry.price_high:.0f} {currency}"


def loan_words(loan: Loan) -> str:
    """One loan in words.

    Examples
    --------
    >>> loan_words(Loan("jack", "bottle jack", 1.0, "copper", "lantern", False, "2027-06-14", False))
    'to bring back: 1 x bottle jack, copper lent it to lantern, 2027-06-14'
    """
    what = "back already" if loan.back else "to bring back"
    way = "left it with" if loan.left else "lent it to"
    day = f", {loan.day}" if loan.day else ""
    return f"{what}: {loan.packs:g} x {loan.name}, {loan.vehicle} {way} {loan.to or 'nobody named'}{day}"


def totals(faults: Sequence[Fault]) -> tuple[float, float, float]:
    """Hours, and parts low and high, of the work that the faults name; one work counts once per vehicle."""
    once = {(f.vehicle, f.mend): f for f in faults if f.mend}.values()
    return (
        sum(f.hours or 0.0 for f in once),
        sum(f.cost_low or 0.0 for f in once),
        sum(f.cost_high or 0.0 for f in once),
    )
