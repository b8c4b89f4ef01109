"""``fieldkit new``: a commented trip to edit, copied from the shipped blank trip."""

from __future__ import annotations

import shutil
from pathlib import Path

from fieldkit.errors import OutputRefused
from fieldkit.specs.read_library import shipped_folder


def new_trip(folder: Path) -> list[Path]:
    """Copy the blank trip into a new or empty folder.

    Raises
    ------
    OutputRefused
        If the folder holds anything already, or cannot be written.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise OutputRefused(f"{folder}: already there and not empty; name a new folder")
    source = shipped_folder("vehicle_specs") / "example_trips" / "blank"
    written = []
    try:
        for path in sorted(p for p in source.rglob("*") if p.is_file()):
            target = folder / path.relative_to(source)
            target.parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(path, target)
            written.append(target)
    except OSError as odd:
        raise OutputRefused(f"{folder}: cannot be written ({odd.strerror or odd}); name another folder") from None
    return written
