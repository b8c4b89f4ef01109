"""The writer: a folder of pages, joined files for print and for sending, built beside and swapped in."""

from __future__ import annotations

import json
import os
import posixpath
import re
import shutil
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np

from fieldkit.beside import Beside
from fieldkit.errors import OutputRefused
from fieldkit.handbook.facts import Facts, Page
from fieldkit.handbook.light import Headings, light_search
from fieldkit.handbook.render import (
    FIRST_SCRIPTS,
    HELD_SCRIPTS,
    LAST_SCRIPTS,
    Body,
    anchor_links,
    digest_source,
    file_links,
    resolve,
    script_text,
    style_text,
    templates,
)

MARKER = ".fieldkit-made"
FOLDER_POLICY = (
    "default-src 'none'; script-src 'self' file:; style-src 'self' file:; img-src 'self' data:; "
    "base-uri 'none'; form-action 'none'"
)
#: Pages that the one-file handbook has ready as it opens, with the emergency pages; the others become pages when asked for.
AT_ONCE = frozenset({"index", "stock", "symptoms/index"})
#: Pages that one question to the second process is about.
WRITTEN_TOGETHER = 60


# ----------------------------------------------------------------------------------------- safe output
@contextmanager
def built_beside(out: Path) -> Iterator[Path]:
    """A fresh folder beside ``out`` that takes its place when the block ends well; else ``out`` stays as it was.

    Raises
    ------
    OutputRefused
        If ``out`` is a file, or a folder with something in it that this tool did not make.
    """
    out = out.absolute()
    refuse_foreign(out)
    fresh = out.with_name(f".{out.name}.new-{os.getpid()}")
    shutil.rmtree(fresh, ignore_errors=True)
    fresh.mkdir(parents=True)
    try:
        (fresh / MARKER).write_text(
            "Made by fieldkit. This folder is replaced whole at the next run.\n", encoding="utf-8"
        )
        yield fresh
        _swap(fresh, out)
    finally:
        shutil.rmtree(fresh, ignore_errors=True)


def refuse_foreign(out: Path) -> None:
    """Stop before anything is written where it would replace what somebody else made."""
    if out.is_symlink() or (out.exists() and not out.is_dir()):
        raise OutputRefused(f"{out} is not a folder; name another output folder")
    if out.is_dir() and any(out.iterdir()) and not (out / MARKER).is_file():
        raise OutputRefused(
            f"{out} holds something that this tool did not make; name another output folder, or empty it"
        )


def _swap(fresh: Path, out: Path) -> None:
    old = out.with_name(f".{out.name}.old-{os.getpid()}")
    if out.exists():
        out.rename(old)
    try:
        fresh.rename(out)
    except OSError:
        if old.exists():
            old.rename(out)
        raise
    shutil.rmtree(old, ignore_errors=True)


_ID = re.compile(r'(<(?:h[1-6]|section|tr|li|p)\b[^>]*?) id="([^"]*)"')


_SCRIPT = re.compile(r"<script\b.*?</script>", re.S)
_AIMED = re.compile(
    _SCRIPT.pattern + r'|((?: id| for| aria-labelledby| aria-describedby)="|href="#|url\(#)([^")]+)([")])', re.S
)
_BLOCK = "(?:article|div|dl|figure|h[1-6]|ol|p|section|table|ul)"
_LINE_ENDS = re.compile(rf"\s*\n\s*(?=</?(?:{_BLOCK}|caption|d[dt]|li|t[dhr]|thead|tbody|details|summary)[ >])")
_LEFT_OUT = re.compile(
    r"</(?:li|t[dhr]|d[dt])>\s*(?=<(?:li|t[dhr]|d[dt])[ >]|</(?:ul|ol|dl|tr|tbody|thead|div)>)"
    rf"|</p>\s*(?=<{_BLOCK}[ >]|</(?:article|div|section|li|dd|td)>)|</tbody>\s*(?=</table>)|</thead>\s*(?=<tbody>)"
)
_TAGS = re.compile(r"<[a-z][^<>]*>")
_QUOTED = re.compile(r'="([\w.#:-]+)"( |(?=>))')


class Writer:
    """Writes files under one folder; refuses to write one path twice or outside."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.written: dict[str, None] = {}
        self._made: set[str] = set()

    def write(self, name: str, text: str) -> None:
        self.claim(name)
        _put(self.folder / name, text)

    def claim(self, name: str) -> None:
        """A path is the caller's to write from now on; the folder it stands in is there."""
        if name in self.written or name.startswith(("/", "..")) or posixpath.normpath(name) != name:
            raise ValueError(f"{name}: written twice, or outside the output folder")
        parent = posixpath.dirname(name)
        if parent not in self._made:
            (self.folder / parent).mkdir(parents=True, exist_ok=True)
            self._made.add(parent)
        self.written[name] = None


def _put(file: Path, text: str) -> None:
    file.write_text(text, encoding="utf-8", newline="\n")


