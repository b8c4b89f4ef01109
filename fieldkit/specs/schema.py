"""The published formats: JSON Schemas of what people write, and ``docs/formats.md`` made from the same models.

``python -m fieldkit.specs.schema docs`` writes them anew; a test holds the files in docs/ equal to what this makes.
"""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

from pydantic_core import PydanticUndefined

from fieldkit.specs.base import Spec
from fieldkit.specs.library import (
    Archetype,
    FailureMode,
    Function,
    Item,
    Library,
    MatchingRule,
    Modification,
    MustCarryRule,
    ProcedureHead,
    Surface,
    Symptom,
)
from fieldkit.specs.trip import Finding, LogEntry, Stock, TripHead, VehicleSpec

#: schema name -> (model, heading, file it describes)
PUBLISHED: dict[str, tuple[type[Spec], str, str]] = {
    "trip": (TripHead, "A trip", "trip.toml"),
    "vehicle": (VehicleSpec, "A vehicle", "vehicles/*.toml"),
    "finding": (Finding, "Findings", "findings.csv"),
    "stock": (Stock, "What people own", "inventory.csv"),
    "logbook": (LogEntry, "The logbook", "logbook.csv"),
    "archetype": (Archetype, "A build", "vehicle_specs/archetypes/<id>.toml"),
    "failure-mode": (FailureMode, "A weak point", "vehicle_specs/failure_modes/<subsystem>.toml, one table each"),
    "procedure": (ProcedureHead, "A field repair", "vehicle_specs/procedures/<subsystem>/<id>.md, front matter"),
    "modification": (Modification, "A modification", "vehicle_specs/modifications/<subsystem>.toml, one table each"),
    "matching-rule": (MatchingRule, "A set that must match", "vehicle_specs/matching/*.toml, one table each"),
    "must-carry-rule": (MustCarryRule, "What must be carried", "vehicle_specs/must_carry.toml, one table each"),
    "function": (Function, "Parts that back each other up", "vehicle_specs/functions.toml, one table each"),
    "symptom": (Symptom, "A symptom", "vehicle_specs/symptoms/*.toml, one table each"),
    "item": (Item, "Gear", "vehicle_specs/items/<kind>.csv"),
    "surface": (Surface, "A surface", "vehicle_specs/surfaces.csv"),
}

_TABLES = """\
Tables that a trip folder may hold beside `trip.toml` (headings exactly as here; order free):

| file | headings | optional headings |
|---|---|---|
| `legs.csv` | day, from_km, to_km, surface | note, water_depth_m, climb_m, difficulty |
| `surfaces.csv` | from_km, to_km, surface | water_depth_m, difficulty |
| `findings.csv` | date, vehicle, failure_mode, finding | position, measured, inspector, note |
| `inventory.csv` | item, quantity | owner, vehicle, good_until |
| `logbook.csv` | date, vehicle, kind | trip, km, failure_mode, position, procedure, held, hours_lost, note |
| `ticks.csv` | list, item | at |
| `figures.csv` | vehicle, figure, value | |
| `stock_moves.csv` | item, what, quantity | vehicle, place, to, at, note, suits (vehicles that the packs suit, where not all) |
| `vehicles_out.csv` | vehicle | kit_moved, at, note |

CSV files are UTF-8 (a byte-order mark is fine), separated by commas, with a decimal point and ISO dates (2027-06-12).
"""


def schema_of(model: type[Spec]) -> dict[str, Any]:
    """The JSON Schema of a model by its TOML keys."""
    return model.model_json_schema(by_alias=True)


def formats_markdown() -> str:
    """``docs/formats.md``: one table per format, keys in the order of the model."""
    parts = [
        "# Formats",
        "Made from the models in `fieldkit/specs/` by `python -m fieldkit.specs.schema docs`; do not edit by hand. "
        "The same formats as JSON Schema are in [schema/](schema/).",
        'Quantities in TOML are text with a unit: `"85 kg"`, `"2.3 t"`, `"33 in"`, `"18 psi"`. A bare number where a '
        "unit is needed is refused. Unknown keys are refused.",
        _TABLES,
    ]
    for model, heading, file in PUBLISHED.values():
        doc = (model.__doc__ or "").strip().split("\n\n")[0].replace("\n", " ")
        parts += [f"## {heading}", f"`{file}`", *([" ".join(doc.split())] if doc else []), *_model_tables(model)]
    return "\n\n".join(p.strip("\n") for p in parts) + "\n"


