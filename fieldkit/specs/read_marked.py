"""The tables of a trip folder that phones filled: ticks, figures, stock moves, vehicles out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, TypeVar

from fieldkit.errors import Fault
from fieldkit.specs.base import Spec
from fieldkit.specs.marked import MARK_TABLES, Figure, StockMove, Tick, VehicleOut
from fieldkit.specs.reading import read_spec
from fieldkit.specs.trip import Vehicle
from fieldkit.specs.trip_reading import Reading
from fieldkit.tables import Row, read_table

S = TypeVar("S", bound=Spec)


def read_ticks(reading: Reading) -> tuple[Tick, ...]:
    """``ticks.csv``: lines of checklists and forms that were ticked."""
    return _read(reading, "ticks", ["list", "item"], Tick)


def read_stock_moves(reading: Reading) -> tuple[StockMove, ...]:
    """``stock_moves.csv``: what was used, lost, lent, left or brought back."""
    return _read(reading, "stock", ["item", "what", "quantity"], StockMove)


def read_vehicles_out(reading: Reading) -> tuple[VehicleOut, ...]:
    """``vehicles_out.csv``: vehicles that dropped out on the way."""
    return _read(reading, "vehicles_out", ["vehicle"], VehicleOut)


def with_figures(reading: Reading, vehicles: Sequence[Vehicle]) -> list[Vehicle]:
    """Vehicles with the figures of ``figures.csv`` on the blank lines of their sheets; a line that is filled in stands."""
    typed = _read(reading, "figures", ["vehicle", "figure", "value"], Figure)
    known = {v.id for v in vehicles}
    reading.warnings += [
        f"figures.csv: no vehicle '{name}' on this trip"
        for name in dict.fromkeys(f.vehicle for f in typed)
        if vehicles and name not in known
    ]
    return [_filled(reading, v, [f for f in typed if f.vehicle == v.id]) for v in vehicles]


def _filled(reading: Reading, vehicle: Vehicle, typed: Sequence[Figure]) -> Vehicle:
    sheet = dict(vehicle.spec.figures)
    for figure, value in {f.figure: f.value.strip() for f in typed}.items():
        own = sheet.get(figure, "").strip()
        if own and value and own != value:
            reading.warnings.append(
                f"figures.csv: {figure} of {vehicle.id} is '{value}', the vehicle's file says '{own}'; the file stands"
            )
        elif value:
            sheet[figure] = value
    return replace(vehicle, spec=vehicle.spec.model_copy(update={"figures": sheet})) if typed else vehicle


def _read(reading: Reading, kind: str, required: Sequence[str], model: type[S]) -> tuple[S, ...]:
    file, columns = MARK_TABLES[kind]
    path = reading.folder / file
    if not path.is_file():
        return ()
    reading.digest.update(file.encode() + path.read_bytes())
    table = read_table(path, file, required, [c for c in columns if c not in required])
    reading.faults += table.faults
    found = []
    for row in table.rows:
        spec, faults = _spec(row, file, model)
        reading.faults += faults
        if spec is not None:
            found.append(spec)
    return tuple(found)


def _spec(row: Row, file: str, model: type[S]) -> tuple[S | None, list[Fault]]:
    data: dict[str, Any] = dict(row.cells)
    if "kit_moved" in data:
        data["kit_moved"] = data["kit_moved"].lower() in ("yes", "true", "1")
    if "quantity" in data:
        try:
            data["quantity"] = float(data["quantity"])
        except ValueError:
            found = f"'{data['quantity']}' is not a number"
            return None, [Fault(f"{file}:{row.line} quantity", found, "a number of packs, with a decimal point")]
    if model is StockMove:
        data = {"vehicle": "", "place": "", **data}
    return read_spec(model, data, file, {(): row.line, **{(c,): row.line for c in data}})