# ------------------------------------------------------------------------------------------- the folder
@contextmanager
def write_folder(writer: Writer, facts: Facts, bodies: list[Body], beside: Beside) -> Iterator[None]:
    """Every page as a file, the style, the script, and the joined files for print; the pages are all there as the block ends."""
    pages = [b.page for b in bodies]
    sets = print_sets(facts, pages)
    shell = Shell(_frame(facts), frozenset(p.key for p in pages) | frozenset(sets))
    for page in pages:
        writer.claim(f"{page.key}.html")
    bare = [Body(replace(b.page, context={}), b.html) for b in bodies]
    parts = [bare[n : n + WRITTEN_TOGETHER] for n in range(0, len(bare), WRITTEN_TOGETHER)]
    written = [beside.ask(write_pages, writer.folder, shell, part) for part in parts]
    writer.write("handbook.css", style_text(facts))
    writer.write("handbook.js", script_text())
    for key, chosen in sets.items():
        writer.write(f"{key}.html", _joined(facts, key, bodies, chosen))

    try:
        yield
    finally:  # however it ends, nobody writes into the folder any more
        for part in written:
            part()


def write_data(writer: Writer, data: dict[str, Any]) -> None:
    """What the scripts read."""
    for name, value in data.items():
        writer.write(
            f"data/{name}.js", f"window.fieldkitData=window.fieldkitData||{{}};fieldkitData.{name}={_json(value)};\n"
        )


@dataclass(frozen=True)
class Shell:
    """What stands round every page: words and stamp of the handbook, and the keys that links may name."""

    frame: dict[str, Any]
    known: frozenset[str]


def write_pages(folder: Path, shell: Shell, bodies: Sequence[Body]) -> None:
    """Some pages as files."""
    for body in bodies:
        _put(folder / f"{body.page.key}.html", page_html(shell, body))


def page_html(shell: Shell, body: Body) -> str:
    """One page whole: head, header, body, footer, with its links made relative."""
    depth = body.page.key.count("/")
    html = (
        templates()
        .get_template("page.html")
        .render(
            page=body.page,
            slug=body.page.slug,
            body=body.html,
            root="../" * depth,
            policy=FOLDER_POLICY,
            **shell.frame,
        )
    )
    return resolve(html, file_links(body.page.key, shell.known))


def _frame(facts: Facts) -> dict[str, Any]:
    titles = facts.words["titles"]
    return {
        "stamp": facts.stamp,
        "titles": titles,
        "language": facts.words["language"],
        "search": facts.words["search"],
        "w": facts.words["words"],
    }


def _json(value: Any) -> str:
    """Compact, sorted, and safe inside a script element and a classic script."""
    text = json.dumps(_whole(value), ensure_ascii=False, separators=(",", ":"), sort_keys=True)
    return (
        text.replace("<", "\\u003c").replace(">", "\\u003e").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")
    )


def _whole(value: Any) -> Any:
    """Whole numbers without ".0", which means nothing to a script.

    >>> _whole({"a": [1.0, 0.5, -0.0]})
    {'a': [1, 0.5, 0]}
    """
    if isinstance(value, float):
        return int(value) if value.is_integer() else value
    if isinstance(value, dict):
        return {key: _whole(x) for key, x in value.items()}
    return [_whole(x) for x in value] if isinstance(value, list | tuple) else value


# --------------------------------------------------------------------------------------- joined files
def print_sets(facts: Facts, pages: list[Page]) -> dict[str, list[str]]:
    """Ready-made print files: key to the page keys that they join."""
    book = [p.key for p in pages if p.in_book]
    sets = {"print/all": book, "print/must-have": must_have(facts)}
    for vehicle in facts.vehicles:
        own = [p.key for p in pages if p.key.startswith(f"vehicles/{vehicle.id}/")]
        sets[f"print/vehicle-{vehicle.id}"] = [*own, f"recovery/{vehicle.id}"]
    sets["print/workshop"] = [p.key for p in pages if p.chapter == "workshop"]
    sets["print/lists"] = [k for k in book if k.startswith("lists/")]
    there = {p.key for p in pages}
    return {key: [k for k in keys if k in there] for key, keys in sets.items()}


def must_have(facts: Facts) -> list[str]:
    """The fallback on paper: first minutes, contacts, key figures, and the repairs that spare most here."""
    keys = ["emergency/index", "trip/card", "trip/key-figures"]
    return keys + [f"repairs/{p}" for p in repairs_that_spare_most(facts)]


def repairs_that_spare_most(facts: Facts) -> list[str]:
    """The first covered repair of each weak point's page, by the hours that are expected to be spared all vehicles together."""
    spared: dict[str, float] = {}
    for cover in facts.plan.kit.cover:
        if cover.procedures:
            on_page = [p.id for p in facts.repairs_of.get(cover.mode, ()) if p.id in cover.procedures]
            first = (on_page or list(cover.procedures))[0]
            spared[first] = spared.get(first, 0.0) + cover.hours_without - cover.hours_with
    ordered = sorted((p for p, hours in spared.items() if hours > 0), key=lambda p: (-spared[p], p))
    return ordered[: facts.words["print"]["top_repairs"]]


