"""Which repairs the stock still covers. The page's script does the same; a test holds the two together.

A repair is covered on a vehicle when every item it takes, or stand-ins for it, are there in the quantity needed
and suit the vehicle. Items are taken in id order: the item itself first, then its stand-ins in the order that
the library lists them; a pack given to one line is not given to another.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

EPS = 1e-9


@dataclass(frozen=True)
class Gear:
    """What coverage needs of an item: its stand-ins and the features it is for (empty: any vehicle)."""

    stand_ins: tuple[str, ...] = ()
    fits: frozenset[str] = frozenset()


def lacking(
    needs: Mapping[str, float], stock: Mapping[str, float], gear: Mapping[str, Gear], features: frozenset[str]
) -> dict[str, float]:
    """Packs lacking for one repair on one vehicle, by item; empty when it is covered.

    Parameters
    ----------
    needs, stock : mapping
        Item id to packs [packs]; fractions allowed.
    gear : mapping
        Item id to its stand-ins and features.
    features : frozenset of str
        What the vehicle has.

    Examples
    --------
    >>> gear = {"tape": Gear(("wrap",)), "wrap": Gear()}
    >>> lacking({"tape": 1}, {"wrap": 1}, gear, frozenset())
    {}
    >>> lacking({"tape": 1, "wrap": 1}, {"wrap": 1}, gear, frozenset())
    {'tape': 1.0}
    """
    left = dict(stock)
    short = {item: float(quantity) for item, quantity in sorted(needs.items())}
    for item in short:
        short[item] -= _take(left, item, short[item], gear, features)
    for item in short:
        for other in gear[item].stand_ins if item in gear else ():
            short[item] -= _take(left, other, short[item], gear, features)
    return {item: quantity for item, quantity in short.items() if quantity > EPS}


def _take(
    left: dict[str, float], item: str, wanted: float, gear: Mapping[str, Gear], features: frozenset[str]
) -> float:
    if item not in gear or not gear[item].fits <= features:
        return 0.0
    taken = min(wanted, left.get(item, 0.0))
    if taken > 0:
        left[item] -= taken
    return max(taken, 0.0)


@dataclass(frozen=True, order=True)
class Line:
    """Packs of an item as packed: the unit in which stock is marked."""

    item: str
    vehicle: str
    place: str
    quantity: float


@dataclass(frozen=True)
class Move:
    """One stock mark, as in the marks file: ``used``, ``lost``, ``lent``, ``left`` or ``back``."""

    item: str
    vehicle: str
    place: str
    what: str
    quantity: float
    to: str = ""


def stock_left(
    lines: Sequence[Line], moves: Iterable[Move], out: Mapping[str, bool], vehicles: Iterable[str]
) -> dict[tuple[str, str, str], float]:
    """Packs left of each line after the moves, without the vehicles that are out.

    Parameters
    ----------
    lines : sequence of Line
        As packed at departure.
    moves : iterable of Move
        In the order marked. Lent or left with a vehicle of the trip stays in the convoy, in that vehicle; ``back``
        undoes every earlier mark of the line. Marks of lines that are not there are passed over.
    out : mapping
        Vehicle out -> whether its kit was moved to the others first.
    vehicles : iterable of str
        Vehicles of the trip.

    Returns
    -------
    dict
        (item, vehicle, place) to packs [packs].

    Examples
    --------
    >>> lines = [Line("tape", "a", "box", 2)]
    >>> stock_left(lines, [Move("tape", "a", "box", "lent", 1, "b")], {"b": False}, ["a", "b"])
    {('tape', 'a', 'box'): 1.0}
    """
    trip = set(vehicles)
    packed = {(x.item, x.vehicle, x.place): float(x.quantity) for x in lines}
    held = {key: {key[1]: quantity} for key, quantity in packed.items()}
    for move in moves:
        key = (move.item, move.vehicle, move.place)
        if key not in held:
            continue
        if move.what == "back":
            held[key] = {move.vehicle: packed[key]}
        elif move.what in ("lent", "left") and move.to in trip:
            _hand_over(held[key], move)
        else:
            _draw(held[key], move)
    gone = {vehicle for vehicle, moved in out.items() if not moved}
    return {key: sum(q for vehicle, q in held[key].items() if vehicle not in gone) for key in packed}


def _hand_over(held: dict[str, float], move: Move) -> None:
    before = held.get(move.vehicle, 0.0)
    moved = min(move.quantity, before)
    held[move.vehicle] = before - moved
    held[move.to] = held.get(move.to, 0.0) + moved


def _draw(held: dict[str, float], move: Move) -> None:
    """Taken from where it was packed first, then from whoever else has some of it."""
    wanted = move.quantity
    for vehicle in [move.vehicle, *sorted(held)]:
        taken = min(wanted, held.get(vehicle, 0.0))
        if taken > 0:
            held[vehicle] -= taken
            wanted -= taken


@dataclass(frozen=True)
class Need:
    """A repair as coverage sees it: packs by item, and the vehicles that it is for."""

    needs: Mapping[str, float]
    vehicles: tuple[str, ...]


@dataclass(frozen=True)
class CoverNow:
    """What the marks mean: repairs no longer covered as (repair, vehicle, items lacking), items of which one is left, and none."""

    lost: tuple[tuple[str, str, tuple[str, ...]], ...]
    only_one: tuple[str, ...]
    none: tuple[str, ...]


def cover_now(
    lines: Sequence[Line],
    moves: Sequence[Move],
    out: Mapping[str, bool],
    repairs: Mapping[str, Need],
    gear: Mapping[str, Gear],
    features: Mapping[str, frozenset[str]],
) -> CoverNow:
    """Cover after the marks beside cover at departure; repairs in the order given.

    Parameters
    ----------
    lines, moves, out
        As in ``stock_left``.
    repairs : mapping
        Repair id to its needs, in number order.
    gear, features : mapping
        Item id to its stand-ins and features; vehicle id to what it has.
    """
    start = _by_item(lines, stock_left(lines, (), {}, features))
    now = _by_item(lines, stock_left(lines, moves, out, features))
    lost = []
    for repair, need in repairs.items():
        for vehicle in need.vehicles:
            short = tuple(lacking(need.needs, now, gear, features[vehicle]))
            if short and vehicle not in out and not lacking(need.needs, start, gear, features[vehicle]):
                lost.append((repair, vehicle, short))
    return CoverNow(
        tuple(lost),
        tuple(i for i in sorted(start) if start[i] > 1 and 0 < now[i] <= 1),
        tuple(i for i in sorted(start) if start[i] > 0 and now[i] <= EPS),
    )


def _by_item(lines: Sequence[Line], left: Mapping[tuple[str, str, str], float]) -> dict[str, float]:
    stock: dict[str, float] = {}
    for line in lines:
        stock[line.item] = stock.get(line.item, 0.0) + left[(line.item, line.vehicle, line.place)]
    return stock
