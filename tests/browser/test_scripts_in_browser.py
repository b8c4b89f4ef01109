"""What the scripts reckon, held to Python; ticks, marks file, search."""

from __future__ import annotations

import json
import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from fieldkit.handbook.book import gather
from fieldkit.handbook.coverage import Line, Move, Need, cover_now, stock_left
from fieldkit.handbook.words import in_words
from fieldkit.inspection.marks import read_marks
from fieldkit.likelihood import next_look, posterior

pytestmark = pytest.mark.browser
SCHEMA = json.loads((Path(__file__).parents[2] / "docs" / "schema" / "marks.schema.json").read_text(encoding="utf-8"))


def data(page: Any, name: str) -> Any:
    return page.evaluate("name => new Promise(done => fieldkit.data(name, done))", name)


# ----------------------------------------------------------------------------------------------- finder
def test_the_finder_gives_pythons_posterior(open_page: Callable[..., Any], built: Path, plan: Any) -> None:
    """F8: equal to 1e-6 (they agree to 1e-12) over random signs present, absent, and questions answered."""
    page = open_page(built / "symptoms" / "index.html")
    data(page, "finder")
    draw = random.Random(7)
    modes = plan.trip.library.failure_modes
    for vehicle, table in plan.diagnosis.items():
        for _ in range(40):
            signs = draw.sample(list(table.symptoms), k=draw.randint(1, min(4, len(table.symptoms))))
            cut = draw.randint(0, len(signs))
            answers = {c: draw.random() < 0.5 for c in draw.sample(list(table.causes), k=draw.randint(0, 2))}
            python = posterior(
                table, signs[:cut], signs[cut:], {c: (modes[c].field_test, yes) for c, yes in answers.items()}
            )
            page_says = page.evaluate(
                "([v, a, b, c]) => fieldkit.posterior(fieldkitData.finder.vehicles[v], fieldkitData.finder.modes, a, b, c)",
                [vehicle, signs[:cut], signs[cut:], answers],
            )
            assert page_says == pytest.approx(list(python), abs=1e-12)


def test_the_next_look_is_pythons(open_page: Callable[..., Any], built: Path, plan: Any) -> None:
    page = open_page(built / "symptoms" / "index.html")
    data(page, "finder")
    for vehicle, table in plan.diagnosis.items():
        for symptom in table.symptoms:
            python = next_look(table, plan.trip.library, [symptom])
            page_says = page.evaluate(
                """([v, s]) => { const d = fieldkitData.finder, t = d.vehicles[v];
                return fieldkit.nextLook(t, d.modes, fieldkit.posterior(t, d.modes, [s], [], {}), {}); }""",
                [vehicle, symptom],
            )
            assert [x["cause"] for x in page_says] == [x.cause for x in python]
            assert [x["perMinute"] for x in page_says] == pytest.approx([x.bits_per_minute for x in python], abs=1e-9)


def test_chances_are_said_in_the_same_words(open_page: Callable[..., Any], built: Path) -> None:
    page = open_page(built / "symptoms" / "index.html")
    ladder = data(page, "finder")["ladder"]
    values = [
        0,
        1e-5,
        0.0007,
        0.001,
        0.0041,
        0.03,
        0.0999,
        0.1283,
        0.21,
        0.3,
        0.45,
        0.61,
        0.7,
        0.83,
        0.93,
        0.96,
        0.99,
        1,
    ]
    page_says = page.evaluate("([v, l]) => v.map(p => fieldkit.inWords(p, l))", [values, ladder])
    assert page_says == [in_words(v) for v in values]


def test_a_sign_leads_to_a_repair_that_the_kit_allows(open_page: Callable[..., Any], built: Path) -> None:
    """Pick a sign, answer a question, go straight to a repair with where its things are."""
    page = open_page(built / "symptoms" / "index.html")
    page.locator("#finder-vehicle").select_option("tern")
    page.locator("#finder-type").fill("sweet")
    page.get_by_role("button", name="A sweet smell from the engine bay").click()
    assert page.locator("[data-cause]").first.get_attribute("data-cause") == "hose-burst"
    page.get_by_role("button", name="Yes: Does coolant run from a hose or its clamp?").click()
    first = page.locator("[data-cause]").first
    assert "nearly certain" in first.inner_text()
    first.get_by_text("where its things are").first.click()
    assert "hose clamps: Tern, drawers in the load space" in first.inner_text()
    first.get_by_role("link", name="Replace a coolant hose (repair 1)").click()
    assert page.url.endswith("repairs/replace-a-coolant-hose.html")
    assert page.troubles == []


