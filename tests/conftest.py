"""Rules of a test here.

1. Its name is a sentence; its docstring says which promise it holds.
2. Published values live in tests/published, with source, table or page, printed value and tolerance; values derived here or from
   memory live in tests/crosscheck and say so; figures that only pin today's behaviour say "regression".
3. Invented data stays in tests/data or the example trips.
4. Bad input is one file per fault in tests/data/bad, or one change to a sound trip, and asserts the whole message.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import settings

from fieldkit.specs.library import Library
from fieldkit.specs.read_library import load_library, shipped_folder

settings.register_profile("steady", deadline=None, derandomize=True)  # same examples each run, no timed tests
settings.load_profile("steady")

ROOT = Path(__file__).parent.parent
DATA = ROOT / "tests" / "data"
EXAMPLES = shipped_folder("vehicle_specs") / "example_trips"


def shared(name: str) -> Path | None:
    """A folder of test data that is read in place where it is at hand (``$FIELDKIT_SHARED`` or ../shared)."""
    for base in (os.environ.get("FIELDKIT_SHARED"), ROOT.parent / "shared", ROOT.parent.parent / "shared"):
        if base and (Path(base) / name).is_dir():
            return Path(base) / name
    return None


@pytest.fixture(scope="session")
def library() -> Library:
    """The shipped library, read once."""
    return load_library()


@pytest.fixture(scope="session")
def name_tool() -> Path | None:
    """The check for makers' names, where it is beside this checkout."""
    folder = shared("tools")
    return folder / "find_real_names.py" if folder else None


@pytest.fixture
def blank(tmp_path: Path) -> Path:
    """A copy of the blank trip to spoil."""
    return Path(shutil.copytree(EXAMPLES / "blank", tmp_path / "trip"))


@pytest.fixture
def spoil(blank: Path) -> Callable[[str, str, str], Path]:
    """Replace text in one file of the blank trip; fails when the text is not there."""

    def change(file: str, old: str, new: str) -> Path:
        path = blank / file
        text = path.read_text(encoding="utf-8")
        assert old in text, f"{old!r} is not in {file}"
        path.write_text(text.replace(old, new, 1), encoding="utf-8")
        return blank

    return change
