"""Pages as trees, for tests."""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element

import html5lib

XHTML = "{http://www.w3.org/1999/xhtml}"


@lru_cache(maxsize=256)
def tree(path: Path) -> Element:
    """A page as an element tree without namespaces."""
    root: Any = html5lib.parse(path.read_text(encoding="utf-8"), namespaceHTMLElements=False)
    return root


def parse_errors(path: Path) -> list[Any]:
    parser = html5lib.HTMLParser()
    parser.parse(path.read_text(encoding="utf-8"))
    return list(parser.errors)


def pages(folder: Path) -> list[Path]:
    return sorted(folder.rglob("*.html"))


def text(element: Element | None) -> str:
    """All text in an element, blanks squeezed."""
    return "" if element is None else " ".join(" ".join(element.itertext()).split())


def by_class(root: Element, name: str) -> list[Element]:
    return [e for e in root.iter() if name in str(e.get("class", "")).split()]


def one(root: Element, element_id: str) -> Element:
    found = [e for e in root.iter() if e.get("id") == element_id]
    assert len(found) == 1, f"{len(found)} elements with id {element_id}"
    return found[0]


def main(path: Path) -> Element:
    found = tree(path).find("body/main")
    assert found is not None
    return found


def links(root: Element) -> Iterator[str]:
    for e in root.iter("a"):
        href = e.get("href")
        if href is not None:
            yield href
