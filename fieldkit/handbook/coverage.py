"""Which repairs the stock still covers. The page's script does the same; a test holds the two together.

A repair is covered on a vehicle when every item it takes, or stand-ins for it, are there in the quantity needed
and suit the vehicle. Items are taken in id order: the item itself first, then its stand-ins in the order that
the library lists them; a pack given to one line is not given to another.
"""

from __future__ import annotations

from collections.abc import Mapping
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
