"""The page of two plans side by side in a real browser: no trouble, no sideways scroll, nothing for the engines to find."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fieldkit.handbook import write_comparison

from .conftest import missing

pytestmark = pytest.mark.browser

SECTIONS = [
    ("Fit to leave", [("One, as found", "repair first", "off the road"), ("One, payload left", "40 kg", "40 kg")]),
    ("Carried in other numbers", [("a long name of something that is carried in two vehicles at least", "2", "0")]),
]


@pytest.fixture(scope="module")
def comparison(tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("comparison") / "two-plans.html"
    return write_comparison(out, ("with-the-workshop-day", "as-it-stands"), SECTIONS, ["Made with --quick."])


@pytest.mark.parametrize("width", [320, 360, 1280])
def test_it_opens_without_trouble_and_fits(open_page: Callable[..., Any], comparison: Path, width: int) -> None:
    page = open_page(comparison, width=width)
    assert page.troubles == []
    assert page.asked == [comparison.as_uri()]
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_each_figure_names_its_plan_on_a_phone(open_page: Callable[..., Any], comparison: Path) -> None:
    """Cells that stand under each other carry the name of the plan that they belong to."""
    page = open_page(comparison, width=360)
    assert page.locator("td").first.get_attribute("data-h") == "with-the-workshop-day"
    assert page.locator("td").nth(1).get_attribute("data-h") == "as-it-stands"


def test_the_accessibility_engine_finds_nothing(open_page: Callable[..., Any], comparison: Path, axe: str) -> None:
    page = open_page(comparison, bypass_csp=True)
    page.evaluate(axe)
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
    found = page.evaluate("tags => axe.run({ runOnly: tags })", tags)["violations"]
    assert [(v["id"], v["nodes"][0]["html"][:120]) for v in found] == []


def test_the_html_checker_finds_no_error(comparison: Path) -> None:
    jar = os.environ.get("FIELDKIT_VNU")
    if not jar or not Path(jar).is_file() or not shutil.which("java"):
        missing("no HTML checker: set FIELDKIT_VNU to vnu.jar and install Java (.ci/run does)")
    command = ["java", "-jar", str(jar), "--errors-only", str(comparison)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