def _joined(facts: Facts, key: str, bodies: list[Body], chosen: list[str]) -> str:
    """Several pages in one file for printing; links inside go to anchors, others become plain text."""
    by_key = {b.page.key: b for b in bodies}
    html = (
        templates()
        .get_template("joined.html")
        .render(
            bodies=[by_key[k] for k in chosen],
            key=key,
            root="../" * key.count("/"),
            policy=FOLDER_POLICY,
            **_frame(facts),
        )
    )
    return resolve_within(html, key, set(chosen))


def resolve_within(html: str, key: str, chosen: set[str]) -> str:
    """Links to pages in the file as anchors; links to others lose their address and keep their words."""
    target = anchor_links(key, dict.fromkeys(chosen))
    return _drop_dead(resolve(html, lambda k, a: target(k, a) if k in chosen else "~"))


def _drop_dead(html: str) -> str:
    return re.sub(r'<a (?:class="[^"]*" )?href="~"[^>]*>(.*?)</a>', r"\1", html, flags=re.S)


# ------------------------------------------------------------------------------------------- one file
def one_file_html(facts: Facts, bodies: list[Body], data: dict[str, Any]) -> str:
    """The whole handbook in one page: style, script, data and drawings inside, links by anchor."""
    kept = [b for b in bodies if b.page.in_book or b.page.key == "index"]
    headings = Headings()
    kept = [replace(b, html=headings.taken_from(b.html)) for b in kept]
    style = style_text(facts) + headings.style()
    kinds = (HELD_SCRIPTS, FIRST_SCRIPTS, LAST_SCRIPTS)
    held, first, last = (script_text(names).replace("</", "<\\/") for names in kinds)
    policy = (
        f"default-src 'none'; script-src {' '.join(digest_source(text) for text in (held, first, last))}; style-src {digest_source(style)}; "
        "img-src data:; base-uri 'none'; form-action 'none'"
    )
    html = (
        templates()
        .get_template("one_file.html")
        .render(
            bodies=kept,
            at_once={b.page.key for b in kept if b.page.key in AT_ONCE or b.page.chapter == "emergency"},
            style=style,
            held_script=held,
            first_script=first,
            last_script=last,
            search_data=_json(light_search(data["search"], facts.words["titles"].values())),
            data={name: _json(value) for name, value in data.items() if name != "search"},
            policy=policy,
            **_frame(facts),
        )
    )
    return lighter(short_ids(drop_idle_ids(resolve_within(html, "one-file", {b.page.key for b in kept}))))


def lighter(html: str) -> str:
    """The pages between ``<main>`` and ``</main>`` without what the HTML standard lets one leave out: quotes round plain values,
    the end tags of list points, cells, rows and terms, of paragraphs before a block, and of table heads and bodies (sections 13.1.2.3 and
    13.1.2.4), line ends before a block, and the apostrophe's long form (no value between tags is in single quotes).

    >>> lighter('<main><ul class="a"><li>b</li></ul></main>')
    '<main><ul class=a><li>b</ul></main>'
    """
    head, start, rest = html.partition("<main>")
    body, end, foot = rest.partition("</main>")
    body = _LEFT_OUT.sub("", _LINE_ENDS.sub("", body)).replace("&#39;", "'")
    return head + start + _TAGS.sub(lambda tag: _QUOTED.sub(r"=\1\2", tag[0]), body) + end + foot


def short_ids(html: str) -> str:
    """Every id and what points at it under a name of a few letters: links are a tenth of the file otherwise. Scripts and data stay.

    >>> short_ids('<article id="repairs--x"><a href="#repairs--x-steps">b</a><h2 id="repairs--x-steps">c</h2>')
    '<article id="a0"><a href="#a1">b</a><h2 id="a1">c</h2>'
    """
    names: dict[str, str] = {}
    for name in re.findall(r' id="([^"]+)"', _SCRIPT.sub("", html)):
        names.setdefault(name, "a" + np.base_repr(len(names), 36).lower())

    def renamed(match: re.Match[str]) -> str:
        if match[1] is None:
            return match[0]
        return match[1] + " ".join(names.get(name, name) for name in match[2].split(" ")) + match[3]

    return _AIMED.sub(renamed, html)


def drop_idle_ids(html: str) -> str:
    """Headings, sections and rows without the ids that nothing in the file points at, to keep the file small to send.

    >>> drop_idle_ids('<h2 id="a">A</h2><p id="b"><a href="#b">B</a>')
    '<h2>A</h2><p id="b"><a href="#b">B</a>'
    """
    aimed = set(re.findall(r'(?:href="#|aria-labelledby="|aria-describedby="|for="|url\(#)([^")]*)', html))
    aimed = {name for group in aimed for name in group.split()}
    return _ID.sub(lambda m: m[0] if m[2] in aimed else m[1], html)


def listing(folder: Path) -> list[Path]:
    """Every file under a folder but the marker, sorted."""
    return sorted(p for p in folder.rglob("*") if p.is_file() and p.name != MARKER)


Extra = Callable[[Path], Any]
