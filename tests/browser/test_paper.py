"""What comes out of a printer: A4 and Letter, nothing cut, tables' heads repeated, one side where one side is promised."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader
from sample import small_trip

from fieldkit.handbook import write_forms, write_handbook
from fieldkit.handbook.pdf import dated, find_browser, print_to_pdf
from fieldkit.plan import PlanOptions, make_plan
from fieldkit.report import example_folder
from fieldkit.specs.read_library import load_library
from fieldkit.specs.read_trip import load_trip

pytestmark = pytest.mark.browser

PAPERS = {"A4": (595, 842), "Letter": (612, 792)}


def print_page(page: Any, path: Path, paper: str, **options: Any) -> PdfReader:
    page.pdf(path=str(path), format=paper, **options)
    return PdfReader(str(path))


def words(reader: PdfReader) -> list[str]:
    return [" ".join(p.extract_text().split()) for p in reader.pages]


def letters(text: str) -> str:
    """Text without blanks and ligatures: where a line breaks is no matter."""
    return "".join(unicodedata.normalize("NFKC", text).split())


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize(
    "kind",
    ["emergency/fire.html", "emergency/overdue.html", "lists/first-light.html", "vehicles/tern/driver.html",
     "rules/standing-rules.html", "trip/card.html", "trip/key-figures.html"],
)  # fmt: skip
def test_one_side_is_one_side(
    open_page: Callable[..., Any], built: Path, tmp_path: Path, kind: str, paper: str
) -> None:
    """H30, H70: emergency pages, checklists and driver's sheets on one side of either paper."""
    reader = print_page(open_page(built / kind), tmp_path / "x.pdf", paper)
    assert len(reader.pages) == 1
    box = reader.pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(PAPERS[paper], abs=1)


@pytest.mark.parametrize("paper", PAPERS)
def test_chrome_is_not_printed_and_every_sheet_says_what_it_is_of(
    open_page: Callable[..., Any], built: Path, plan: Any, tmp_path: Path, paper: str
) -> None:
    """H13, H55: no skip link, search box or buttons; trip, revision, date and vehicle at the foot of each sheet."""
    page = open_page(built / "vehicles" / "tern" / "index.html")
    page.wait_for_load_state("networkidle")
    reader = print_page(page, tmp_path / "x.pdf", paper)
    assert len(reader.pages) > 1
    for n, said in enumerate(words(reader), 1):
        assert f"trip · revision {plan.trip.digest} · 20 April 2031" in said
        assert "Vehicle: tern" in said
        assert f"{n} of {len(reader.pages)}" in said
        for chrome in ("Skip to the page", "Search the handbook", "Larger letters", "Field repairs Vehicles"):
            assert chrome not in said


def test_what_is_a_tap_away_is_printed(open_page: Callable[..., Any], built: Path, tmp_path: Path) -> None:
    """H56: closed details are open on paper, also where scripts do not run."""
    for scripts in (True, False):
        page = open_page(built / "vehicles" / "tern" / "index.html", java_script_enabled=scripts)
        said = " ".join(words(print_page(page, tmp_path / "x.pdf", "A4")))
        assert "likely between" in said
        assert "failures expected" in said


@pytest.mark.parametrize("paper", PAPERS)
def test_boxes_and_steps_stay_on_one_sheet(
    open_page: Callable[..., Any], built: Path, tmp_path: Path, paper: str
) -> None:
    """H56: the text of a hazard box and of each step lies on one page of the whole book."""
    reader = print_page(open_page(built / "print" / "all.html"), tmp_path / "x.pdf", paper)
    sheets = [letters(w) for w in words(reader)]
    for text in (
        "DANGER Put firm support under the axle. A vehicle on a jack alone can fall. It will crush whoever lies below.",
        "NOTICE Fill to 20 mm (0.8 in) below the neck. An overfilled system pushes coolant out. The radiator cap can leak "
        "afterwards. 4 Fill the system to 20 mm (0.8 in) below the neck.",
    ):
        assert any(letters(text) in sheet for sheet in sheets), text


