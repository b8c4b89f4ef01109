"""The rig sheet as plain data."""

from __future__ import annotations

import pytest

from fieldkit.loads.drawing import Drawing
from fieldkit.recovery import Block, Gear, rig, rig_sheet

BLOCK = Block("snatch block", 8000, 0.1)


def shapes(drawing: Drawing, role: str) -> list[object]:
    return [s for s in drawing.shapes if s.role == role]


@pytest.mark.parametrize("lines", range(1, 11))
def test_lines_blocks_and_numbers_are_those_of_the_rig(lines: int) -> None:
    """So many parts of line, one block less, one number for each part, all on the sheet."""
    found = rig(1000 * lines * 0.55, 1000) if lines > 1 else rig(500, 1000)
    drawing = rig_sheet(found)
    assert len(shapes(drawing, "rope")) == found.lines
    assert len(shapes(drawing, "block")) == found.sheaves
    numbers = [s.text for s in drawing.shapes if s.role == "number-text"]
    assert numbers == [str(n) for n in range(1, len(found.parts) + 1)]
    for shape in drawing.shapes:
        for x, y in shape.points:
            assert x - shape.radius >= 0 and x + shape.radius <= drawing.width
            assert y - shape.radius >= 0 and y + shape.radius <= drawing.height


def test_ten_lines_are_reached_by_the_cases_above() -> None:
    assert rig(5500, 1000).lines > 5


def test_the_zone_is_the_first_thing_drawn_and_is_said() -> None:
    drawing = rig_sheet(rig(2000, 4300, Gear(blocks=(BLOCK,))))
    assert drawing.shapes[0].role == "zone"
    assert any(s.role == "warning" and s.text == "Keep out: up to 34 m all round" for s in drawing.shapes)


def test_a_partners_rig_has_two_vehicles_and_no_anchor_between() -> None:
    alone = rig_sheet(rig(2000, 4300, Gear(blocks=(BLOCK,))))
    partner = rig_sheet(rig(2000, 4300, Gear(blocks=(BLOCK,), holder=("Lantern", 3000))))
    assert (len(shapes(alone, "vehicle")), len(shapes(alone, "anchor"))) == (1, 1)
    assert (len(shapes(partner, "vehicle")), len(shapes(partner, "anchor"))) == (2, 0)
    labels = [s.text for s in partner.shapes if s.role == "label"]
    assert labels == ["winching vehicle", "stuck vehicle"]


def test_words_name_every_part_with_its_load() -> None:
    found = rig(4000, 3000, Gear(blocks=(BLOCK,), shackle=("bow shackle", 4750)), title="sand, to the axle")
    drawing = rig_sheet(found)
    assert drawing.title == "sand, to the axle"
    for number, part in enumerate(found.parts, 1):
        assert f"{number}: {part.name} {part.load_kgf:.0f} kg" in drawing.desc
