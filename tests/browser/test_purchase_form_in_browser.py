"""The purchase form in a browser: costs summed by the form's own script, reasons to walk away, what was not seen."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fieldkit.handbook import write_forms
from fieldkit.inspection.buying import cost_to_put_right
from fieldkit.specs.read_library import load_library

pytestmark = pytest.mark.browser

BUILD = "live-axle-wagon-mechanical-diesel"
LIBRARY = load_library()


@pytest.fixture(scope="module")
def purchase(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A blank form of a shipped build: parts priced, hours beside them."""
    out = tmp_path_factory.mktemp("purchase") / "out"
    write_forms(LIBRARY, out, BUILD, None, kind="purchase")
    return out / f"{BUILD}.html"


def tick(page: Any, mode: str, finding: str) -> None:
    page.locator(f"tbody[data-mode={mode}] input[value={finding}]").first.check()


def test_what_is_ticked_is_summed_low_and_high(open_page: Callable[..., Any], purchase: Path) -> None:
    """Two points in two parts of the walk: the sums of their ranges, in the result and in the table; sound costs nothing."""
    page = open_page(purchase, width=1280)
    costs = [cost_to_put_right(m, LIBRARY.failure_modes[m]) for m in ("seat-belt-webbing", "drive-belt")]
    assert all(costs)
    tick(page, "seat-belt-webbing", "worn")
    tick(page, "drive-belt", "defective")
    low, high, hours = (sum(getattr(c, name) for c in costs) for name in ("low", "high", "hours_high"))
    result = page.locator("[data-result]").inner_text()
    assert f"{low:.0f} to {high:.0f} units, {hours:g} h of work" in result
    together = page.locator("tr[data-sum=all] td")
    assert [together.nth(n).inner_text() for n in range(3)] == [f"{low:.0f}", f"{high:.0f}", f"{hours:g}"]
    assert page.locator("tr[data-sum=cabin] td").first.inner_text() == f"{costs[0].low:.0f}"  # type: ignore[union-attr]
    assert page.locator("tr[data-sum=engine-bay] td").first.inner_text() == f"{costs[1].low:.0f}"  # type: ignore[union-attr]
    tick(page, "drive-belt", "sound")
    assert together.nth(0).inner_text() == f"{costs[0].low:.0f}"  # type: ignore[union-attr]
    assert page.troubles == []


def test_unsafe_defects_are_reasons_to_walk_away_and_structure_stands_first(
    open_page: Callable[..., Any], purchase: Path
) -> None:
    """Worn is none; ticked brakes first, still the chassis is named first. What was not seen is named."""
    page = open_page(purchase, width=1280)
    tick(page, "chassis-crack", "worn")
    assert "Reasons to walk away" not in page.locator("[data-result]").inner_text()
    tick(page, "brake-hose", "defective")
    tick(page, "chassis-crack", "defective")
    tick(page, "tie-rod-end", "not-seen")
    titles = [LIBRARY.failure_modes[m].title for m in ("chassis-crack", "brake-hose", "tie-rod-end")]
    said = page.locator("[data-result]").inner_text()
    assert f"Reasons to walk away: {titles[0]}; {titles[1]}." in said
    assert f"Not looked at today, and so unknown: {titles[2]}." in said
