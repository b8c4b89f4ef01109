"""docs/ says what the code reads: formats, schemas and the listing of the library are made from the models."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from fieldkit.specs.library import Library
from fieldkit.specs.schema import PUBLISHED, formats_markdown, library_markdown, schema_of

DOCS = Path(__file__).parent.parent.parent / "docs"
HINT = "run: python -m fieldkit.specs.schema docs"


def test_formats_page_is_up_to_date() -> None:
    assert (DOCS / "formats.md").read_text(encoding="utf-8") == formats_markdown(), HINT


def test_library_page_is_up_to_date(library: Library) -> None:
    assert (DOCS / "library.md").read_text(encoding="utf-8") == library_markdown(library), HINT


@pytest.mark.parametrize("name", PUBLISHED)
def test_schema_files_are_up_to_date(name: str) -> None:
    text = (DOCS / "schema" / f"{name}.schema.json").read_text(encoding="utf-8")
    assert json.loads(text) == schema_of(PUBLISHED[name][0]), HINT
