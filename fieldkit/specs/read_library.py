"""``vehicle_specs/`` (and a club's overlay) to a Library, every mistake of every file at once."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeVar

from fieldkit.errors import Fault, InputFaults, nearest_name
from fieldkit.specs.base import Spec
from fieldkit.specs.checklists import checklist_faults
from fieldkit.specs.library import (
    SECTIONS,
    Archetype,
    FailureMode,
    Function,
    Item,
    Library,
    MatchingRule,
    Modification,
    MustCarryRule,
    Procedure,
    ProcedureHead,
    Surface,
    Symptom,
)
from fieldkit.specs.reading import lines_of, parse_toml, read_spec
from fieldkit.tables import read_table, read_text

S = TypeVar("S", bound=Spec)
ID = re.compile(r"^[a-z0-9]+(-[a-z0-9]+)*$")


@dataclass
class _Found:
    """What has been read so far; later folders (overlays) replace earlier entries by id."""

    faults: list[Fault] = field(default_factory=list)
    place: dict[tuple[str, str], str] = field(default_factory=dict)
    seen: set[tuple[str, str, str]] = field(default_factory=set)


def shipped_folder(name: str) -> Path:
    """A data folder of this tool: inside the installed package, or beside it in a checkout."""
    package = Path(__file__).resolve().parent.parent
    inside = package / "_data" / name
    beside = package.parent / name
    return beside if (package.parent / "pyproject.toml").is_file() and beside.is_dir() else inside


def load_library(*overlays: Path, base: Path | None = None) -> Library:
    """The shipped library with club overlays on top.

    Parameters
    ----------
    *overlays : Path
        Folders of the same layout; their entries replace or add to the shipped ones by id.
    base : Path or None
        The library to start from; the shipped one when None.

    Raises
    ------
    InputFaults
        With every fault of every file.
    """
    base = base or shipped_folder("vehicle_specs")
    library, found = Library(base), _Found()
    for folder in (base, *overlays):
        if not folder.is_dir():
            found.faults.append(Fault(str(folder), "no such folder", "a folder laid out like vehicle_specs"))
            continue
        _read_folder(folder, library, found)
    found.faults += _reference_faults(library, found)
    if found.faults:
        raise InputFaults(sorted(found.faults))
    return library


def _read_folder(folder: Path, library: Library, found: _Found) -> None:
    for path in sorted(folder.glob("archetypes/*.toml")):
        _one_per_file(path, folder, Archetype, library.archetypes, "archetype", found)
    for path in sorted(folder.glob("failure_modes/*.toml")):
        for key in _tables(path, folder, FailureMode, library.failure_modes, "failure mode", found):
            library.subsystem_of[key] = path.stem
    for path in sorted(folder.glob("modifications/*.toml")):
        _tables(path, folder, Modification, library.modifications, "modification", found)
    for path in sorted([*folder.glob("matching.toml"), *folder.glob("matching/*.toml")]):
        _tables(path, folder, MatchingRule, library.matching, "matching", found)
    for path in sorted(folder.glob("must_carry.toml")):
        _tables(path, folder, MustCarryRule, library.must_carry, "must_carry", found)
    for path in sorted(folder.glob("functions.toml")):
        _tables(path, folder, Function, library.functions, "functions", found)
    for path in sorted([*folder.glob("symptoms.toml"), *folder.glob("symptoms/*.toml")]):
        _tables(path, folder, Symptom, library.symptoms, "symptom", found)
    for path in sorted(folder.glob("items/*.csv")):
        _items(path, folder, library, found)
    if (folder / "surfaces.csv").exists():
        _surfaces(folder / "surfaces.csv", folder, library, found)
    for path in sorted(folder.glob("procedures/*/*.md")):
        _procedure(path, folder, library, found)
    for name, words in (("features.toml", library.features), ("subsystems.toml", library.subsystems)):
        if (folder / name).exists():
            words.update({k: str(v) for k, v in _toml(folder / name, folder, found)[0].items()})
    for path in sorted([*folder.glob("settings/*.toml"), *folder.glob("checklists/*.toml")]):
        key = path.stem if path.parent.name == "settings" else f"checklist-{path.stem}"
        library.settings[key] = _toml(path, folder, found)[0]
        if path.parent.name == "checklists":
            found.faults += checklist_faults(library.settings[key], _name(path, folder))
    for path in sorted(folder.glob("texts/*.md")):
        library.texts[path.stem], faults = read_text(path, _name(path, folder))
        found.faults += faults


def _name(path: Path, folder: Path) -> str:
    return path.relative_to(folder).as_posix()


def _toml(path: Path, folder: Path, found: _Found) -> tuple[dict[str, Any], str]:
    name = _name(path, folder)
    text, faults = read_text(path, name)
    if not faults:
        data, faults = parse_toml(text, name)
    else:
        data = {}
    found.faults += faults
    return data, text


def _note(found: _Found, folder: Path, kind: str, key: str, place: str) -> None:
    if (str(folder), kind, key) in found.seen:
        found.faults.append(
            Fault(place, f"{kind} '{key}' stands twice (also at {found.place[(kind, key)]})", "each id once")
        )
    if not ID.match(key):
        found.faults.append(Fault(place, f"{kind} '{key}'", "an id: small letters, digits and single hyphens"))
    found.seen.add((str(folder), kind, key))
    found.place[(kind, key)] = place


def _one_per_file(path: Path, folder: Path, model: type[S], into: dict[str, S], kind: str, found: _Found) -> None:
    data, text = _toml(path, folder, found)
    if not data:
        return
    name = _name(path, folder)
    spec, faults = read_spec(model, data, name, lines_of(text))
    found.faults += faults
    _note(found, folder, kind, path.stem, f"{name}:1")
    if spec:
        into[path.stem] = spec


def _tables(path: Path, folder: Path, model: type[S], into: dict[str, S], kind: str, found: _Found) -> list[str]:
    data, text = _toml(path, folder, found)
    name, where = _name(path, folder), lines_of(text)
    for key, value in data.items():
        place = f"{name}:{where.get((key,), 1)}"
        if not isinstance(value, dict):
            found.faults.append(Fault(place, f"key '{key}' stands outside a table", f"one [table] per {kind}"))
            continue
        spec, faults = read_spec(model, value, name, where, (key,))
        found.faults += faults
        _note(found, folder, kind, key, place)
        if spec:
            into[key] = spec
    return list(data)


_ITEM_COLUMNS = [
    "id",
    "name",
    "kind",
    "mass_kg",
    "volume_l",
    "longest_cm",
    "pack_size",
    "price_low",
    "price_high",
    "rating_kg",
    "fits",
    "shelf_life_months",
    "travel_damage",
    "substitutes",
    "evidence",
]


def _items(path: Path, folder: Path, library: Library, found: _Found) -> None:
    def shape(cells: dict[str, str]) -> dict[str, Any]:
        split = {c: tuple(cells[c].split()) for c in ("fits", "substitutes")}
        return {**{k: v for k, v in cells.items() if v}, **split}

    _csv_specs(path, folder, Item, _ITEM_COLUMNS, shape, library.items, "item", found)


def _surfaces(path: Path, folder: Path, library: Library, found: _Found) -> None:
    columns = [f.alias or n for n, f in Surface.model_fields.items()]
    _csv_specs(
        path,
        folder,
        Surface,
        columns,
        lambda c: {k: v for k, v in c.items() if v},
        library.surfaces,
        "surface",
        found,
    )


def _csv_specs(
    path: Path,
    folder: Path,
    model: type[S],
    columns: Iterable[str],
    shape: Callable[[dict[str, str]], dict[str, Any]],
    into: dict[str, S],
    kind: str,
    found: _Found,
) -> None:
    name = _name(path, folder)
    table = read_table(path, name, list(columns))
    found.faults += table.faults
    for row in table.rows:
        key = row.cells.get("id", "")
        spec, faults = read_spec(model, shape(row.cells), name, {(): row.line, **{(c,): row.line for c in row.cells}})
        found.faults += faults
        _note(found, folder, kind, key, f"{name}:{row.line}")
        if spec:
            into[key] = spec


def _procedure(path: Path, folder: Path, library: Library, found: _Found) -> None:
    name = _name(path, folder)
    text, faults = read_text(path, name)
    match = re.match(r"\A\+\+\+\n(.*?)\n\+\+\+\n(.*)\Z", text, re.S)
    if faults or not match:
        found.faults += faults or [
            Fault(f"{name}:1", "no front matter", "TOML between two lines of +++, then Markdown")
        ]
        return
    data, faults = parse_toml(match[1], name, 2)
    found.faults += faults
    if faults:
        return
    head, faults = read_spec(ProcedureHead, data, name, lines_of(match[1], 2))
    body_line = text[: match.start(2)].count("\n") + 1
    sections, more = _sections(match[2], name, body_line)
    found.faults += [*faults, *more]
    _note(found, folder, "procedure", path.stem, f"{name}:1")
    if head:
        library.procedures[path.stem] = Procedure(path.stem, path.parent.name, head, sections)


def _sections(body: str, name: str, line: int) -> tuple[dict[str, str], list[Fault]]:
    pieces = re.split(r"^## +(.+?)\s*$", body, flags=re.M)
    titles = pieces[1::2]
    sections = {t: text.strip() for t, text in zip(titles, pieces[2::2], strict=True)}
    faults = []
    if tuple(titles) != SECTIONS:
        faults.append(
            Fault(
                f"{name}:{line}",
                f"sections are {', '.join(titles) or 'missing'}",
                f"in this order: {', '.join(SECTIONS)}",
            )
        )
    faults += [
        Fault(f"{name}:{line}", f"section '{t}' is empty", "text under every heading")
        for t, x in sections.items()
        if not x
    ]
    return sections, faults


def _reference_faults(library: Library, found: _Found) -> list[Fault]:
    return [
        *_mode_references(library, found),
        *_procedure_references(library, found),
        *_gear_references(library, found),
    ]


def _check(names: Iterable[str], known: Iterable[str], place: str, what: str) -> list[Fault]:
    known = list(known)
    return [
        Fault(place, f"unknown {what} '{n}'", f"an id of a {what} in the library", nearest_name(n, known))
        for n in names
        if n not in known
    ]


def _feature_names(library: Library) -> set[str]:
    return set(library.features) | set(library.modifications)


def _mode_references(library: Library, found: _Found) -> list[Fault]:
    faults, features = [], _feature_names(library)
    for key, mode in library.failure_modes.items():
        place = found.place[("failure mode", key)]
        faults += _check([library.subsystem_of[key]], library.subsystems, place, "subsystem")
        faults += _check([*mode.needs, *mode.needs_any, *mode.without], features, place, "feature")
        faults += _check([s.id for s in mode.symptoms], library.symptoms, place, "symptom")
        faults += _check([d.mode for d in mode.damages], library.failure_modes, place, "failure mode")
        faults += _check([r for r in mode.rates if r != "day"], library.surfaces, place, "surface")
        if mode.inspection:
            faults += _check(mode.inspection.tools, library.items, place, "item")
        for option in mode.workshop:
            faults += _check([*(option.renews or ()), *option.stress], library.failure_modes, place, "failure mode")
            faults += _check(option.fits, library.modifications, place, "modification")
    return faults


def _procedure_references(library: Library, found: _Found) -> list[Fault]:
    faults, features = [], _feature_names(library)
    for key, procedure in library.procedures.items():
        place = found.place[("procedure", key)]
        head = procedure.head
        faults += _check(head.repairs, library.failure_modes, place, "failure mode")
        faults += _check(procedure.items(), library.items, place, "item")
        faults += _check([*head.needs, *head.without], features, place, "feature")
        faults += _check([procedure.subsystem], library.subsystems, place, "subsystem")
    return faults


def _gear_references(library: Library, found: _Found) -> list[Fault]:
    faults, features = [], _feature_names(library)
    for key, item in library.items.items():
        place = found.place[("item", key)]
        faults += _check(item.fits, features, place, "feature")
        faults += _check(item.substitutes, library.items, place, "item")
    for key, part in library.modifications.items():
        place = found.place[("modification", key)]
        faults += _check([*part.needs, *part.without, *part.adds, *part.removes], features, place, "feature")
        faults += _check([*part.stress, *part.rate], library.failure_modes, place, "failure mode")
    for key, rule in library.matching.items():
        faults += _check(
            [*rule.parts, *rule.with_any], features, found.place[("matching", key)], "feature or modification"
        )
    for key, build in library.archetypes.items():
        faults += _check(build.features, features, found.place[("archetype", key)], "feature")
        faults += _check(build.stress, library.failure_modes, found.place[("archetype", key)], "failure mode")
    for key, carried in library.must_carry.items():
        faults += _check([carried.item], library.items, found.place[("must_carry", key)], "item")
        faults += _check(carried.needs, features, found.place[("must_carry", key)], "feature")
    for key, function in library.functions.items():
        faults += _check(
            function.ways,
            {m.function for m in library.failure_modes.values() if m.function},
            found.place[("functions", key)],
            "function named by a failure mode",
        )
    return faults
