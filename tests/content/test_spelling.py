"""Every word of the library is in a general word list, or in ``known-words.txt`` (British spellings and words of the trade)."""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from spellchecker import SpellChecker

from fieldkit.specs.library import Library

ROOT = Path(__file__).parent.parent.parent
WORD = re.compile(r"[A-Za-z']+")


def texts(library: Library) -> Iterator[tuple[str, str]]:
    """Everything that stands on a page, with where it comes from."""
    for key, mode in library.failure_modes.items():
        yield from (
            (key, t) for t in (mode.item, mode.mode, mode.title, mode.mechanism, mode.effects, mode.field_test.question)
        )
        if mode.inspection:
            yield from ((key, t) for t in (mode.inspection.how, mode.inspection.accept))
        yield from ((key, t) for w in mode.workshop for t in (w.title, w.gives_up, w.legality))
    for key, procedure in library.procedures.items():
        head = procedure.head
        yield from ((key, t) for t in (head.title, head.applies_to, head.limits.stop_when, *head.conditions))
        yield from ((key, t) for t in procedure.sections.values())
        yield from ((key, t) for h in head.hazards for t in (h.hazard, h.consequence, *h.avoid))
    for key, symptom in library.symptoms.items():
        yield from ((key, t) for t in (symptom.text, symptom.first_action, *symptom.also_called))
    for key, item in library.items.items():
        yield from ((key, t) for t in (item.name, item.travel_damage))
    for key, part in library.modifications.items():
        yield from ((key, t) for t in (part.name, part.summary, part.gives_up, part.legality))
    for key, rule in library.matching.items():
        yield from ((key, t) for t in (rule.title, rule.why, rule.mend))
    yield from library.texts.items()


def test_every_word_is_spelled_as_word_lists_have_it(library: Library) -> None:
    known = set((Path(__file__).parent / "known-words.txt").read_text(encoding="utf-8").split())
    where: dict[str, str] = {}
    for key, text in texts(library):
        for word in WORD.findall(text):
            plain = word.strip("'").removesuffix("'s").lower()
            if len(plain) > 2:
                where.setdefault(plain, key)
    unknown = SpellChecker().unknown(where) - known
    assert {w: where[w] for w in sorted(unknown)} == {}


def test_no_makers_name_slipped_in(name_tool: Path | None) -> None:
    """A list of digests of makers' and products' names finds none in the tree (where that list is at hand)."""
    if name_tool is None:
        pytest.skip("the list of names is not beside this checkout")
    result = subprocess.run([sys.executable, str(name_tool), str(ROOT)], capture_output=True, text=True)
    assert result.returncode == 0, result.stdout