def test_nothing_runs_off_the_sheet(open_page: Callable[..., Any], built: Path) -> None:
    """H55: at the narrowest printable width (A5-like 190 mm of A4 less margins) no element is wider than the sheet."""
    page = open_page(built / "print" / "all.html", width=718)
    page.emulate_media(media="print")
    wide = page.evaluate(
        "[...document.querySelectorAll('main *')].filter(e => e.getBoundingClientRect().right > innerWidth + 1)"
        ".map(e => e.outerHTML.slice(0, 120))"
    )
    assert wide == []


def test_references_say_numbers(open_page: Callable[..., Any], built: Path, tmp_path: Path) -> None:
    """H58: paper works without links."""
    said = " ".join(words(print_page(open_page(built / "print" / "all.html"), tmp_path / "x.pdf", "A4")))
    assert "Wrap a coolant hose with tape (repair 3)" in said
    assert "Go to question 2" in said


def test_backgrounds_are_not_needed(open_page: Callable[..., Any], built: Path) -> None:
    """H54, s17: on paper every letter is dark, whatever its ground."""
    page = open_page(built / "repairs" / "splint-a-bent-tie-rod.html")
    page.emulate_media(media="print")
    colours = page.evaluate(
        "[...new Set([...document.querySelectorAll('main *')].filter(e => e.textContent.trim()).map(e => getComputedStyle(e).color))]"
    )
    for colour in colours:
        assert all(int(part) <= 0x33 for part in re.findall(r"\d+", colour)[:3]), colours


def test_must_have_set_fits_eight_sheets(open_page: Callable[..., Any], built: Path, tmp_path: Path) -> None:
    """H69."""
    for paper in PAPERS:
        assert len(print_page(open_page(built / "print" / "must-have.html"), tmp_path / "x.pdf", paper).pages) <= 8


