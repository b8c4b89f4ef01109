"""Marks made on a phone and findings typed into a table, brought back into a trip folder; nothing is lost, nothing counted twice."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

from fieldkit.errors import Fault, InputFaults, nearest_name, several
from fieldkit.specs.base import Spec
from fieldkit.specs.library import Library
from fieldkit.specs.marked import MARK_TABLES, Figure, StockMove, Tick, VehicleOut
from fieldkit.specs.reading import read_spec
from fieldkit.specs.trip import FindingKind, Trip
from fieldkit.specs.trip_tables import iso_date
from fieldkit.tables import read_table, read_text

FORMAT = "fieldkit-marks-1"
#: kind of mark -> (file in the trip folder, its columns)
TABLES: dict[str, tuple[str, tuple[str, ...]]] = {
    "findings": (
        "findings.csv",
        ("date", "vehicle", "failure_mode", "position", "finding", "measured", "inspector", "note"),
    ),
    **MARK_TABLES,
}


class MarkedFinding(Spec):
    date: str
    vehicle: str
    failure_mode: str
    position: str = ""
    finding: FindingKind
    measured: str = ""
    inspector: str = ""
    note: str = ""


class Marks(Spec):
    """A marks file (``docs/schema/marks.schema.json``): one trip, one handbook revision, one device."""

    format: Literal["fieldkit-marks-1"]
    trip: str
    revision: str
    saved: str = ""
    by: str = ""
    ticks: tuple[Tick, ...]
    findings: tuple[MarkedFinding, ...]
    figures: tuple[Figure, ...] = ()
    stock: tuple[StockMove, ...]
    vehicles_out: tuple[VehicleOut, ...]


@dataclass(frozen=True)
class BroughtBack:
    """What an import changed.

    Attributes
    ----------
    added, known : dict
        Rows added to, and already in, each table of the trip folder.
    conflicts : tuple of str
        Lines on which inspectors or dates disagree; both are kept, the plan takes the worse of one date.
    notes : tuple of str
        Older revisions and names that this trip does not have.
    restock : dict
        Packs to replace by item: used or lost, moves that were taken back apart.
    """

    added: dict[str, int]
    known: dict[str, int]
    conflicts: tuple[str, ...]
    notes: tuple[str, ...]
    restock: dict[str, float]


def read_marks(path: Path) -> Marks:
    """A marks file as written by the pages.

    Raises
    ------
    InputFaults
        If it is no marks file, or with every fault in it.
    """
    text, faults = read_text(path, path.name)
    if faults:
        raise InputFaults(faults)
    try:
        data = json.loads(text)
    except json.JSONDecodeError as odd:
        raise InputFaults(
            [Fault(f"{path.name}:{odd.lineno}", f"not valid JSON: {odd.msg}", "a marks file, whole")]
        ) from None
    if not isinstance(data, dict) or data.get("format") != FORMAT:
        raise InputFaults([Fault(f"{path.name}:1", "no marks file of this tool", f'"format": "{FORMAT}"')])
    marks, faults = read_spec(Marks, data, path.name, {})
    faults += [
        Fault(f"{path.name} findings {i + 1}", why, "an ISO date, such as 2027-01-02")
        for i, row in enumerate(marks.findings if marks else ())
        if (why := iso_date(row.date)[1])
    ]
    if marks is None or faults:
        raise InputFaults(faults)
    return marks


def bring_back(trip: Trip, files: Sequence[Path]) -> BroughtBack:
    """Merge marks files and findings tables into the trip folder.

    Rows are kept once however often a file is read. Every file is read before anything is written, and each table is
    replaced whole.

    Raises
    ------
    InputFaults
        With every fault of every file; nothing is written then.
    """
    incoming: dict[str, list[dict[str, str]]] = {kind: [] for kind in TABLES}
    faults: list[Fault] = []
    notes: list[str] = []
    for path in files:
        try:
            rows, more = _rows_of(path, trip)
        except InputFaults as odd:
            faults += odd.faults
            continue
        notes += more
        for kind, found in rows.items():
            incoming[kind] += found
    for row in incoming["findings"]:
        faults += _unknown(row, trip)
    if faults:
        raise InputFaults(faults)
    return _merge(trip, incoming, notes)


def _rows_of(path: Path, trip: Trip) -> tuple[dict[str, list[dict[str, str]]], list[str]]:
    if path.suffix.lower() == ".csv":
        columns = TABLES["findings"][1]
        table = read_table(path, path.name, ["date", "vehicle", "failure_mode", "finding"], columns)
        faults = [
            *table.faults,
            *(
                Fault(f"{path.name}:{r.line} date", why, "an ISO date, such as 2027-01-02")
                for r in table.rows
                if (why := iso_date(r.cells["date"])[1])
            ),
        ]
        for row in table.rows:
            faults += read_spec(
                MarkedFinding, row.cells, path.name, {(): row.line, **{(c,): row.line for c in row.cells}}
            )[1]
        if faults:
            raise InputFaults(faults)
        return {"findings": [{c: r.cells.get(c, "") for c in columns} for r in table.rows]}, []
    marks = read_marks(path)
    notes = []
    if marks.trip not in (trip.id, "form"):
        notes.append(f"{path.name} was made for '{marks.trip}', not for '{trip.id}'")
    if marks.revision != trip.digest:
        notes.append(f"{path.name} comes from revision {marks.revision}; the trip is now at {trip.digest}")
    return {kind: _as_rows(kind, getattr(marks, kind), marks.by) for kind in TABLES}, notes


def _as_rows(kind: str, entries: Iterable[Spec], by: str) -> list[dict[str, str]]:
    rows = []
    for entry in entries:
        data: dict[str, Any] = entry.model_dump()
        if kind == "findings" and not data["inspector"]:
            data["inspector"] = by
        rows.append({c: _cell(data[c]) for c in TABLES[kind][1]})
    return rows


def _cell(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return f"{value:g}" if isinstance(value, float) else str(value)


def _unknown(row: dict[str, str], trip: Trip) -> list[Fault]:
    known = [v.id for v in trip.vehicles]
    place = f"finding of {row['date']} on {row['failure_mode']}"
    faults = []
    if row["vehicle"] not in known:
        faults.append(
            Fault(
                place,
                f"unknown vehicle '{row['vehicle']}'",
                f"one of: {several(known)}",
                nearest_name(row["vehicle"], known),
            )
        )
    return faults + _unknown_mode(row, trip.library, place)


def _unknown_mode(row: dict[str, str], library: Library, place: str) -> list[Fault]:
    modes = library.failure_modes
    if row["failure_mode"] not in modes:
        near = nearest_name(row["failure_mode"], modes)
        return [Fault(place, f"unknown weak point '{row['failure_mode']}'", "an id of the library", near)]
    names = modes[row["failure_mode"]].position_names
    if row["position"] and row["position"] not in names:
        near = nearest_name(row["position"], names)
        return [
            Fault(place, f"unknown position '{row['position']}'", f"one of: {several(names) or 'no position'}", near)
        ]
    return []


def _merge(trip: Trip, incoming: dict[str, list[dict[str, str]]], notes: list[str]) -> BroughtBack:
    added, known, texts = {}, {}, {}
    merged: dict[str, list[dict[str, str]]] = {}
    for kind, (file, columns) in TABLES.items():
        old = _existing(trip.folder / file, file, columns)
        seen = {tuple(r.values()) for r in old}
        fresh = [r for r in {tuple(r.values()): r for r in incoming[kind]}.values() if tuple(r.values()) not in seen]
        merged[kind] = [*old, *fresh]
        added[kind], known[kind] = len(fresh), len(incoming[kind]) - len(fresh)
        if fresh:
            texts[trip.folder / file] = _csv_text(columns, merged[kind])
    for path, text in texts.items():
        beside = path.with_name(path.name + ".new")
        beside.write_text(text, encoding="utf-8", newline="")
        beside.replace(path)
    return BroughtBack(added, known, tuple(conflicts(merged["findings"])), tuple(notes), restock(merged["stock"]))


def _existing(path: Path, file: str, columns: tuple[str, ...]) -> list[dict[str, str]]:
    if not path.is_file():
        return []
    table = read_table(path, file, [], columns)
    if table.faults:
        raise InputFaults(table.faults)
    return [{c: r.cells.get(c, "") for c in columns} for r in table.rows]


def _csv_text(columns: tuple[str, ...], rows: list[dict[str, str]]) -> str:
    out = io.StringIO()
    writer = csv.DictWriter(out, columns, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue()


def conflicts(rows: Iterable[dict[str, str]]) -> list[str]:
    """Findings of one day on one position that disagree.

    Examples
    --------
    >>> row = dict(date="2027-04-12", vehicle="copper", failure_mode="drive-belt", position="", finding="sound", inspector="A")
    >>> conflicts([row, row | dict(finding="worn", inspector="B")])
    ['copper, drive-belt, 2027-04-12: sound (A), worn (B)']
    """
    groups: dict[tuple[str, ...], list[tuple[str, str]]] = {}
    for row in rows:
        key: tuple[str, ...] = (row["vehicle"], row["failure_mode"], row.get("position", ""), row["date"])
        groups.setdefault(key, []).append((row["finding"], row.get("inspector", "")))
    lines = []
    for key, found in groups.items():
        if len({f for f, _ in found}) > 1:
            said = ", ".join(f"{f} ({who or 'nobody named'})" for f, who in dict.fromkeys(found))
            lines.append(f"{', '.join(k for k in key if k)}: {said}")
    return lines


def restock(rows: Iterable[dict[str, str]]) -> dict[str, float]:
    """Packs to replace by item: used or lost; ``back`` undoes every earlier mark of its line, as on the pages.

    Examples
    --------
    >>> move = dict(item="fuse-assortment", vehicle="copper", place="drawers", what="used", quantity="1")
    >>> restock([move, move | dict(what="back"), move | dict(item="tyre-plugs", quantity="2")])
    {'tyre-plugs': 2.0}
    """
    gone: dict[tuple[str, str, str], float] = {}
    for row in rows:
        line = (row["item"], row["vehicle"], row["place"])
        if row["what"] == "back":
            gone.pop(line, None)
        elif row["what"] in ("used", "lost"):
            gone[line] = gone.get(line, 0.0) + float(row["quantity"])
    total: dict[str, float] = {}
    for (item, _, _), packs in gone.items():
        if packs:
            total[item] = total.get(item, 0.0) + packs
    return dict(sorted(total.items()))