def _model_tables(model: type[Spec]) -> list[str]:
    schema = schema_of(model)
    tables = [_table(schema)]
    for name, inner in schema.get("$defs", {}).items():
        if "properties" in inner:
            tables += [f"*{name}*", _table(inner)]
    return tables


def _table(schema: dict[str, Any]) -> str:
    needed = set(schema.get("required", []))
    lines = ["| key | value | |", "|---|---|---|"]
    for key, prop in schema["properties"].items():
        default = prop.get("default", PydanticUndefined)
        note = (
            "needed"
            if key in needed
            else f"default {json.dumps(default)}"
            if default not in (PydanticUndefined, None)
            else "optional"
        )
        lines.append(f"| `{key}` | {_kind(prop)} | {note} |")
    return "\n".join(lines)


def _kind(prop: dict[str, Any]) -> str:
    if "$ref" in prop:
        return prop["$ref"].rsplit("/", 1)[1]
    if "anyOf" in prop:
        return " or ".join(k for k in dict.fromkeys(_kind(p) for p in prop["anyOf"]) if k != "null")
    if "enum" in prop:
        return "one of " + ", ".join(f"`{v}`" for v in prop["enum"])
    if "const" in prop:
        return f"`{prop['const']}`"
    if prop.get("type") == "array":
        return f"list of {_kind(prop.get('items') or prop.get('prefixItems', [{}])[0])}"
    if prop.get("type") == "object":
        values = prop.get("additionalProperties")
        return f"table of {_kind(values)}" if isinstance(values, dict) else "table"
    if "examples" in prop:
        return f'{prop["description"].split(";")[0]}, such as `"{prop["examples"][0]}"`'
    limits = [
        f"{word} {prop[k]:g}"
        for k, word in (("minimum", "at least"), ("exclusiveMinimum", "above"), ("maximum", "at most"))
        if k in prop
    ]
    if prop.get("format") == "date":
        return "date"
    return " ".join([{"string": "text"}.get(prop.get("type", ""), prop.get("type", "any")), *limits])


def library_markdown(library: Library) -> str:
    """``docs/library.md``: what the shipped library holds, by id, for people who write trips."""
    parts = ["# What the library holds", "Made by `python -m fieldkit.specs.schema docs`; do not edit by hand."]
    parts += ["## Builds", _listing((k, f"{a.name}: {a.summary}") for k, a in sorted(library.archetypes.items()))]
    parts += [
        "## Modifications",
        _listing((k, f"{m.name}: {m.summary}") for k, m in sorted(library.modifications.items())),
    ]
    parts += ["## Surfaces", _listing((k, s.name) for k, s in library.surfaces.items())]
    parts.append("## Weak points")
    for subsystem, words in library.subsystems.items():
        modes = {k: m for k, m in library.failure_modes.items() if library.subsystem_of[k] == subsystem}
        if modes:
            parts += [f"### {words}", _listing((k, _mode_line(library, k)) for k in sorted(modes))]
    parts += [
        "## Items",
        _listing((k, f"{i.name}, {i.mass_kg:g} kg, {i.kind}") for k, i in sorted(library.items.items())),
    ]
    parts += ["## Features", _listing(sorted(library.features.items()))]
    return "\n\n".join(parts) + "\n"


def _mode_line(library: Library, key: str) -> str:
    mode = library.failure_modes[key]
    names = f" (positions: {', '.join(mode.position_names)})" if mode.position_names else ""
    return f"{mode.title}{names}"


def _listing(rows: Any) -> str:
    return "\n".join(f"- `{key}`: {words}" for key, words in rows)


def write_docs(docs: Path, library: Library) -> None:
    """Write ``formats.md``, ``library.md`` and ``schema/*.schema.json`` into a docs folder."""
    (docs / "schema").mkdir(parents=True, exist_ok=True)
    for name, (model, _, _) in PUBLISHED.items():
        text = json.dumps(schema_of(model), indent=1, ensure_ascii=False) + "\n"
        (docs / "schema" / f"{name}.schema.json").write_text(text, encoding="utf-8", newline="\n")
    (docs / "formats.md").write_text(formats_markdown(), encoding="utf-8", newline="\n")
    (docs / "library.md").write_text(library_markdown(library), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    from fieldkit.specs.read_library import load_library

    write_docs(Path(sys.argv[1]), load_library())
