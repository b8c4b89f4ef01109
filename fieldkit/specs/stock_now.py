"""What is still there of the inventory after the moves that phones marked: used, lost, lent or left is not packed again."""

from __future__ import annotations

from collections.abc import Sequence

from fieldkit.specs.marked import StockMove
from fieldkit.specs.trip import Stock


def inventory_now(inventory: Sequence[Stock], moves: Sequence[StockMove]) -> tuple[tuple[Stock, ...], list[str]]:
    """The inventory less what went, and a note for each item that did.

    Packs go from the lines of the vehicle that carried them first, then from lines of no vehicle, then from any. ``back`` undoes
    every earlier mark of its item, vehicle and place. What was bought after the inventory was written takes nothing away.

    Returns
    -------
    (tuple of Stock, list of str)
        Lines with nothing left are dropped.

    Examples
    --------
    >>> owned = [Stock(item="shovel", quantity=2, vehicle="a"), Stock(item="shovel", quantity=1)]
    >>> lost = StockMove(item="shovel", vehicle="a", place="roof", what="lost", quantity=2.0)
    >>> [s.quantity for s in inventory_now(owned, [lost])[0]]
    [1.0]
    """
    gone: dict[tuple[str, str, str, str], float] = {}
    for move in sorted(moves, key=lambda m: m.at):
        if move.what == "back":
            gone.pop(move.line, None)
        else:
            gone[move.line] = gone.get(move.line, 0.0) + move.quantity
    left = [stock.quantity for stock in inventory]
    taken: dict[str, float] = {}
    for (item, vehicle, *_), packs in gone.items():
        for n in _nearest_first(inventory, item, vehicle):
            take = min(packs, left[n])
            left[n] -= take
            packs -= take
            taken[item] = taken.get(item, 0.0) + take
    now = [s.model_copy(update={"quantity": q}) for s, q in zip(inventory, left, strict=True) if q > 1e-9]
    return tuple(now), [_note(item, packs) for item, packs in sorted(taken.items()) if packs > 0]


def _nearest_first(inventory: Sequence[Stock], item: str, vehicle: str) -> list[int]:
    mine = [n for n, stock in enumerate(inventory) if stock.item == item]
    return sorted(mine, key=lambda n: (inventory[n].vehicle != vehicle, inventory[n].vehicle != "", n))


def _note(item: str, packs: float) -> str:
    return (
        f"stock_moves.csv: {packs:g} of {item} no longer counted as owned; once replaced or home again, "
        "mark it back or take its line out"
    )
