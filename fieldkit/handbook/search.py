"""The search index: every page's title, other names and words, small enough to sit in a classic script."""

from __future__ import annotations

import re
import string
from collections import Counter
from collections.abc import Sequence
from functools import lru_cache, reduce
from html import unescape
from typing import Any

from fieldkit.handbook.facts import Facts
from fieldkit.handbook.render import Body

_WORD = re.compile(r"[^\W_]+(?:-[^\W_]+)*", re.UNICODE)
_TAG = re.compile(r"<(?:style|script|svg)\b.*?</(?:style|script|svg)>|<[^>]+>", re.S)
STOP = frozenset(
    [
        "a",
        "an",
        "and",
        "are",
        "as",
        "at",
        "be",
        "but",
        "by",
        "for",
        "from",
        "has",
        "have",
        "if",
        "in",
        "into",
        "is",
        "it",
        "its",
        "no",
        "not",
        "of",
        "off",
        "on",
        "or",
        "out",
        "so",
        "than",
        "that",
        "the",
        "their",
        "them",
        "then",
        "there",
        "they",
        "this",
        "to",
        "up",
        "was",
        "when",
        "where",
        "which",
        "who",
        "will",
        "with",
        "you",
        "your",
        "page",
        "repair",
        "see",
    ]
)
MOST_PAGES_FOR_A_WORD = 0.35
DIGITS = string.digits + string.ascii_lowercase + string.ascii_uppercase


def search_data(facts: Facts, bodies: list[Body]) -> dict[str, Any]:
    """``pages``: [key, title, chapter, first words]; ``words``: word to page numbers as ``packed``,
    ``signs`` signs each; ``numbers``: the page of repair 1, 2, ...; ``alias``: other names to our words; settings of the box.
    """
    kept = [b for b in bodies if b.page.in_book]
    pages = [[b.page.key, b.page.title, facts.words["titles"][b.page.chapter], _snippet(b)] for b in kept]
    place = {page[0]: n for n, page in enumerate(pages)}
    signs = 2 if 2 * len(pages) <= len(DIGITS) ** 2 else 3
    return {
        "pages": pages,
        "signs": signs,
        "numbers": [place[f"repairs/{p.id}"] for p in facts.numbered],
        "words": {word: packed(numbers, signs) for word, numbers in _postings(kept).items()},
        "alias": _aliases(facts),
        "settings": facts.words["search"],
    }


def packed(numbers: Sequence[int], signs: int = 2) -> str:
    """Page numbers as ``signs`` signs each of ``DIGITS``: twice the number, one more where the page is named by the word (-(n + 1)).

    >>> packed([0, 3, -1]), unpacked("000601")
    ('000601', [0, 3, -1])
    """
    values = [2 * n if n >= 0 else 2 * (-n - 1) + 1 for n in numbers]
    base = len(DIGITS)
    return "".join(DIGITS[v // base**k % base] for v in values for k in range(signs - 1, -1, -1))


def unpacked(text: str, signs: int = 2) -> list[int]:
    """What ``packed`` made, as numbers again."""
    values = [
        reduce(lambda v, sign: v * len(DIGITS) + DIGITS.index(sign), text[i : i + signs], 0)
        for i in range(0, len(text), signs)
    ]
    return [-(v // 2) - 1 if v % 2 else v // 2 for v in values]


@lru_cache(maxsize=4096)
def _counts(html: str) -> Counter[str]:
    """How often each word stands in a body; kept, since most pages stay as they are from one run to the next."""
    return Counter(words_of(unescape(_TAG.sub(" ", html))))


def _snippet(body: Body) -> str:
    match = re.search(r'<p class="lead">(.*?)</p>', body.html, re.S)
    text = _TAG.sub(" ", match[1]) if match else ""
    words = " ".join(unescape(text).split())
    return words if len(words) <= 110 else words[:107].rsplit(" ", 1)[0] + " ..."


def words_of(text: str) -> list[str]:
    """Words of a text as the index holds them; compounds also by their parts.

    >>> words_of("Free-wheel hub, 2 nuts")
    ['free-wheel', 'free', 'wheel', 'hub', 'nuts']
    """
    return [part for word in _WORD.findall(text.lower()) for part in _parts(word)]


@lru_cache(maxsize=32768)
def _parts(word: str) -> tuple[str, ...]:
    parts = [word, *word.split("-")] if "-" in word else [word]
    return tuple(p for p in parts if len(p) > 1 and p not in STOP and any(sign.isalpha() for sign in p))


def _postings(bodies: list[Body]) -> dict[str, list[int]]:
    """Word to page numbers, heaviest first; a page whose title or other names hold the word is said as -(n + 1)."""
    weight: dict[str, dict[int, int]] = {}
    titled: dict[str, set[int]] = {}
    for n, body in enumerate(bodies):
        for word in words_of(" ".join((body.page.title, *body.page.also))):
            titled.setdefault(word, set()).add(n)
            weight.setdefault(word, {})[n] = 1000
        for word, count in _counts(body.html).items():
            weight.setdefault(word, {}).setdefault(n, count)
    most = max(20, int(len(bodies) * MOST_PAGES_FOR_A_WORD))
    kept = {}
    for word, pages in sorted(weight.items()):
        ranked = sorted(pages, key=lambda n: (-pages[n], n))
        if len(ranked) > most:
            ranked = [n for n in ranked if n in titled.get(word, ())]
        if ranked:
            kept[word] = [-(n + 1) if n in titled.get(word, ()) else n for n in ranked[:60]]
    return kept


def _aliases(facts: Facts) -> dict[str, str]:
    alias = facts.library.settings.get("words", {}).get("alias", {})
    return {str(k).lower(): str(v).lower() for k, v in alias.items()} if isinstance(alias, dict) else {}
