"""Checklists of a club's own library folder."""

from __future__ import annotations

from pathlib import Path

import pytest

from fieldkit.errors import InputFaults
from fieldkit.specs.read_library import load_library


def test_a_line_without_state_and_an_unknown_place_are_named(tmp_path: Path) -> None:
    """Every fault at once, with the line it stands in and the nearest place of the walk."""
    (tmp_path / "checklists").mkdir()
    (tmp_path / "checklists" / "own.toml").write_text(
        'title = "Own"\nmode = "READ-DO"\ntrigger = "now"\n'
        '[[item]]\nobject = "Caps"\n[[item]]\nobject = "Nuts"\nstate = "tight"\nstation = "frnt"\n',
        encoding="utf-8",
    )
    with pytest.raises(InputFaults) as odd:
        load_library(tmp_path)
    said = str(odd.value)
    assert "checklists/own.toml: Caps: no state; expected an object and the state it must be in" in said
    assert "checklists/own.toml: Nuts: station 'frnt'; expected one of: first, near" in said
    assert "did you mean 'front'?" in said
