"""Times and sizes of the pages, by hand: ``python tests/benchmarks/pages.py``. Writes a table; asserts nothing.

The example convoy's vehicles are repeated up to five and to twenty under new names. Times are processor time of this process: first in
a fresh process, then again from the plan in memory with one changed field repair. Search runs in a browser whose processor is slowed.
"""

from __future__ import annotations

import re
import shutil
import statistics
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

from fieldkit.handbook import write_handbook
from fieldkit.plan import PlanOptions, make_plan
from fieldkit.report import example_folder
from fieldkit.specs.read_trip import load_trip

WORDS = ("radiator", "tyre", "brake hose", "wheel bearing", "batery", "starter")


def convoy(folder: Path, count: int) -> Any:
    """The plan of the example convoy with its vehicles repeated until there are ``count``."""
    shutil.copytree(example_folder(False), folder)
    head = (folder / "trip.toml").read_text(encoding="utf-8")
    specs = sorted((folder / "vehicles").glob("*.toml"))
    people = 7
    for n in range(len(specs), count):
        spec = specs[n % len(specs)]
        key = f"{spec.stem}-{n}"
        shutil.copy(spec, spec.with_name(f"{key}.toml"))
        text = spec.with_name(f"{key}.toml").read_text(encoding="utf-8")
        name = next(line for line in text.splitlines() if line.startswith("name"))
        spec.with_name(f"{key}.toml").write_text(text.replace(name, f'name = "{key.capitalize()}"'), encoding="utf-8")
        block = f'[[vehicle]]\nid = "{key}"\nspec = "vehicles/{key}.toml"\ncrew = 1\nposition = {n + 1}\n'
        head = head.replace("[[stop]]", f"{block}[[stop]]", 1)
        people += 1
    head = head.replace("people = 7", f"people = {people}").replace(
        '"anyone", "anyone", "anyone", "anyone"]', ", ".join(['"anyone"'] * (people - 3)) + "]"
    )
    (folder / "trip.toml").write_text(head, encoding="utf-8")
    return make_plan(load_trip(folder), PlanOptions(quick=True))


def changed(plan: Any) -> Any:
    """The plan with one field repair's steps changed."""
    library = plan.trip.library
    key, first = next(iter(sorted(library.procedures.items())))
    sections = {**first.sections, "Steps": first.sections.get("Steps", "") + "\n99. Look once more.\n"}
    procedures = {**library.procedures, key: replace(first, sections=sections)}
    return replace(plan, trip=replace(plan.trip, library=replace(library, procedures=procedures)))


def timed(plan: Any, out: Path, one_file: bool = False) -> tuple[float, list[Path]]:
    """Processor time of one writing [s], and the files."""
    start = time.process_time()
    files = write_handbook(plan, out, one_file=one_file)
    return time.process_time() - start, files


def slowed(file: Path, factor: int) -> tuple[float, float]:
    """A file opened in a browser with its processor slowed: until the search box is there [s], the slowest search [ms]."""
    from playwright.sync_api import sync_playwright

    from fieldkit.handbook.pdf import find_browser

    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=find_browser(), args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 360, "height": 740})
        page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": factor})
        start = time.perf_counter()
        page.goto(file.as_uri())
        box = page.locator("input[type=search]").first
        box.wait_for()
        opened = time.perf_counter() - start
        box.focus()
        page.wait_for_timeout(1500)
        box.fill("oil")
        took = [
            page.evaluate(
                "w=>{const b=document.querySelector('input[type=search]');b.value=w;const t=performance.now();"
                "b.dispatchEvent(new Event('input',{bubbles:true}));return performance.now()-t}",
                word,
            )
            for word in WORDS
        ]
        browser.close()
    return opened, statistics.quantiles(took, n=20)[-1]


def main() -> None:
    print("| what | figure | limit |\n|---|---|---|")
    with tempfile.TemporaryDirectory() as made:
        for count, limit in ((5, 5), (20, 10)):
            plan = convoy(Path(made) / f"trip-{count}", count)
            out = Path(made) / f"out-{count}"
            first, files = timed(plan, out)
            again, _ = timed(changed(plan), out)
            pages = sum(f.suffix == ".html" for f in files)
            print(f"| {count} vehicles, {pages} pages, fresh process [s] | {first:.2f} | 3 |")
            print(f"| {count} vehicles, one changed field repair [s] | {again:.2f} | 0.7 |")
            _, files = timed(plan, out, one_file=True)
            whole = next(f for f in files if f.name.endswith("-handbook.html"))
            print(f"| {count} vehicles, one file [MB] | {whole.stat().st_size / 1e6:.2f} | {limit} |")
            elements = len(re.findall(r"<[a-z]", whole.read_text(encoding="utf-8")))
            print(f"| {count} vehicles, one file [elements] | {elements} | none set |")
            front = sum((out / n).stat().st_size for n in ("index.html", "handbook.css", "handbook.js")) / 1e3
            print(f"| {count} vehicles, first page with style and script [kB] | {front:.0f} | 100 |")
            opened, search = slowed(out / "index.html", 6)
            print(f"| {count} vehicles, folder, search at a sixth of the speed [ms] | {search:.0f} | 50 |")
            opened, search = slowed(whole, 4)
            print(
                f"| {count} vehicles, one file at a quarter: opened [s], search [ms] | {opened:.1f}, {search:.0f} | 3 s |"
            )


if __name__ == "__main__":
    main()
