"""The main path of the pages: a plan in, a handbook folder out."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

from fieldkit.beside import Beside
from fieldkit.handbook.emergencies import emergency_pages
from fieldkit.handbook.facts import Facts
from fieldkit.handbook.front import a_to_z, front_page, print_page
from fieldkit.handbook.kit_page import kit_page
from fieldkit.handbook.library_texts import text_pages
from fieldkit.handbook.lists import list_pages
from fieldkit.handbook.method import method_page
from fieldkit.handbook.pdf import folder_to_pdf, need_browser
from fieldkit.handbook.recovery_pages import recovery_pages
from fieldkit.handbook.render import Body, render_bodies
from fieldkit.handbook.repairs import repair_pages
from fieldkit.handbook.search import search_data
from fieldkit.handbook.settings import HandbookSettings
from fieldkit.handbook.site import Writer, built_beside, listing, one_file_html, print_sets, write_data, write_folder
from fieldkit.handbook.stock import stock_data, stock_page
from fieldkit.handbook.symptoms import finder_data, symptom_pages
from fieldkit.handbook.trip_sheets import trip_pages
from fieldkit.handbook.vehicles import vehicle_pages
from fieldkit.handbook.weak_points import weak_point_pages
from fieldkit.handbook.words import Words
from fieldkit.handbook.workshop_pages import workshop_pages
from fieldkit.specs.settings import read_settings


def write_handbook(
    plan: Any,
    out: Path,
    one_file: bool = False,
    pdf: bool = False,
    extra: Callable[[Path], Any] | None = None,
    beside: Beside | None = None,
) -> list[Path]:
    """The offline handbook of a plan.

    1. gather what many pages share;
    2. make every page, the repairs' by themselves, the indexes last;
    3. write the folder beside ``out``: what the caller adds, pages, style, script, data, print files;
    4. add the one-file handbook and the PDFs;
    5. swap the folder in.

    Parameters
    ----------
    plan : fieldkit.plan.Plan
        Everything that is shown; no likelihood is computed here.
    out : Path
        The folder to write. It must be new, empty, or made by this tool.
    one_file : bool
        Also write the whole handbook as one file to send.
    pdf : bool
        Also print the sheets with an installed Chromium.
    extra : callable or None
        Called with the fresh folder before it is swapped in; writes its own files there.
    beside : Beside or None
        Where the repairs' pages are made and all are written meanwhile; the files are the same without.

    Returns
    -------
    list of Path
        Every file written, under ``out``.

    Raises
    ------
    OutputRefused
        If ``out`` holds something that this tool did not make, or ``pdf`` was asked and no browser is found.
    """
    if pdf:
        need_browser()
    beside = beside or Beside(second=False)
    with _no_sweeps(), built_beside(Path(out)) as fresh:
        facts = gather(plan)
        repairs = beside.ask(repair_bodies, facts)
        if extra:
            extra(fresh)
        bodies = all_bodies(facts, repairs)
        pages = [body.page for body in bodies]
        writer = Writer(fresh)
        with write_folder(writer, facts, bodies, beside):
            data = page_data(facts, bodies)
            write_data(writer, data)
            if one_file:
                writer.write(one_file_name(facts), one_file_html(facts, bodies, data))
        if pdf:
            sets = [key.removeprefix("print/") for key in print_sets(facts, pages)]
            folder_to_pdf(fresh / "print", sets, facts.words["print"]["papers"], plan.trip.head.prepared)
        names = [p.relative_to(fresh) for p in listing(fresh)]
    return [Path(out) / name for name in names]


@contextmanager
def _no_sweeps() -> Iterator[None]:
    """No search for reference cycles while pages are made: they hold none to speak of, and it takes a sixth of the time."""
    was = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was:
            gc.enable()


def gather(plan: Any) -> Facts:
    """The plan with the page words of its library."""
    settings = read_settings("handbook", HandbookSettings, plan.trip.library).model_dump()
    return Facts(plan, Words(settings, imperial=plan.trip.head.units == "imperial"))


def all_bodies(facts: Facts, repairs: Callable[[], list[Body]] | None = None) -> list[Body]:
    """Every page's body, in the order of the printed book; ``repairs`` gives those of the repairs, where they are made meanwhile."""
    before = [
        front_page(facts),
        *emergency_pages(facts),
        *trip_pages(facts),
        *vehicle_pages(facts),
        *workshop_pages(facts),
        *symptom_pages(facts),
    ]
    after = [
        *weak_point_pages(facts),
        *list_pages(facts),
        *recovery_pages(facts),
        stock_page(facts),
        kit_page(facts),
        *text_pages(facts),
        method_page(facts),
    ]
    bodies = render_bodies(facts, [*before, *after])
    bodies[len(before) : len(before)] = repairs() if repairs else repair_bodies(facts)
    return bodies + render_bodies(facts, [a_to_z(facts, [body.page for body in bodies]), print_page(facts)])


def repair_bodies(facts: Facts) -> list[Body]:
    """The bodies of the repairs' pages, near half of all, their contexts left out."""
    return [Body(replace(body.page, context={}), body.html) for body in render_bodies(facts, list(repair_pages(facts)))]


def page_data(facts: Facts, bodies: list[Body]) -> dict[str, Any]:
    """What the scripts read: the search index, the diagnosis tables, the stock."""
    return {
        "finder": finder_data(facts),
        "search": search_data(facts, bodies),
        "stock": stock_data(facts),
    }


def one_file_name(facts: Facts) -> str:
    return f"{facts.trip.id}-handbook.html"
