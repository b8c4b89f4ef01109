"""Pages of the standing texts: rules, briefings, and what must never be attempted in the field."""

from __future__ import annotations

from markupsafe import Markup

from fieldkit.handbook.facts import Facts, Page, text_title
from fieldkit.handbook.markup import html_of
from fieldkit.handbook.repairs import linked

ON_ITS_OWN_PAGE = "method"
FIRST = ("standing-rules", "never-in-the-field", "before-going-under")


def text_pages(facts: Facts) -> list[Page]:
    """The index of rules and briefings, and one page per text of the library."""
    keys = sorted(
        set(facts.library.texts) - {ON_ITS_OWN_PAGE}, key=lambda k: (FIRST.index(k) if k in FIRST else len(FIRST), k)
    )
    refs = [{"key": f"rules/{k}", "title": text_title(facts, k)} for k in keys]
    words = facts.library.settings.get("words", {})
    context = {"texts": refs, "signal": _signal_meanings(words), "signal_note": _signal_note(words)}
    index = Page("rules/index", facts.words["titles"]["rules"], "rules.html", "rules", context)
    return [index, *(_page(facts, k) for k in keys)]


def _page(facts: Facts, key: str) -> Page:
    context = {"body": text_body(facts, key)}
    return Page(f"rules/{key}", text_title(facts, key), "rule.html", "rules", context)


def text_body(facts: Facts, key: str) -> Markup:
    """A text as HTML without its title; empty where the library has none of that name."""
    lines = facts.library.texts.get(key, "").lstrip().splitlines()
    body = lines[1:] if lines and lines[0].startswith("#") else lines
    return linked(facts, html_of("\n".join(body)))


def _signal_meanings(words: dict[str, object]) -> list[tuple[str, str]]:
    signal = words.get("signal", {})
    return [(w, str(v["meaning"])) for w, v in signal.items()] if isinstance(signal, dict) else []


def _signal_note(words: dict[str, object]) -> str:
    note = words.get("signal_note", {})
    return str(note.get("text", "")) if isinstance(note, dict) else ""
