"""Fixtures shared by the handbook's tests."""

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
