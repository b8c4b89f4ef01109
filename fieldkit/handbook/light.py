"""What the one-file handbook says once instead of many times: column headings of stacked tables, starts of words in the index."""

from __future__ import annotations

import re
from collections.abc import Iterable
from html import unescape
from typing import Any

from fieldkit.handbook.render import css_string

_STACKED = re.compile(r'<table class="stack">(.*?</thead>)(.*?</table>)', re.S)
_HEAD = re.compile(r'<th scope="col">(.*?)</th>', re.S)
_ROW = re.compile(r"<tr.*?</tr>", re.S)
_CELL = re.compile(r'<(t[hd])(?=[ >])(?: data-h="([^"]*)")?')
_LABEL = re.compile(r'(<td) data-h="[^"]*"')
#: The style sheet's condition for stacked tables.
NARROW = "@media screen and (max-width: 44rem)"


class Headings:
    """Column headings that cells of stacked tables show on phones: kept once in the style sheet, named by the table's class."""

    def __init__(self) -> None:
        self.names: dict[tuple[str, ...], str] = {}

    def taken_from(self, html: str) -> str:
        """A page whose stacked tables name their headings by class; a table whose cells say other words than its head keeps them.

        >>> head = '<thead><tr><th scope="col">A</th><th scope="col">B</th></tr></thead>'
        >>> Headings().taken_from(f'<table class="stack">{head}<tbody><tr><th>1</th><td data-h="B">2</td></tr></tbody></table>')[20:45]
        'k0"><thead><tr><th scope='
        """
        return _STACKED.sub(self._table, html)

    def _table(self, match: re.Match[str]) -> str:
        heads = tuple(_HEAD.findall(match[1]))
        for row in _ROW.findall(match[2]):
            cells = _CELL.findall(row)
            if len(cells) > len(heads) or any(
                tag == "td" and said != head for (tag, said), head in zip(cells, heads, strict=False)
            ):
                return match[0]
        name = self.names.setdefault(heads, f"k{len(self.names)}")
        return f'<table class="stack {name}">' + match[1] + _LABEL.sub(r"\1", match[2])

    def style(self) -> str:
        """The rules that show them: one list of headings for each class, one rule for each column."""
        if not self.names:
            return ""
        most = max(map(len, self.names))
        lists = [
            f".{name}{{{''.join(f'--k{n}:{css_string(unescape(head))};' for n, head in enumerate(heads, 1))}}}"
            for heads, name in self.names.items()
        ]
        rules = [
            f'.stack td:nth-child({n})::before{{content:var(--k{n},attr(data-h)) ": "}}' for n in range(1, most + 1)
        ]
        return "\n".join([*lists, f"{NARROW}{{", *rules, "}"]) + "\n"


def packed_words(words: dict[str, str]) -> str:
    """The index as one text, in order: how many letters each word shares with the one before (one sign, to base 36), its other letters,
    a space, its pages.

    >>> packed_words({"hose": "0Q", "hoses": "0Q12", "hub": "34"})
    '0hose 0Q 4s 0Q12 1ub 34'
    """
    parts: list[str] = []
    before = ""
    for word in sorted(words):
        both = zip(before, word, strict=False)
        shared = min(next((n for n, (a, b) in enumerate(both) if a != b), min(len(before), len(word))), 35)
        parts += ["0123456789abcdefghijklmnopqrstuvwxyz"[shared] + word[shared:], words[word]]
        before = word
    return " ".join(parts)


def light_search(search: dict[str, Any], titles: Iterable[str]) -> dict[str, Any]:
    """The index for the one file, where each page stands under its key and begins with its first words: titles, with the chapter's number."""
    chapters = list(dict.fromkeys(titles))
    return {
        **search,
        "chapters": chapters,
        "pages": [[title, chapters.index(chapter)] for _, title, chapter, *_ in search["pages"]],
        "words": packed_words(search["words"]),
    }
