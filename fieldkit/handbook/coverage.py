"""Which repairs the stock still covers. The page's script does the same; a test holds the two together.

A repair is covered on a vehicle when every item it takes, or stand-ins for it, are there in the quantity needed
and suit the vehicle: by its parts, and by the build that a pack is for. Items are taken in id order: the item itself first, then its stand-ins in the order that
the library lists them; a pack given to one line is not given to another.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

EPS = 1e-9

#: Item, vehicle, place, and the vehicles that the packs suit (ids with blanks between; empty: all).
Key = tuple[str, str, str, str]


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
    """Packs of an item as packed: the unit in which stock is marked. ``suits``: ids of the vehicles they are for; empty: all."""

    item: str
    vehicle: str
    place: str
    quantity: float
    suits: tuple[str, ...] = ()

    @property
    def key(self) -> Key:
        return (self.item, self.vehicle, self.place, " ".join(self.suits))


@dataclass(frozen=True)
class Move:
    """One stock mark, as in the marks file: ``used``, ``lost``, ``lent``, ``left`` or ``back``."""

    item: str
    vehicle: str
    place: str
    what: str
    quantity: float
    to: str = ""
    suits: str = ""


def stock_left(
    lines: Sequence[Line], moves: Iterable[Move], out: Mapping[str, bool], vehicles: Iterable[str]
) -> dict[Key, float]:
    """Packs left of each line after the moves, without the vehicles that are out.

    Parameters
    ----------
    lines : sequence of Line
        As packed at departure.
    moves : iterable of Move
        In the order marked. Lent or left with a vehicle of the trip stays in the convoy, in that vehicle; ``back``
        undoes every earlier mark of the line. A mark that says not which vehicles the packs suit is of the first such line;
        marks of lines that are not there are passed over.
    out : mapping
        Vehicle out -> whether its kit was moved to the others first.
    vehicles : iterable of str
        Vehicles of the trip.

    Returns
    -------
    dict
        ``Line.key`` to packs [packs].

    Examples
    --------
    >>> lines = [Line("tape", "a", "box", 2)]
    >>> stock_left(lines, [Move("tape", "a", "box", "lent", 1, "b")], {"b": False}, ["a", "b"])
    {('tape', 'a', 'box', ''): 1.0}
    """
    trip = set(vehicles)
    packed = {x.key: float(x.quantity) for x in lines}
    first = {key[:3]: key for key in reversed(packed)}
    held = {key: {key[1]: quantity} for key, quantity in packed.items()}
    for move in moves:
        spot = (move.item, move.vehicle, move.place)
        key = (*spot, move.suits) if (*spot, move.suits) in held else first.get(spot)
        if key is None:
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
    """What the marks mean: repairs no longer covered as (repair, vehicle, items lacking), and (item, vehicles it suits) of which
    one is left, and none.
    """

    lost: tuple[tuple[str, str, tuple[str, ...]], ...]
    only_one: tuple[tuple[str, str], ...]
    none: tuple[tuple[str, str], ...]


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
    at_start, at_present = stock_left(lines, (), {}, features), stock_left(lines, moves, out, features)
    first = {v: stock_for(lines, at_start, v) for v in features}
    now = {v: stock_for(lines, at_present, v) for v in features}
    lost = []
    for repair, need in repairs.items():
        for vehicle in need.vehicles:
            short = tuple(lacking(need.needs, now[vehicle], gear, features[vehicle]))
            if short and vehicle not in out and not lacking(need.needs, first[vehicle], gear, features[vehicle]):
                lost.append((repair, vehicle, short))
    had, have = by_kind(lines, at_start), by_kind(lines, at_present)
    return CoverNow(
        tuple(lost),
        tuple(i for i in sorted(had) if had[i] > 1 and 0 < have[i] <= 1),
        tuple(i for i in sorted(had) if had[i] > 0 and have[i] <= EPS),
    )


def stock_for(lines: Sequence[Line], left: Mapping[Key, float], vehicle: str) -> dict[str, float]:
    """Packs by item that suit a vehicle.

    >>> lines = [Line("belt", "a", "box", 2, ("a",)), Line("tape", "a", "box", 1)]
    >>> stock_for(lines, stock_left(lines, (), {}, "ab"), "b")
    {'tape': 1.0}
    """
    stock: dict[str, float] = {}
    for line in lines:
        if not line.suits or vehicle in line.suits:
            stock[line.item] = stock.get(line.item, 0.0) + left[line.key]
    return stock


def by_kind(lines: Sequence[Line], left: Mapping[Key, float]) -> dict[tuple[str, str], float]:
    """Packs by (item, vehicles that they suit): packs that can stand for each other."""
    stock: dict[tuple[str, str], float] = {}
    for line in lines:
        kind = (line.item, line.key[3])
        stock[kind] = stock.get(kind, 0.0) + left[line.key]
    return stock
