"""Marks made on a phone and findings typed into a table, brought back into a trip folder; nothing is lost, nothing counted twice."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, get_args

from fieldkit.errors import Fault, InputFaults, nearest_name, several
from fieldkit.specs.base import Spec
from fieldkit.specs.marked import MARK_TABLES, Figure, StockMove, Tick, VehicleOut
from fieldkit.specs.reading import read_spec
from fieldkit.specs.trip import FindingKind, Trip
from fieldkit.specs.trip_tables import iso_date
from fieldkit.tables import read_table, read_text

FORMAT = "fieldkit-marks-1"
FINDINGS: tuple[str, ...] = get_args(FindingKind)
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
    left_out : tuple of Fault
        What is the matter with rows that were not brought in because only sound ones were asked for.
    """

    added: dict[str, int]
    known: dict[str, int]
    conflicts: tuple[str, ...]
    notes: tuple[str, ...]
    restock: dict[str, float]
    left_out: tuple[Fault, ...] = ()


@dataclass(frozen=True)
class _Line:
    """One row on its way in, and everything that is the matter with it."""

    kind: str
    cells: dict[str, str]
    faults: tuple[Fault, ...] = ()


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
    if marks is None or faults:
        raise InputFaults(faults)
    return marks


def bring_back(trip: Trip, files: Sequence[Path], sound_rows_only: bool = False) -> BroughtBack:
    """Merge marks files and findings tables into the trip folder.

    Rows are kept once however often a file is read. Every file is read before anything is written, and each table is
    replaced whole.

    Parameters
    ----------
    sound_rows_only : bool
        Bring in the rows without a fault although others have one; a file that cannot be read as such still stops all.

    Raises
    ------
    InputFaults
        With every fault of every file; nothing is written then.
    """
    lines: list[_Line] = []
    faults: list[Fault] = []
    notes: list[str] = []
    for path in files:
        try:
            found, whole, more = _lines_of(path, trip)
        except InputFaults as odd:
            faults += odd.faults
            continue
        lines, faults, notes = [*lines, *found], [*faults, *whole], [*notes, *more]
    left_out = [fault for line in lines for fault in line.faults]
    if faults or (left_out and not sound_rows_only):
        raise InputFaults(sorted([*faults, *left_out], key=_in_order))
    incoming = {kind: [x.cells for x in lines if x.kind == kind and not x.faults] for kind in TABLES}
    return _merge(trip, incoming, notes, left_out)


def _in_order(fault: Fault) -> tuple[str, int]:
    """By file, then by line or entry."""
    file, _, rest = re.sub(r" findings ", ":", fault.place).partition(":")
    number = re.match(r"\d+", rest)
    return file, int(number[0]) if number else 0


def _lines_of(path: Path, trip: Trip) -> tuple[list[_Line], list[Fault], list[str]]:
    """A file's rows with their faults, the faults of the file itself, and notes."""
    return _table_lines(path, trip) if path.suffix.lower() == ".csv" else _marks_lines(path, trip)


def _table_lines(path: Path, trip: Trip) -> tuple[list[_Line], list[Fault], list[str]]:
    columns = TABLES["findings"][1]
    table = read_table(path, path.name, ["date", "vehicle", "failure_mode", "finding"], columns)
    lines = []
    for row in table.rows:
        cells = {c: row.cells.get(c, "") for c in columns}
        lines.append(_Line("findings", cells, tuple(_matters(cells, trip, f"{path.name}:{row.line}"))))
    notes = []
    if table.blank:
        where = several([str(n) for n in table.blank])
        notes.append(
            f"{path.name}: {'line' if len(table.blank) == 1 else 'lines'} {where} without any entry passed over"
        )
    return lines, list(table.faults), notes


def _marks_lines(path: Path, trip: Trip) -> tuple[list[_Line], list[Fault], list[str]]:
    marks = read_marks(path)
    notes = []
    if marks.trip not in (trip.id, "form"):
        notes.append(f"{path.name} was made for '{marks.trip}', not for '{trip.id}'")
    if marks.revision != trip.digest:
        notes.append(f"{path.name} comes from revision {marks.revision}; the trip is now at {trip.digest}")
    lines = []
    for kind in TABLES:
        for i, cells in enumerate(_as_rows(kind, getattr(marks, kind), marks.by), 1):
            place = f"{path.name} findings {i}"
            lines.append(_Line(kind, cells, tuple(_matters(cells, trip, place)) if kind == "findings" else ()))
    return lines, [], notes


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


def _matters(row: dict[str, str], trip: Trip, place: str) -> list[Fault]:
    """Everything that is the matter with a finding, cell by cell."""
    empty = "an empty cell; merged cells leave the ones below empty"
    known = [v.id for v in trip.vehicles]
    faults = []
    if why := iso_date(row["date"])[1] if row["date"] else empty:
        faults.append(Fault(f"{place} date", why, "an ISO date, such as 2027-01-02"))
    if row["vehicle"] not in known:
        faults.append(_unknown(f"{place} vehicle", "vehicle", row["vehicle"], known, empty))
    if row["finding"] not in FINDINGS:
        faults.append(_unknown(f"{place} finding", "finding", row["finding"], FINDINGS, empty))
    return faults + _mode_matters(row, trip, place, empty)


def _mode_matters(row: dict[str, str], trip: Trip, place: str, empty: str) -> list[Fault]:
    modes, mode = trip.library.failure_modes, row["failure_mode"]
    if mode not in modes:
        return [_unknown(f"{place} failure_mode", "weak point", mode, modes, empty)]
    if any(v.id == row["vehicle"] and not v.may_have(modes[mode]) for v in trip.vehicles):
        what = f"'{mode}' on {row['vehicle']}, which has no such part"
        return [Fault(f"{place} failure_mode", what, "a weak point this build has")]
    names = modes[mode].position_names
    if row["position"] and row["position"] not in names:
        return [_unknown(f"{place} position", "position", row["position"], names or ["no position"], empty)]
    return []


def _unknown(place: str, what: str, name: str, known: Iterable[str], empty: str) -> Fault:
    known = list(known)
    expected = f"one of: {several(known, 12)}"
    return Fault(place, f"unknown {what} '{name}'" if name else empty, expected, nearest_name(name, known))


def _merge(
    trip: Trip, incoming: dict[str, list[dict[str, str]]], notes: list[str], left_out: list[Fault]
) -> BroughtBack:
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
    disagree, packs = tuple(conflicts(merged["findings"])), restock(merged["stock"])
    return BroughtBack(added, known, disagree, tuple(notes), packs, tuple(left_out))


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
    gone: dict[tuple[str, ...], float] = {}
    for row in rows:
        line = (row["item"], row["vehicle"], row["place"], row.get("suits", ""))
        if row["what"] == "back":
            gone.pop(line, None)
        elif row["what"] in ("used", "lost"):
            gone[line] = gone.get(line, 0.0) + float(row["quantity"])
    total: dict[str, float] = {}
    for (item, *_), packs in gone.items():
        if packs:
            total[item] = total.get(item, 0.0) + packs
    return dict(sorted(total.items()))
