"""Inspection forms."""

from __future__ import annotations

from pathlib import Path

from fieldkit.specs.library import Library
from fieldkit.specs.trip import Trip


def write_forms(
    library: Library,
    out: Path,
    archetype: str | None,
    trip: Trip | None,
    kind: str = "departure",
    short: bool = False,
    paper: str = "A4",
    pdf: bool = False,
) -> list[Path]:
    """Inspection forms (being written)."""
    raise NotImplementedError
