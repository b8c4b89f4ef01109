"""One run of reading a trip folder: the library to resolve names in, the faults found so far, the bytes of the digest."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from fieldkit.errors import Fault, nearest_name, several
from fieldkit.specs.library import Library
from fieldkit.tables import read_text


@dataclass
class Reading:
    """What one run of the reader has found: faults, notes, and the bytes that make the digest."""

    folder: Path
    library: Library
    faults: list[Fault] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)
    digest: Any = field(default_factory=hashlib.sha256)

    def text(self, path: Path) -> str:
        """A file's text; faults are kept, bytes go into the digest."""
        name = self.name(path)
        text, faults = read_text(path, name)
        self.faults += faults
        self.digest.update(name.encode() + b"\0" + text.encode())
        return text

    def name(self, path: Path) -> str:
        return path.relative_to(self.folder).as_posix() if path.is_relative_to(self.folder) else path.as_posix()

    def unknown(self, place: str, what: str, name: str, known: Iterable[str]) -> None:
        """Note a name that the library or the trip does not have."""
        known = list(known)
        self.faults.append(
            Fault(place, f"unknown {what} '{name}'", f"one of: {several(known, 12)}", nearest_name(name, known))
        )


def check_mode(reading: Reading, mode: str, positions: Iterable[str], place: str) -> None:
    modes = reading.library.failure_modes
    if mode not in modes:
        reading.unknown(place, "weak point", mode, modes)
        return
    names = modes[mode].position_names
    for position in positions:
        if position and position not in names:
            reading.unknown(place, f"position of {mode}", position, names or ("(no positions: leave it empty)",))
