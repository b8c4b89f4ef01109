"""What was marked on phones, as it stands in a trip folder: ticks, figures, stock moves, vehicles that dropped out."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from fieldkit.specs.base import Spec


class Tick(Spec):
    list: str
    item: str
    at: str = ""


class Figure(Spec):
    vehicle: str
    figure: str
    value: str


class StockMove(Spec):
    item: str
    vehicle: str
    place: str
    what: Literal["used", "lost", "lent", "left", "back"]
    quantity: float = Field(gt=0)
    to: str = ""
    at: str = ""
    note: str = ""
    suits: str = ""

    @property
    def line(self) -> tuple[str, str, str, str]:
        """The line of the packing list that it is of."""
        return (self.item, self.vehicle, self.place, self.suits)


class VehicleOut(Spec):
    vehicle: str
    kit_moved: bool = False
    at: str = ""
    note: str = ""


#: kind of mark -> (file in the trip folder, its columns)
MARK_TABLES: dict[str, tuple[str, tuple[str, ...]]] = {
    "stock": ("stock_moves.csv", ("item", "vehicle", "place", "what", "quantity", "to", "at", "note", "suits")),
    "ticks": ("ticks.csv", ("list", "item", "at")),
    "figures": ("figures.csv", ("vehicle", "figure", "value")),
    "vehicles_out": ("vehicles_out.csv", ("vehicle", "kit_moved", "at", "note")),
}
