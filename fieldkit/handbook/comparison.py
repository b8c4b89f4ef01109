"""Two plans side by side as one self-contained page."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from fieldkit.errors import OutputRefused
from fieldkit.handbook.render import digest_source, label_cells, style_text, templates

#: Opening of every page written here: what a file must begin with to be written over.
MARK = "<!doctype html><!-- fieldkit comparison -->"


def write_comparison(
    out: Path, names: tuple[str, str], sections: Sequence[tuple[str, Sequence[Sequence[str]]]], notes: Sequence[str]
) -> Path:
    """Write a comparison as a page that opens from a file and prints.

    Parameters
    ----------
    out : Path
        The file to write; an earlier comparison there is replaced, nothing else is.
    names : (str, str)
        What the two plans are called in the head of each table.
    sections : sequence of (title, rows)
        A row is (what, first, second), as shown.
    notes : sequence of str

    Raises
    ------
    OutputRefused
        If a folder or a file that this did not write stands there.
    """
    if out.is_dir() or (out.exists() and not out.read_bytes().startswith(MARK.encode())):
        raise OutputRefused(f"{out} was not made by 'compare'; name another file for the page")
    style = style_text()
    policy = f"default-src 'none'; style-src {digest_source(style)}; base-uri 'none'; form-action 'none'"
    html = (
        templates()
        .get_template("comparison.html")
        .render(mark=MARK, style=style, policy=policy, names=names, sections=sections, notes=notes)
    )
    out.parent.mkdir(parents=True, exist_ok=True)
    out.write_text(label_cells(html), encoding="utf-8", newline="\n")
    return out
