"""Contexts to HTML. A page's body is rendered once; links in it name page keys until the writer resolves them."""

from __future__ import annotations

import base64
import hashlib
import posixpath
import re
from collections.abc import Callable, Container, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemBytecodeCache, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from fieldkit.handbook.facts import Facts, Page, slug_of
from fieldkit.handbook.other_units import in_both, sizes_in
from fieldkit.specs.read_library import shipped_folder

#: What brings the pages of the one file, and scripts that need nothing of the pages below them: there they run before it is read to its end.
HELD_SCRIPTS = ("held.js",)
FIRST_SCRIPTS = ("marks.js", "view.js", "search.js")
LAST_SCRIPTS = ("coverage.js", "pages.js", "finder.js", "stock.js")
#: The words and bodies of the last run in this process, so that after one change only what it touches is made again.
_LAST: dict[Any, Any] = {}
_STACKED = re.compile(r'(<table class="stack">.*?</thead>)(.*?</table>)', re.S)
_CELL = re.compile(r"<t[hd](?=[ >])")
_LINK = re.compile(r'href="~([^"#]+)(?:#([^"]*))?"')


@dataclass(frozen=True)
class Body:
    """A rendered page: its inner HTML with links still naming page keys (``href="~repairs/x"``)."""

    page: Page
    html: str


@lru_cache(maxsize=4)
def environment(folder: Path) -> Environment:
    """The template environment: everything escaped, unknown names refused."""
    env = Environment(
        loader=FileSystemLoader(folder),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
        bytecode_cache=_kept_templates(),
    )
    env.globals["to"] = to
    env.filters["lower_headings"] = lower_headings
    env.filters["first_upper"] = first_upper
    return env


@lru_cache(maxsize=1)
def templates() -> Environment:
    return environment(shipped_folder("site_template"))


def _kept_templates() -> FileSystemBytecodeCache | None:
    """Compiled templates kept in the user's own temporary folder; None where there is no safe one."""
    try:
        return FileSystemBytecodeCache()
    except (OSError, RuntimeError):
        return None


def to(key: str, anchor: str = "") -> Markup:
    """A link to a page, or to a place on it, by key; resolved when pages are written."""
    return Markup(f"~{key}#{slug_of(key)}-{anchor}" if anchor else f"~{key}")


def first_upper(text: str) -> str:
    """The first letter large, the others as they are: names hold units.

    >>> first_upper("drinking water 10 L")
    'Drinking water 10 L'
    """
    return text[:1].upper() + text[1:]


def lower_headings(html: str) -> Markup:
    """A page's headings one level down, for files that join pages under one title; its sections are no landmarks there.

    >>> lower_headings('<h1>a</h1><section aria-labelledby="b"><h2 id="b">c</h2>')
    Markup('<h2>a</h2><section><h3 id="b">c</h3>')
    """
    lowered = re.sub(r"(</?h)([1-4])(?=[ >])", lambda m: f"{m[1]}{int(m[2]) + 1}", html)
    return Markup(re.sub(r'(<section\b[^>]*?) aria-labelledby="[^"]*"', r"\1", lowered))


def render_bodies(facts: Facts, pages: list[Page]) -> list[Body]:
    """Each page's body, in page order. A page that equals the one of the run before in this process keeps its body."""
    env = templates()
    shared = {"words": facts.words, "w": facts.words["words"]}
    if _LAST.get("words") != facts.words:
        _LAST.clear()
        _LAST["words"] = facts.words
    before = _LAST.setdefault(env, {})
    sizes = sizes_in(item.name for item in facts.library.items.values())

    def made(page: Page) -> str:
        html = env.get_template(page.template).render({**shared, **page.context, "page": page, "slug": page.slug})
        return label_cells(in_both(html, facts.words.imperial, sizes))

    bodies = [
        kept if (kept := before.get(page.key)) is not None and kept.page == page else Body(page, made(page))
        for page in pages
    ]
    before.update((body.page.key, body) for body in bodies)
    return bodies


