"""The departure form of a real length, with the shipped library: on a phone and on a wide screen."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fieldkit.handbook import write_forms
from fieldkit.specs.read_library import load_library

pytestmark = pytest.mark.browser

BUILD = "live-axle-wagon-mechanical-diesel"


@pytest.fixture(scope="module")
def departure(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("long-form") / "out"
    write_forms(load_library(), out, BUILD, None)
    return out / f"{BUILD}.html"


def test_each_position_has_a_note_of_its_own(open_page: Callable[..., Any], departure: Path) -> None:
    """Left and right are measured apart."""
    page = open_page(departure)
    row = page.locator("tbody[data-mode]").filter(has=page.locator(".found-at:nth-child(2)")).first
    for n, (finding, note) in enumerate((("sound", "0.2 mm"), ("worn", "1.1 mm"))):
        place = row.locator(".found-at").nth(n)
        place.locator(f".box[data-finding={finding}] input").check()
        place.locator("input[type=text]").fill(note)
        place.locator("input[type=text]").dispatch_event("change")
    kept = page.evaluate("JSON.parse(fieldkit.marksFile()).findings.map(f => [f.finding, f.note])")
    assert kept == [["sound", "0.2 mm"], ["worn", "1.1 mm"]]


def test_on_a_phone_a_form_opens_with_one_part_of_the_walk(open_page: Callable[..., Any], departure: Path) -> None:
    """Counts stay in sight; on a wide screen, and without scripts, every part is open."""
    page = open_page(departure, width=360)
    parts = page.locator("details.station")
    assert [p.get_attribute("open") is not None for p in parts.all()] == [True] + [False] * (parts.count() - 1)
    assert "of" in parts.nth(1).locator("summary").inner_text()
    page.locator("details.station [data-finding=sound] input").first.check()
    assert ", 1 of" in parts.nth(0).locator("summary").inner_text()
    for page in (
        open_page(departure, width=1280),
        open_page(departure, width=360, java_script_enabled=False),
    ):
        assert all(p.get_attribute("open") is not None for p in page.locator("details.station").all())
