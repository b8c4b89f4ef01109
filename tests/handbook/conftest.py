"""A small plan made by hand, and the handbook built from it once."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture(scope="session")
def plan() -> Any:
    from sample import sample_plan

    return sample_plan()


@pytest.fixture(scope="session")
def facts(plan: Any) -> Any:
    from fieldkit.handbook.book import gather

    return gather(plan)


@pytest.fixture(scope="session")
def built(plan: Any, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The handbook's folder, with the one-file variant in it."""
    from fieldkit.handbook import write_handbook

    out = tmp_path_factory.mktemp("handbook") / "out"
    write_handbook(plan, out, one_file=True)
    return out