def label_cells(html: str) -> str:
    """Each cell of a table that stacks on phones gets its column's heading, to be shown before it there.

    >>> label_cells('<table class="stack"><thead><tr><th scope="col">A</th><th scope="col">B</th></tr></thead><tbody><tr><td>1</td><td class="x">2</td></tr></tbody></table>')
    '<table class="stack"><thead><tr><th scope="col">A</th><th scope="col">B</th></tr></thead><tbody><tr><td data-h="A">1</td><td data-h="B" class="x">2</td></tr></tbody></table>'
    """
    return _STACKED.sub(_label_table, html)


def _label_table(match: re.Match[str]) -> str:
    head, body = match[1], match[2]
    names = re.findall(r'<th scope="col">(.*?)</th>', head, re.S)

    def row(found: re.Match[str]) -> str:
        columns = iter(names)
        return _CELL.sub(
            lambda cell: (
                f'{cell[0]} data-h="{next(columns, "")}"' if cell[0] == "<td" else (next(columns, ""), cell[0])[1]
            ),
            found[0],
        )

    return head + re.sub(r"<tr.*?</tr>", row, body, flags=re.S)


# ------------------------------------------------------------------------------------------------ links
def resolve(html: str, target: Callable[[str, str], str]) -> str:
    """Every link by page key replaced by what ``target(key, anchor)`` gives."""
    return _LINK.sub(lambda m: f'href="{target(m[1], m[2] or "")}"', html)


def file_links(from_key: str, known: Container[str]) -> Callable[[str, str], str]:
    """Relative links between files, with the full file name."""
    here = posixpath.dirname(from_key)

    def target(key: str, anchor: str) -> str:
        _must_exist(key, known, from_key)
        path = _relative(here, key)
        return f"{path}#{anchor}" if anchor else path

    return target


@lru_cache(maxsize=65536)
def _relative(here: str, key: str) -> str:
    return posixpath.relpath(f"{key}.html", here or ".")


def anchor_links(from_key: str, known: Mapping[str, Any]) -> Callable[[str, str], str]:
    """Links within one joined file."""

    def target(key: str, anchor: str) -> str:
        _must_exist(key, known, from_key)
        return f"#{anchor or slug_of(key)}"

    return target


def _must_exist(key: str, known: Container[str], from_key: str) -> None:
    if key not in known:
        raise KeyError(f"page {from_key} links to {key}, which is not in this handbook")


# ---------------------------------------------------------------------------------------- style and script
@lru_cache(maxsize=4)
def script_text(names: tuple[str, ...] = HELD_SCRIPTS + FIRST_SCRIPTS + LAST_SCRIPTS) -> str:
    folder = shipped_folder("site_template") / "js"
    return "\n".join((folder / name).read_text(encoding="utf-8") for name in names)


def style_text(facts: Facts | None = None) -> str:
    """The style sheet, with the footers that this handbook prints on every sheet."""
    css = (shipped_folder("site_template") / "handbook.css").read_text(encoding="utf-8")
    if facts is None:
        return css
    stamp = facts.stamp
    left = css_string(f"{stamp['trip']} · revision {stamp['revision']} · {stamp['date']}")
    vehicles = css_string(f"Vehicles: {stamp['vehicles']}")
    pages = [
        f"@page {{ @bottom-left {{ content: {left}; }} @bottom-center {{ content: {vehicles}; }} }}",
        *(
            f"@page v-{v.id} {{ @bottom-left {{ content: {left}; }} "
            f"@bottom-center {{ content: {css_string('Vehicle: ' + v.id)}; }} }}\n.v-{v.id} {{ page: v-{v.id}; }}"
            for v in facts.vehicles
        ),
    ]
    return css + "\n" + "\n".join(pages) + "\n"


def css_string(text: str) -> str:
    """Text as a CSS string: nothing in it can end the string or the style sheet."""
    safe = "".join(c if c.isalnum() or c in " .,:;-·/" else f"\\{ord(c):x} " for c in text)
    return f'"{safe}"'


def digest_source(text: str) -> str:
    """A content-security source that allows exactly this inline script or style."""
    return "'sha256-" + base64.b64encode(hashlib.sha256(text.encode()).digest()).decode() + "'"
