"""The search index: size, words, names."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from fieldkit.handbook.book import all_bodies
from fieldkit.handbook.search import packed, search_data, unpacked


@pytest.fixture(scope="module")
def index(facts: Any) -> dict[str, Any]:
    return search_data(facts, all_bodies(facts))


def keys(index: dict[str, Any], word: str) -> list[str]:
    return [index["pages"][-n - 1 if n < 0 else n][0] for n in unpacked(index["words"][word])]


def test_words_find_their_pages_title_first(index: dict[str, Any]) -> None:
    found = keys(index, "hose")
    assert found[0] in {
        "repairs/replace-a-coolant-hose", "repairs/wrap-a-coolant-hose-with-tape", "weak-points/hose-burst"
    }  # fmt: skip
    assert "emergency/fire" not in found


def test_other_names_find_a_symptom(index: dict[str, Any]) -> None:
    """H62: the symptom's other names stand nowhere on the page's title, and find it."""
    assert "symptoms/gauge-climbs" in keys(index, "overheating")


def test_aliases_of_the_trade_are_in_the_index(index: dict[str, Any]) -> None:
    assert index["alias"]["snatch strap"] == "kinetic rope"


def test_the_data_file_is_a_classic_script_that_sets_a_variable(built: Path) -> None:
    text = (built / "data" / "search.js").read_text(encoding="utf-8")
    start = "window.fieldkitData=window.fieldkitData||{};fieldkitData.search="
    assert text.startswith(start)
    assert json.loads(text[len(start) :].rstrip(";\n"))["pages"]
    assert "<" not in text


def test_packed_page_numbers_come_back_whole() -> None:
    """Two signs a page: the first and last page that fit, and a word in a title (a number below nought)."""
    numbers = [0, 1, 35, 36, 700, -1, -36, -701]
    assert unpacked(packed(numbers)) == numbers
    many = [*numbers, 5000, -99_000]
    assert unpacked(packed(many, 3), 3) == many


def test_every_page_of_the_book_is_in_the_index(index: dict[str, Any], facts: Any) -> None:
    assert [p[0] for p in index["pages"]] == [p.key for p in (b.page for b in all_bodies(facts)) if p.in_book]
