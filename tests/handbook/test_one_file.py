"""The one file to send: its size for five vehicles, and that what it says once still reaches every place that showed it."""

from __future__ import annotations

import re
import sys
from html import unescape
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.handbook.book import all_bodies, gather, page_data
from fieldkit.handbook.charts import polyline
from fieldkit.handbook.light import Headings, light_search, packed_words
from fieldkit.handbook.render import Body, css_string
from fieldkit.handbook.site import one_file_html

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))
from pages import convoy


@pytest.fixture(scope="module")
def five(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """The example convoy with its vehicles repeated up to five, and its one file."""
    facts = gather(convoy(tmp_path_factory.mktemp("five") / "trip", 5))
    bodies = all_bodies(facts)
    data = page_data(facts, bodies)
    return {"facts": facts, "bodies": bodies, "data": data, "html": one_file_html(facts, bodies, data)}


def test_five_vehicles_are_below_the_limit_with_room_to_spare(five: dict[str, Any]) -> None:
    """H64: 5 MB at most; a tenth of a megabyte is kept free."""
    assert len(five["facts"].vehicles) == 5
    assert len(five["html"].encode()) < 4.9e6


# ------------------------------------------------------------------------------------ column headings
def labels(html: str) -> list[str]:
    """The heading before each cell of each stacked table, as the page itself says it."""
    tables = re.findall(r'<table class="stack">.*?</table>', html, re.S)
    return [css_string(unescape(said)) for table in tables for said in re.findall(r'<td data-h="([^"]*)"', table)]


def styled_labels(html: str, style: str) -> list[str]:
    """The same as the style sheet says it: by the table's class and the cell's place in its row."""
    said = []
    for name, table in re.findall(r'<table class="stack (k\d+)">(.*?)</table>', html, re.S):
        rule = re.search(rf"^\.{name}{{(.*)}}$", style, re.M)
        assert rule
        heads = dict(re.findall(r'--k(\d+):("[^"]*");', rule[1]))
        for row in re.findall(r"<tr.*?</tr>", table, re.S):
            cells = re.findall(r"<t([hd])(?=[ >])", row)
            said += [heads[str(n)] for n, kind in enumerate(cells, 1) if kind == "d"]
    return said


def test_every_cell_still_shows_its_columns_heading(five: dict[str, Any]) -> None:
    headings = Headings()
    bodies: list[Body] = five["bodies"]
    changed = [headings.taken_from(b.html) for b in bodies]
    style = headings.style()
    found = 0
    for body, html in zip(bodies, changed, strict=True):
        assert styled_labels(html, style) == labels(body.html), body.page.key
        found += len(labels(body.html))
    assert found > 5000
    most = max(len(heads) for heads in headings.names)
    assert [f"td:nth-child({n})::before{{content:var(--k{n}," in style for n in range(1, most + 1)] == [True] * most
    assert "data-h=" not in five["html"]
    assert headings.style() in five["html"]


def test_a_table_whose_cells_say_other_words_than_its_head_keeps_them() -> None:
    head = '<table class="stack"><thead><tr><th scope="col">A</th><th scope="col">B</th></tr></thead><tbody>'
    for row in ('<tr><td data-h="A">1</td><td data-h="C">2</td></tr>', '<tr><td data-h="B">1</td></tr>'):
        assert Headings().taken_from(f"{head}{row}</tbody></table>") == f"{head}{row}</tbody></table>"


# ------------------------------------------------------------------------------------------ the index
def unpacked_words(text: str) -> dict[str, str]:
    parts = text.split(" ")
    found, word = {}, ""
    for start, pages in zip(parts[::2], parts[1::2], strict=True):
        word = word[: int(start[0], 36)] + start[1:]
        found[word] = pages
    return found


def test_the_words_of_the_index_come_back_whole(five: dict[str, Any]) -> None:
    words = five["data"]["search"]["words"]
    assert len(words) > 1000
    assert unpacked_words(packed_words(words)) == words
    long = {"a" * n: "0Q" for n in (1, 34, 35, 36, 60)}
    assert unpacked_words(packed_words(long)) == long


def test_pages_of_the_light_index_stand_in_the_files_order(five: dict[str, Any]) -> None:
    """The script finds a page's key by its place: the index lists the pages as the file holds them."""
    whole = five["data"]["search"]
    light = light_search(whole, five["facts"].words["titles"].values())
    assert re.findall(r'<article [^>]*data-page="?([^" >]+)', five["html"]) == [page[0] for page in whole["pages"]]
    assert [[title, light["chapters"][n]] for title, n in light["pages"]] == [page[1:3] for page in whole["pages"]]


# ------------------------------------------------------------------------------------------- drawings
points = st.lists(st.tuples(st.floats(0, 3), st.floats(20, 140)), min_size=1, max_size=60)


@given(points)
def test_a_drawn_line_passes_every_point_it_leaves_out(steps: list[tuple[float, float]]) -> None:
    """Property test: no point lies further from the line than 0.05 units and what rounding to a tenth adds; the ends stay."""
    x = 34 + np.cumsum([dx for dx, _ in steps])
    y = np.array([height for _, height in steps])
    drawn = np.array([[float(v) for v in corner.split(",")] for corner in polyline(x, y).split()])
    assert np.abs(drawn[[0, -1]] - [[x[0], y[0]], [x[-1], y[-1]]]).max() <= 0.051
    for at in np.column_stack([x, y]):
        assert min(_away(at, a, b) for a, b in zip(drawn, [*drawn[1:], drawn[-1]], strict=True)) <= 0.05 + 0.072


def _away(at: Any, a: Any, b: Any) -> float:
    way = b - a
    length = float(way @ way)
    share = min(max(float((at - a) @ way) / length, 0.0), 1.0) if length else 0.0
    return float(np.hypot(*(at - a - share * way)))