# ------------------------------------------------------------------------------------------------ stock
def test_the_page_reckons_stock_like_python(open_page: Callable[..., Any], built: Path, plan: Any) -> None:
    """Random marks and drop-outs: what is left of each line, what is no longer covered, the only one, none: all equal."""
    facts = gather(plan)
    page = open_page(built / "stock.html")
    stock = data(page, "stock")
    lines = [
        Line(x["item"], x["vehicle"], x["place"], x["quantity"], tuple(x["suits"].split())) for x in stock["lines"]
    ]
    assert sum(bool(x.suits) for x in lines) > 1
    repairs = {
        p.id: Need(p.items(), tuple(v.id for v in facts.suits(p.id))) for p in facts.numbered if facts.suits(p.id)
    }
    draw = random.Random(11)
    changed = 0
    for _ in range(60):
        moves = [_move(draw, draw.choice(lines)) for _ in range(draw.randint(0, 6))]
        out = {v: draw.random() < 0.3 for v in facts.features if draw.random() < 0.3}
        marks = {
            "stock": [m.__dict__ for m in moves],
            "vehicles_out": [{"vehicle": v, "kit_moved": moved} for v, moved in out.items()],
        }
        says = page.evaluate("([d, m]) => fieldkit.coverNow(d, m)", [stock, marks])
        left = stock_left(lines, moves, out, facts.features)
        assert says["left"] == pytest.approx({"|".join(key): value for key, value in left.items()})
        now = cover_now(lines, moves, out, repairs, facts.gear, facts.features)
        assert [(x["repair"], x["vehicle"], tuple(x["lacks"])) for x in says["lost"]] == list(now.lost)
        assert says["onlyOne"] == ["|".join(kind) for kind in now.only_one]
        assert says["none"] == ["|".join(kind) for kind in now.none]
        changed += bool(now.lost)
    assert changed > 20


def _move(draw: random.Random, line: Line) -> Move:
    what = draw.choice(["used", "lost", "lent", "left", "back"])
    to = draw.choice(["tern", "plover", "a farmer"])
    return Move(line.item, line.vehicle, line.place, what, draw.choice([0.5, 1.0, 2.0]), to, " ".join(line.suits))


def test_marking_stock_changes_the_pages_at_once(open_page: Callable[..., Any], built: Path) -> None:
    page = open_page(built / "stock.html")
    line = page.locator("[data-line='coolant-hose'] .what").first
    assert line.inner_text().startswith("1 × coolant hose")
    page.get_by_role("button", name="Mark: coolant hose").click()
    page.get_by_label("What happened to it").select_option("used")
    page.get_by_role("button", name="Mark it").click()
    said = page.locator("[data-stock]").inner_text()
    assert "Replace a coolant hose (repair 1) on Tern: lacks coolant hose" in said
    assert "None left" in said
    assert line.inner_text().startswith("0 of 1 left: coolant hose")
    page.goto((built / "repairs" / "replace-a-coolant-hose.html").as_uri())
    assert "not covered now, lacks coolant hose" in page.locator("[data-cover]").inner_text()
    page.goto((built / "weak-points" / "hose-burst.html").as_uri())
    assert "Since marked: not covered on Tern" in page.locator("main").inner_text()
    page.goto((built / "stock.html").as_uri())
    page.get_by_role("button", name="Take back the last mark").click()
    assert "Nothing is marked yet" in page.locator("[data-stock]").inner_text()


def test_a_vehicle_that_drops_out_is_reckoned_with(open_page: Callable[..., Any], built: Path) -> None:
    """F14: seats with belts against people, water, fuel and load left on the others."""
    page = open_page(built / "stock.html")
    page.get_by_label("Tern is out").check()
    said = page.locator("[data-stock]").inner_text()
    assert "Seats with belts: 4 for 5 people. 1 too few: nobody rides without one." in said
    assert "Drinking water in tanks and cans: 40 L, for 1.1 days at 7.0 L a person." in said
    assert "Tanks for petrol: 90 L when full." in said
    assert "Plug a tread puncture (repair 7) on Plover & <i>Co</i>: lacks" in said


# ------------------------------------------------------------------------------------- ticks, marks file
def test_ticks_stay_and_are_of_this_trip_and_revision(open_page: Callable[..., Any], built: Path, plan: Any) -> None:
    """H34, H63."""
    page = open_page(built / "lists" / "first-light.html")
    page.get_by_label("Four tyres").check()
    page.reload()
    assert page.get_by_label("Four tyres").is_checked()
    stored = page.evaluate("Object.keys(localStorage)")
    assert f"fieldkit:{plan.trip.id}:{plan.trip.digest}:marks" in stored
    page.get_by_role("button", name="Clear the ticks of this list").click()
    page.reload()
    assert not page.get_by_label("Four tyres").is_checked()


