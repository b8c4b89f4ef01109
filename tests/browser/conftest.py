"""A real Chromium over file://, offline. Skipped with a reason where none is installed; a failure when CI=true."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

sys.path.insert(0, str(Path(__file__).parent.parent / "handbook"))

FLAGS = [
    "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update",
    "--disable-sync", "--no-sandbox",
]  # fmt: skip


def missing(reason: str) -> None:
    """Skip with a reason; where CI=true nothing may be skipped."""
    if os.environ.get("CI") == "true":
        pytest.fail(f"{reason} (CI=true: nothing may be skipped)")
    pytest.skip(reason)


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    from fieldkit.handbook.pdf import find_browser

    path = find_browser()
    if path is None:
        missing("no Chromium or relative is installed, so the pages were not opened in a browser")
    playwright = pytest.importorskip("playwright.sync_api", reason="the browser driver is not installed (extra: test)")
    with playwright.sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=path, args=FLAGS)
        yield started
        started.close()


@pytest.fixture
def open_page(browser: Any) -> Iterator[Callable[..., Any]]:
    """Opens a file in a fresh offline context; page errors, console errors and requests are kept on the page object."""
    contexts = []

    def open_file(path: Path, width: int = 360, height: int = 740, **options: Any) -> Any:
        context = browser.new_context(viewport={"width": width, "height": height}, offline=True, **options)
        contexts.append(context)
        page = context.new_page()
        page.troubles, page.asked = [], []
        page.on("pageerror", lambda odd: page.troubles.append(str(odd)))
        page.on("console", lambda m: page.troubles.append(m.text) if m.type in ("error", "warning") else None)
        page.on("request", lambda r: page.asked.append(r.url))
        page.goto(path.as_uri())
        return page

    yield open_file
    for context in contexts:
        context.close()


@pytest.fixture(scope="session")
def plan() -> Any:
    from sample import sample_plan

    return sample_plan()


@pytest.fixture(scope="session")
def built(plan: Any, tmp_path_factory: pytest.TempPathFactory) -> Path:
    from fieldkit.handbook import write_handbook

    out = tmp_path_factory.mktemp("browser") / "out"
    write_handbook(plan, out, one_file=True)
    return out


@pytest.fixture(scope="session")
def forms(tmp_path_factory: pytest.TempPathFactory) -> Path:
    from sample import small_library, small_trip

    from fieldkit.handbook import write_forms

    library = small_library()
    out = tmp_path_factory.mktemp("browser-forms") / "out"
    write_forms(library, out, None, small_trip(library), kind="departure")
    return out


#: One page of each template.
KINDS = [
    "index.html", "a-to-z.html", "kit.html", "method.html", "stock.html", "emergency/index.html", "emergency/fire.html",
    "emergency/overdue.html", "lists/index.html", "lists/first-light.html", "print/index.html", "recovery/index.html",
    "recovery/tern.html", "repairs/index.html", "repairs/replace-a-coolant-hose.html",
    "repairs/splint-a-bent-tie-rod.html", "rules/index.html", "rules/standing-rules.html", "symptoms/index.html",
    "symptoms/gauge-climbs.html", "trip/route.html", "trip/convoy.html", "trip/card.html", "trip/papers.html",
    "trip/key-figures.html", "vehicles/index.html", "vehicles/tern/index.html", "vehicles/tern/packing.html",
    "vehicles/tern/driver.html", "vehicles/tern/figures.html", "weak-points/index.html", "weak-points/core-blocked.html",
    "workshop/index.html", "workshop/parts-order.html", "vehicles/tern/work-order.html",
    "print/all.html", "trip-handbook.html",
]  # fmt: skip


@pytest.fixture(scope="session")
def axe() -> str:
    path = os.environ.get("FIELDKIT_AXE")
    if not path or not Path(path).is_file():
        missing("no accessibility engine: set FIELDKIT_AXE to axe.min.js (.ci/run installs it)")
    return Path(str(path)).read_text(encoding="utf-8")
