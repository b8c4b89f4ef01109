"""The tables of a trip folder: legs, surfaces, findings, inventory, logbook, learned rates."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import date
from typing import Any, TypeVar

from fieldkit.errors import Fault
from fieldkit.quantities import QuantityError, parse
from fieldkit.specs.base import Spec
from fieldkit.specs.reading import read_spec
from fieldkit.specs.trip import Finding, Leg, LogEntry, Stock, SurfaceStretch, Vehicle
from fieldkit.specs.trip_reading import Reading, check_mode
from fieldkit.tables import Row, read_table

S = TypeVar("S", bound=Spec)

_ISO = re.compile(r"^\d{4}-\d{2}-\d{2}$")
_TWO_READINGS = re.compile(r"^(\d{1,2})[/.-](\d{1,2})[/.-](\d{2,4})$")
MONTHS = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
]


def _rows(reading: Reading, file: str, required: Sequence[str], optional: Sequence[str] = ()) -> tuple[Row, ...]:
    path = reading.folder / file
    if not path.is_file():
        return ()
    reading.digest.update(file.encode() + path.read_bytes())
    table = read_table(path, file, required, optional)
    reading.faults += table.faults
    return table.rows


def _number(reading: Reading, row: Row, file: str, column: str, low: float, high: float) -> float | None:
    text = row.cells.get(column, "")
    if not text:
        return None
    try:
        value = float(text)
    except ValueError:
        reading.faults.append(
            Fault(f"{file}:{row.line} {column}", f"'{text}' is not a number", "digits with a decimal point, no unit")
        )
        return None
    if not low <= value <= high:
        reading.faults.append(Fault(f"{file}:{row.line} {column}", f"{text} is not possible", f"{low:g} to {high:g}"))
        return None
    return value


def _surface(reading: Reading, row: Row, file: str) -> str:
    name = row.cells.get("surface", "")
    if name not in reading.library.surfaces:
        reading.unknown(f"{file}:{row.line} surface", "surface", name, reading.library.surfaces)
    return name


def _span(reading: Reading, row: Row, file: str) -> tuple[float, float] | None:
    start, end = (_number(reading, row, file, c, 0, 50_000) for c in ("from_km", "to_km"))
    for column, value in (("from_km", start), ("to_km", end)):
        if value is None and not row.cells.get(column):
            reading.faults.append(Fault(f"{file}:{row.line} {column}", "an empty cell", "kilometres from the start"))
    if start is None or end is None:
        return None
    if end <= start:
        reading.faults.append(Fault(f"{file}:{row.line}", f"from {start:g} to {end:g} km", "to_km beyond from_km"))
        return None
    return start, end


def read_legs(reading: Reading) -> tuple[Leg, ...]:
    legs: list[Leg] = []
    file, reach = "legs.csv", 0.0
    for row in _rows(
        reading, file, ["day", "from_km", "to_km", "surface"], ["note", "water_depth_m", "climb_m", "difficulty"]
    ):
        day, span = _number(reading, row, file, "day", 1, 400), _span(reading, row, file)
        depth = _number(reading, row, file, "water_depth_m", 0, 3)
        climb = _number(reading, row, file, "climb_m", 0, 9_000)
        grade = _number(reading, row, file, "difficulty", 1, 4)
        surface = _surface(reading, row, file)
        if day is None or span is None:
            continue
        if abs(span[0] - reach) > 0.05 and legs:
            reading.faults.append(
                Fault(
                    f"{file}:{row.line} from_km",
                    f"starts at {span[0]:g} km, the leg before ends at {reach:g} km",
                    "legs without gap or overlap",
                )
            )
        reach = span[1]
        legs.append(
            Leg(
                int(day),
                *span,
                surface,
                depth or 0.0,
                climb,
                int(grade) if grade else None,
                row.cells.get("note", ""),
                row.line,
            )
        )
    return tuple(legs)


def read_surfaces(reading: Reading) -> tuple[SurfaceStretch, ...]:
    file, stretches = "surfaces.csv", []
    for row in _rows(reading, file, ["from_km", "to_km", "surface"], ["water_depth_m", "difficulty"]):
        span, surface = _span(reading, row, file), _surface(reading, row, file)
        depth = _number(reading, row, file, "water_depth_m", 0, 3)
        grade = _number(reading, row, file, "difficulty", 1, 4)
        if span:
            stretches.append(SurfaceStretch(*span, surface, depth or 0.0, int(grade) if grade else None, row.line))
    return tuple(stretches)


def iso_date(text: str) -> tuple[date | None, str]:
    """An ISO date, or what is the matter with it.

    Examples
    --------
    >>> iso_date("02/01/2027")
    (None, "'02/01/2027' can be read as 2 January or as 1 February")
    """
    if _ISO.match(text):
        try:
            return date.fromisoformat(text), ""
        except ValueError:
            return None, f"'{text}' is not a day of the calendar"
    if match := _TWO_READINGS.match(text):
        one, two, year = int(match[1]), int(match[2]), match[3]
        if len(year) != 4:
            return None, f"'{text}' has a year of two digits"
        if one <= 12 and two <= 12 and one != two:
            return None, f"'{text}' can be read as {one} {MONTHS[two - 1]} or as {two} {MONTHS[one - 1]}"
    return None, f"'{text}' is not an ISO date"


def _dated(reading: Reading, row: Row, file: str, column: str, needed: bool) -> bool:
    """Check one date cell; False when it cannot be used."""
    text = row.cells.get(column, "")
    if not text and not needed:
        return True
    value, matter = iso_date(text) if text else (None, "an empty cell")
    if value is None:
        reading.faults.append(Fault(f"{file}:{row.line} {column}", matter, "an ISO date, such as 2027-01-02"))
    return value is not None


def _row_spec(reading: Reading, row: Row, file: str, model: type[S], cells: dict[str, Any]) -> S | None:
    data = {k: v for k, v in cells.items() if v not in ("", None)} | {"line": row.line}
    spec, faults = read_spec(model, data, file, {(): row.line, **{(c,): row.line for c in cells}})
    reading.faults += faults
    return spec


def read_findings(reading: Reading, vehicles: Sequence[Vehicle]) -> tuple[Finding, ...]:
    file, found = "findings.csv", []
    known = [v.id for v in vehicles]
    columns = ["date", "vehicle", "failure_mode", "finding"]
    for row in _rows(reading, file, columns, ["position", "measured", "inspector", "note"]):
        dated = _dated(reading, row, file, "date", True)
        place = f"{file}:{row.line}"
        if vehicles and row.cells["vehicle"] not in known:
            reading.unknown(f"{place} vehicle", "vehicle", row.cells["vehicle"], known)
        mode, position = row.cells["failure_mode"], row.cells.get("position", "")
        check_mode(reading, mode, [position] if position else [], f"{place} failure_mode")
        _part_there(reading, vehicles, row.cells["vehicle"], mode, place)
        if dated and (spec := _row_spec(reading, row, file, Finding, row.cells)):
            found.append(spec)
    return tuple(found)


def _part_there(reading: Reading, vehicles: Sequence[Vehicle], vehicle: str, mode: str, place: str) -> None:
    modes = reading.library.failure_modes
    for candidate in vehicles:
        if candidate.id == vehicle and mode in modes and not candidate.may_have(modes[mode]):
            reading.faults.append(
                Fault(
                    f"{place} failure_mode",
                    f"'{mode}' on {vehicle}, which has no such part",
                    "a weak point this build has",
                )
            )


def read_inventory(reading: Reading, vehicles: Sequence[Vehicle]) -> tuple[Stock, ...]:
    file, found = "inventory.csv", []
    known = [v.id for v in vehicles]
    for row in _rows(reading, file, ["item", "quantity"], ["owner", "vehicle", "good_until"]):
        place = f"{file}:{row.line}"
        if row.cells["item"] not in reading.library.items:
            reading.unknown(f"{place} item", "item", row.cells["item"], reading.library.items)
        if row.cells.get("vehicle") and vehicles and row.cells["vehicle"] not in known:
            reading.unknown(f"{place} vehicle", "vehicle", row.cells["vehicle"], known)
        amount = _number(reading, row, file, "quantity", 1e-9, 100_000)
        if not row.cells["quantity"]:
            reading.faults.append(Fault(f"{place} quantity", "an empty cell", "a number of packs"))
        dated = _dated(reading, row, file, "good_until", False) and amount is not None
        if dated and (spec := _row_spec(reading, row, file, Stock, {**row.cells, "quantity": amount})):
            found.append(spec)
    return tuple(found)


def read_logbook(reading: Reading) -> tuple[LogEntry, ...]:
    file, found = "logbook.csv", []
    columns = ["date", "vehicle", "kind"]
    optional = ["trip", "km", "failure_mode", "position", "procedure", "held", "hours_lost", "note"]
    for row in _rows(reading, file, columns, optional):
        dated = _dated(reading, row, file, "date", True)
        cells: dict[str, Any] = dict(row.cells)
        km = _number(reading, row, file, "km", 0, 1_000_000)
        cells["km"] = f"{km} km" if km is not None else ""
        if cells.get("failure_mode"):
            check_mode(reading, cells["failure_mode"], [], f"{file}:{row.line} failure_mode")
        if cells.get("procedure") and cells["procedure"] not in reading.library.procedures:
            reading.unknown(
                f"{file}:{row.line} procedure", "field repair", cells["procedure"], reading.library.procedures
            )
        if dated and (spec := _row_spec(reading, row, file, LogEntry, cells)):
            found.append(spec)
    return tuple(found)


def read_learned(reading: Reading) -> dict[str, tuple[float, float]]:
    """``learned.csv``: failure_mode, failures' worth a and exposure b learned from a logbook (written by ``learn``)."""
    file, learned = "learned.csv", {}
    for row in _rows(reading, file, ["failure_mode", "a", "b"], ["evidence"]):
        check_mode(reading, row.cells["failure_mode"], [], f"{file}:{row.line} failure_mode")
        a, b = (_number(reading, row, file, c, 1e-6, 1e9) for c in ("a", "b"))
        if a is not None and b is not None:
            learned[row.cells["failure_mode"]] = (a, b)
    return learned


def quantity_cell(text: str, kind: str, place: str) -> tuple[float | None, list[Fault]]:
    """A table cell that carries its own unit, as a value or a fault.

    Examples
    --------
    >>> quantity_cell("2.4 bar", "pressure", "p.csv:4")[0]
    240.0
    """
    try:
        return parse(text, kind), []
    except QuantityError as odd:
        return None, [Fault(place, str(odd))]
