"""TOML and front matter to validated specs, every mistake with its line.

The standard TOML reader keeps no line numbers, so ``lines_of`` scans the text once more and notes where each
table and key stands; a fault inside an inline value is placed at the key that holds it.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from typing import Any, TypeVar, get_args

from pydantic import BaseModel, ValidationError

from fieldkit.errors import Fault, nearest_name, several
from fieldkit.specs.base import Spec

Loc = tuple[Any, ...]
S = TypeVar("S", bound=Spec)

_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(
    r"""^\s*((?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*'))*)\s*=(.*)$"""
)
_AT = re.compile(r"\s*\(at line (\d+), column \d+\)|\s*\(at end of document\)")


def _parts(dotted: str) -> list[str]:
    return [p.strip().strip("\"'") for p in re.findall(r'"[^"]*"|\'[^\']*\'|[^.]+', dotted)]


def lines_of(text: str, first: int = 1) -> dict[Loc, int]:
    """Where each table and key of a TOML text stands: path -> line number.

    Examples
    --------
    >>> lines_of("a = 1\\n[[stop]]\\nkm = 2\\n")[("stop", 0, "km")]
    3
    """
    where: dict[Loc, int] = {}
    counts: dict[Loc, int] = {}
    prefix: Loc = ()
    quote = ""
    for number, line in enumerate(text.splitlines(), first):
        if quote:
            quote = "" if quote in line else quote
            continue
        if header := _HEADER.match(line):
            prefix = _resolve(_parts(header[2]), counts, header[1] == "[[")
            where.setdefault(prefix, number)
        elif key := _KEY.match(line):
            path = prefix + tuple(_parts(key[1]))
            for depth in range(len(prefix) + 1, len(path) + 1):
                where.setdefault(path[:depth], number)
            for mark in ('"""', "'''"):
                if key[2].count(mark) % 2:
                    quote = mark
    return where


def _resolve(names: list[str], counts: dict[Loc, int], new: bool) -> Loc:
    path: Loc = ()
    for i, name in enumerate(names):
        path += (name,)
        last = i == len(names) - 1
        if last and new:
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path += (counts[path],)
    return path


def line_at(where: Mapping[Loc, int], loc: Loc) -> int:
    """The line of the nearest known ancestor of a path (1 when none is known)."""
    for end in range(len(loc), 0, -1):
        if loc[:end] in where:
            return where[loc[:end]]
    return min(where.values(), default=1)


def parse_toml(text: str, name: str, first: int = 1) -> tuple[dict[str, Any], list[Fault]]:
    """A TOML text as a dict, or the one fault that stops it from being read."""
    try:
        return tomllib.loads(text), []
    except tomllib.TOMLDecodeError as odd:
        return {}, [_syntax_fault(str(odd), text, name, first)]


def _syntax_fault(message: str, text: str, name: str, first: int) -> Fault:
    at = _AT.search(message)
    number = int(at[1]) if at and at[1] else text.count("\n") + 1
    lines = text.splitlines() or [""]
    line = lines[min(number, len(lines)) - 1]
    place = f"{name}:{number + first - 1}"
    said = _AT.sub("", message)
    if "escape" in said.lower() or (
        "\\" in line and '"' in line and ("hex" in said.lower() or "unescaped" in said.lower())
    ):
        return Fault(
            place,
            "a backslash in double quotes is special in TOML",
            "single quotes round the text, or / instead of \\",
        )
    if twice := re.match(r"Cannot (?:declare|mutate|overwrite).*", said):
        return _twice_fault(twice[0], lines, number, name, first)
    if re.search(r"=\s*\d+[/.]\d+[/.]\d+", line):
        return Fault(
            place,
            f"'{line.split('=', 1)[1].strip()}' is not a date TOML knows",
            "an ISO date without quotes, such as 2027-06-10",
        )
    return Fault(place, f"not valid TOML: {said[:1].lower()}{said[1:]}", 'a line such as  key = "text"  or  [table]')


def _twice_fault(said: str, lines: list[str], number: int, name: str, first: int) -> Fault:
    line = lines[min(number, len(lines)) - 1].strip()
    header = _HEADER.match(line)
    what = f"table '{header[2]}'" if header else f"key '{line.split('=')[0].strip()}'"
    same = [i for i, other in enumerate(lines, 1) if i < number and _same(other, line, header is not None)]
    before = same[-1] if same else number
    return Fault(
        f"{name}:{number + first - 1}",
        f"{what} stands twice (lines {before + first - 1} and {number + first - 1})",
        "each table and key once; use [[double brackets]] for a list of tables",
    )


def _same(one: str, other: str, header: bool) -> bool:
    if header:
        a, b = _HEADER.match(one), _HEADER.match(other)
        return bool(a and b and a[2] == b[2])
    return "=" in one and one.split("=")[0].strip() == other.split("=")[0].strip()


def read_spec(
    model: type[S], data: Any, name: str, where: Mapping[Loc, int], root: Loc = ()
) -> tuple[S | None, list[Fault]]:
    """Data as a spec, or every fault in it.

    Parameters
    ----------
    model : Spec subclass
    data : dict
        As the TOML reader gave it.
    name : str
        The file's name in messages.
    where : mapping
        From ``lines_of``.
    root : tuple
        Path of ``data`` inside the file.
    """
    try:
        return model.model_validate(data), []
    except ValidationError as odd:
        return None, [_fault(error, model, name, where, root) for error in odd.errors(include_url=False)]


def _fault(error: Any, model: type[BaseModel], name: str, where: Mapping[Loc, int], root: Loc) -> Fault:
    loc = tuple(error["loc"])
    clean = tuple(p for p in loc if not (isinstance(p, str) and p.startswith(("function-", "constrained-"))))
    place = f"{name}:{line_at(where, root + clean)}"
    kind, value = error["type"], error.get("input")
    label = ".".join(str(p) for p in root + clean)
    if kind == "extra_forbidden":
        known = known_keys(model, clean[:-1])
        return Fault(
            place,
            f"unknown key '{clean[-1]}'",
            f"one of: {several(known, 40)}",
            nearest_name(str(clean[-1]), known),
        )
    if kind == "missing":
        return Fault(place, f"key '{label}' is missing", "it to be given")
    if kind == "literal_error":
        allowed = re.findall(r"'([^']*)'", str(error["ctx"]["expected"]))
        return Fault(
            place,
            f"{label} is {value!r}",
            f"one of: {several(allowed, 30)}",
            nearest_name(str(value), allowed),
        )
    message = error["msg"].removeprefix("Value error, ")
    if kind == "value_error":
        return Fault(place, f"{label}: {message}" if label else message)
    if kind == "string_pattern_mismatch":
        return Fault(place, f"{label} is {value!r}", "an id: small letters, digits and single hyphens")
    shown = f" {value!r}" if isinstance(value, (str, int, float, bool)) else ""
    return Fault(place, f"{label} is{shown or ' of the wrong kind'}", message[:1].lower() + message[1:])


def known_keys(model: type[BaseModel], path: Loc) -> list[str]:
    """The TOML keys that a spec allows at a path."""
    current: Any = model
    for part in path:
        if isinstance(part, int):
            continue
        if isinstance(current, type) and issubclass(current, BaseModel):
            fields = {(f.alias or n): f for n, f in current.model_fields.items()}
            if part in fields:
                current = _inner(fields[part].annotation)
    if isinstance(current, type) and issubclass(current, BaseModel):
        return [f.alias or n for n, f in current.model_fields.items()]
    return []


def _inner(annotation: Any) -> Any:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation
    for arg in get_args(annotation):
        if (found := _inner(arg)) is not None:
            return found
    return None