@pytest.fixture(scope="module")
def convoy(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Pages of the shipped example convoy: three vehicles, ten stops, sheets as long as they get on a usual trip."""
    out = tmp_path_factory.mktemp("convoy") / "out"
    write_handbook(make_plan(load_trip(example_folder(solo=False), load_library()), PlanOptions(quick=True)), out)
    return out


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize(
    "kind",
    ["emergency/index.html", "emergency/overdue.html", "emergency/lost.html", "emergency/rolled.html", "trip/card.html",
     "trip/key-figures.html", "vehicles/copper/driver.html", "vehicles/lantern/driver.html", "lists/departure.html"],
)  # fmt: skip
def test_one_side_is_one_side_on_a_trip_of_usual_length(
    open_page: Callable[..., Any], convoy: Path, tmp_path: Path, kind: str, paper: str
) -> None:
    """H30, H70: also with three vehicles and ten stops."""
    assert len(print_page(open_page(convoy / kind), tmp_path / "x.pdf", paper).pages) == 1


@pytest.mark.parametrize("paper", PAPERS)
def test_each_shipped_checklist_is_one_side(
    open_page: Callable[..., Any], convoy: Path, tmp_path: Path, paper: str
) -> None:
    """H30: every list on either paper, also those of several pause points."""
    pages = sorted(p for p in (convoy / "lists").glob("*.html") if p.name != "index.html")
    assert len(pages) >= 10
    page = open_page(pages[0])
    for path in pages:
        page.goto(path.as_uri())
        assert len(print_page(page, tmp_path / "x.pdf", paper).pages) == 1, path.name


@pytest.mark.parametrize("paper", PAPERS)
def test_must_have_set_of_a_usual_trip_fits_eight_sheets(
    open_page: Callable[..., Any], convoy: Path, tmp_path: Path, paper: str
) -> None:
    """H69, and H56: no box of key values is cut in two."""
    reader = print_page(open_page(convoy / "print" / "must-have.html"), tmp_path / "x.pdf", paper)
    assert len(reader.pages) <= 8
    for sheet in words(reader):
        assert sheet.count("At a glance") <= sheet.count("Kit "), sheet


# ------------------------------------------------------------------------------------------------- pdf
def test_pdf_on_request_dates_from_the_trip(browser: Any, plan: Any, tmp_path: Path) -> None:
    """`plan --pdf`: both papers, creation date from the trip, no trace of the clock."""
    out = tmp_path / "out"
    written = {p.relative_to(out).as_posix() for p in write_handbook(plan, out, pdf=True)}
    for name in ("all", "must-have", "vehicle-tern", "lists"):
        for paper in ("a4", "letter"):
            assert f"print/{name}-{paper}.pdf" in written
    assert not [w for w in written if w.endswith((".css", ".html")) and "-a4" in w]
    reader = PdfReader(str(out / "print" / "must-have-letter.pdf"))
    assert str(reader.metadata["/CreationDate"]).startswith("D:20310420")  # type: ignore[index]
    assert str(reader.metadata["/ModDate"]).startswith("D:20310420")  # type: ignore[index]
    assert float(reader.pages[0].mediabox.width) == pytest.approx(612, abs=1)


def test_same_page_same_pdf(browser: Any, built: Path, tmp_path: Path) -> None:
    found = find_browser()
    assert found
    for name in ("a", "b"):
        print_to_pdf(found, built / "emergency" / "fire.html", tmp_path / f"{name}.pdf", date(2031, 4, 20))
    assert (tmp_path / "a.pdf").read_bytes() == (tmp_path / "b.pdf").read_bytes()


def test_dating_keeps_the_length() -> None:
    raw = b"x/CreationDate (D:20261125023900+00'00')\n/ModDate (D:20261125023900+00'00')>>y"
    assert len(dated(raw, date(2031, 4, 20))) == len(raw)


# ----------------------------------------------------------------------------------------------- forms
@pytest.mark.parametrize("paper", PAPERS)
def test_a_long_form_repeats_its_head_and_cuts_no_row(
    open_page: Callable[..., Any], library: Any, tmp_path: Path, paper: str
) -> None:
    """s16, with the shipped library: several pages, the head row on each, no row on two of them."""
    out = tmp_path / "forms"
    build = "live-axle-wagon-mechanical-diesel"
    write_forms(library, out, build, None, paper=paper)
    page = open_page(out / f"{build}.html", java_script_enabled=False)
    page.pdf(path=str(tmp_path / "x.pdf"), prefer_css_page_size=True)
    reader = PdfReader(str(tmp_path / "x.pdf"))
    assert len(reader.pages) > 4
    assert float(reader.pages[0].mediabox.width) == pytest.approx(PAPERS[paper][0], abs=1)
    sheets = words(reader)
    rows = [s for s in sheets if "How sure" in s]
    assert rows and all("Point and how to look" in s for s in rows)
    for row in page.locator("tbody[data-mode] th").all()[::7]:
        said = row.inner_text()
        assert any(letters(said) in letters(sheet) for sheet in sheets), said


def test_many_forms_are_bound_into_one_pdf_in_their_order(browser: Any, tmp_path: Path) -> None:
    """Printed a few at a time: every vehicle's form once, in order, with the trip's date, and the steps told to the end."""
    trip = small_trip()
    first = trip.vehicles[0]
    club = [
        replace(
            first,
            entry=first.entry.model_copy(update={"id": f"v{n}"}),
            spec=first.spec.model_copy(update={"name": f"Number {n} of the club"}),
        )
        for n in range(7)
    ]
    trip = replace(trip, vehicles=tuple(club), findings=())
    told: list[tuple[int, int]] = []
    write_forms(
        trip.library, tmp_path / "out", None, trip, short=True, pdf=True, progress=lambda n, of: told.append((n, of))
    )
    reader = PdfReader(str(tmp_path / "out" / "forms-a4.pdf"))
    text = " ".join(words(reader))
    places = [text.index(f"Number {n} of the club") for n in range(7)]
    assert places == sorted(places)
    assert told[-1] == (14, 14)
    assert told == sorted(told)
    assert str(reader.metadata["/CreationDate"]).startswith(f"D:{trip.head.prepared:%Y%m%d}")  # type: ignore[index]
    assert {p.name for p in (tmp_path / "out").iterdir() if p.name.startswith(".")} == {".fieldkit-made"}
