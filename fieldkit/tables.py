"""CSV tables with their line numbers: read whole, checked by heading, every fault kept.

Reads what spreadsheets write: a byte-order mark, blanks round headings and values, Windows line ends. Semicolons and
tabs between columns are told to be at fault, and the cells are read by them all the same, so that every other fault
comes in the same run. Lines without any cell filled are passed over and named.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from fieldkit.errors import Fault, nearest_name, several


@dataclass(frozen=True)
class Row:
    """One line of a table: its number in the file (the heading is line 1) and its cells by heading."""

    line: int
    cells: dict[str, str]


@dataclass(frozen=True)
class Table:
    """A table as read: rows in file order, faults beside them, lines that hold nothing."""

    name: str
    rows: tuple[Row, ...]
    faults: tuple[Fault, ...]
    blank: tuple[int, ...] = ()


def read_text(path: Path, name: str) -> tuple[str, list[Fault]]:
    """A file's text as UTF-8 (with or without a mark) and what was wrong with it.

    Returns
    -------
    (str, list of Fault)
        Empty text beside a fault when the file is missing, empty or not text.
    """
    try:
        raw = path.read_bytes()
    except OSError as odd:
        return "", [Fault(name, f"cannot be read ({odd.strerror or odd})", "a readable file")]
    if not raw.strip():
        return "", [Fault(name, "the file is empty", "at least one line")]
    try:
        return raw.decode("utf-8-sig"), []
    except UnicodeDecodeError as odd:
        line = raw[: odd.start].count(b"\n") + 1
        return "", [Fault(f"{name}:{line}", "not UTF-8 text", "a file saved as UTF-8")]


def read_table(path: Path, name: str, required: Sequence[str], optional: Sequence[str] = ()) -> Table:
    """A CSV file as rows by heading.

    Parameters
    ----------
    path, name : Path, str
        Where it is, and how messages call it.
    required, optional : sequence of str
        Headings that must, and may, stand in its first line.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> f = pathlib.Path(tempfile.mkdtemp()) / "t.csv"
    >>> _ = f.write_text("item ,quantity\\nfan belt , 2\\n")
    >>> read_table(f, "t.csv", ["item", "quantity"]).rows[0].cells
    {'item': 'fan belt', 'quantity': '2'}
    """
    text, faults = read_text(path, name)
    if faults:
        return Table(name, (), tuple(faults))
    mark, faults = _separator(name, text, required, optional)
    heading = [h.strip() for h in next(csv.reader(io.StringIO(text, newline=""), delimiter=mark))]
    faults += _heading_faults(name, heading, required, optional)
    if not set(required) <= set(heading) or len(set(filter(None, heading))) < len([h for h in heading if h]):
        return Table(name, (), tuple(faults))
    return _rows(name, text, heading, mark, faults)


def _separator(name: str, text: str, required: Sequence[str], optional: Sequence[str]) -> tuple[str, list[Fault]]:
    """What stands between the columns, and the fault where that is no comma."""
    first = text.splitlines()[0]
    if len(required) + len(optional) > 1 and "," not in first:
        for mark, word in ((";", "a semicolon"), ("\t", "a tab")):
            if mark in first:
                expected = "commas between columns and a decimal point in numbers"
                return mark, [Fault(f"{name}:1", f"columns are separated by {word}", expected)]
    return ",", []


def _heading_faults(name: str, heading: list[str], required: Sequence[str], optional: Sequence[str]) -> list[Fault]:
    known = [*required, *optional]
    place = f"{name}:1"
    faults = []
    for column in dict.fromkeys(heading):
        where = [str(i + 1) for i, h in enumerate(heading) if h == column]
        if len(where) > 1 and column:
            faults.append(
                Fault(
                    place,
                    f"column '{column}' stands {len(where)} times (columns {' and '.join(where)})",
                    "each column once",
                )
            )
        if column and column not in known:
            faults.append(
                Fault(
                    place,
                    f"unknown column '{column}'",
                    f"one of: {several(known, 20)}",
                    nearest_name(column, known),
                )
            )
    faults += [Fault(place, f"column '{c}' is missing", f"a column headed '{c}'") for c in required if c not in heading]
    return faults


def _rows(name: str, text: str, heading: list[str], mark: str, faults: list[Fault]) -> Table:
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark)
    next(reader)
    rows, blank = [], []
    start = reader.line_num + 1
    for cells in reader:
        line, start = start, reader.line_num + 1
        if not any(c.strip() for c in cells):
            blank.append(line)
            continue
        if len(cells) > len(heading) and any(c.strip() for c in cells[len(heading) :]):
            faults.append(
                Fault(
                    f"{name}:{line}",
                    f"{len(cells)} cells under {len(heading)} headings",
                    "quotes round a cell that holds a comma",
                )
            )
            continue
        padded = [c.strip() for c in cells] + [""] * (len(heading) - len(cells))
        rows.append(Row(line, {h: v for h, v in zip(heading, padded, strict=False) if h}))
    return Table(name, tuple(rows), tuple(faults), tuple(blank))