def test_the_marks_file_follows_its_schema_and_reads_back(
    open_page: Callable[..., Any], built: Path, forms: Path, plan: Any, tmp_path: Path
) -> None:
    """F22: saved by download, valid by docs/schema/marks.schema.json, read by what brings findings back."""
    page = open_page(forms / "tern.html", accept_downloads=True)
    page.get_by_label("Who looked").fill("Ines Ford")
    page.get_by_label("Who looked").dispatch_event("change")
    page.locator("tbody[data-mode=hose-burst]").get_by_label("defective").check()
    page.locator("tbody[data-mode=core-blocked]").get_by_label("sound").check()
    page.locator("tbody[data-mode=core-blocked] input[type=text]").fill("a lamp shows through")
    page.locator("tbody[data-mode=core-blocked] input[type=text]").dispatch_event("change")
    page.locator("tr[data-figure] input").first.fill("110 Nm")
    page.locator("tr[data-figure] input").first.dispatch_event("change")
    with page.expect_download() as download:
        page.get_by_role("button", name="Save the marks file").click()
    name = f"fieldkit-marks-{plan.trip.id}-{plan.trip.digest}.json"
    assert download.value.suggested_filename == name
    download.value.save_as(tmp_path / name)
    jsonschema.validate(json.loads((tmp_path / name).read_text(encoding="utf-8")), SCHEMA)
    marks = read_marks(tmp_path / name)
    found = {(f.failure_mode, f.position): (f.finding, f.inspector, f.note) for f in marks.findings}
    assert found == {
        ("hose-burst", ""): ("defective", "Ines Ford", ""),
        ("core-blocked", ""): ("sound", "Ines Ford", "a lamp shows through"),
    }
    assert [(f.vehicle, f.value) for f in marks.figures] == [("tern", "110 Nm")]


def test_where_nothing_can_be_saved_the_marks_are_shown_as_text(open_page: Callable[..., Any], built: Path) -> None:
    page = open_page(built / "stock.html")
    page.get_by_label("Tern is out").check()
    page.get_by_role("button", name="Show as text").click()
    shown = json.loads(page.get_by_label("The marks file as text").input_value())
    jsonschema.validate(shown, SCHEMA)
    assert [x["vehicle"] for x in shown["vehicles_out"]] == ["tern"]


def test_another_devices_marks_are_added_once(
    open_page: Callable[..., Any], built: Path, plan: Any, tmp_path: Path
) -> None:
    page = open_page(built / "stock.html")
    page.get_by_role("button", name="Mark: coolant hose").click()
    page.get_by_role("button", name="Mark it").click()
    text = page.evaluate("fieldkit.marksFile()")
    path = tmp_path / "theirs.json"
    path.write_text(text, encoding="utf-8")
    other = open_page(built / "stock.html")
    for _ in range(2):
        other.locator("#fieldkit-read").set_input_files(str(path))
        other.get_by_text("Nothing was counted twice").wait_for()
    assert len(other.evaluate("fieldkit.marks().stock")) == 1
    path.write_text(text.replace('"trip": "trip"', '"trip": "elsewhere"'), encoding="utf-8")
    other.locator("#fieldkit-read").set_input_files([])
    other.locator("#fieldkit-read").set_input_files(str(path))
    other.get_by_text("This file is of another trip: elsewhere.").wait_for()


# ----------------------------------------------------------------------------------------------- search
@pytest.mark.parametrize(
    ("typed", "key"),
    [
        ("coolant hose", "repairs/replace-a-coolant-hose"),
        ("overheating", "symptoms/gauge-climbs"),
        ("punctur", "repairs/plug-a-tread-puncture"),
        ("pucnture", "repairs/plug-a-tread-puncture"),
        ("tie rod bent", "weak-points/rod-bent"),
        ("track rod", "weak-points/rod-bent"),
        ("first light", "lists/first-light"),
        ("radiater", "weak-points/core-blocked"),
    ],
)
def test_search_finds_by_word_alias_and_with_a_typing_error(
    open_page: Callable[..., Any], built: Path, typed: str, key: str
) -> None:
    """H62, s14: among the first three."""
    page = open_page(built / "index.html")
    page.locator("input[type=search]").fill(typed)
    page.locator(".found li").first.wait_for()
    hrefs = [a.get_attribute("href") for a in page.locator(".found a").all()]
    assert f"{key}.html" in hrefs[:3], hrefs


def test_search_says_when_nothing_is_found(open_page: Callable[..., Any], built: Path) -> None:
    page = open_page(built / "index.html")
    page.locator("input[type=search]").fill("zzxqv")
    page.locator(".found li").first.wait_for()
    assert "Nothing found" in page.locator(".found").inner_text()
    page.keyboard.press("Escape")
    assert page.locator(".found").is_hidden()


def test_the_index_is_read_only_when_the_box_is_used(open_page: Callable[..., Any], built: Path) -> None:
    """H62."""
    page = open_page(built / "index.html")
    assert not [u for u in page.asked if "data/search" in u]
    page.locator("input[type=search]").focus()
    page.wait_for_function("window.fieldkitData && fieldkitData.search")
    assert [u for u in page.asked if "data/search" in u]
