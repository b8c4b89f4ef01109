"""People's Markdown to safe HTML, and a repair's steps to plain data. Nothing foreign reaches a page unescaped."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache

import nh3
from markdown import Markdown
from markupsafe import Markup, escape

_TAGS = {
    "p", "ul", "ol", "li", "strong", "em", "code", "blockquote", "br", "hr",
    "h2", "h3", "h4", "table", "thead", "tbody", "tr", "th", "td", "dl", "dt", "dd", "sub", "sup",
}  # fmt: skip
_reader = Markdown(extensions=["tables", "def_list"], output_format="html")


@dataclass(frozen=True)
class Step:
    """One action: its text, what is to be seen after it, notes, and actions under it (one level deep)."""

    text: Markup
    expect: Markup | None = None
    notes: tuple[Markup, ...] = ()
    parts: tuple[Markup, ...] = ()


@dataclass(frozen=True)
class Value:
    """A measurable value found in the text, and where it stands."""

    where: str
    text: str


@lru_cache(maxsize=4096)
def html_of(text: str, first_heading: int = 2) -> Markup:
    """Markdown as safe HTML: no links, pictures, attributes or scripts; headings from ``first_heading`` down.

    Addresses stay on the page as text. Raw HTML in the text is shown, not run.

    Examples
    --------
    >>> html_of("Go *slow*. <script>alert(1)</script>")
    Markup('<p>Go <em>slow</em>. &lt;script&gt;alert(1)&lt;/script&gt;</p>')
    """
    _reader.reset()
    raw = _reader.convert(_links_as_text(text).replace("<", "&lt;"))
    return Markup(_plain_tables(nh3.clean(_shift(raw, first_heading), tags=_TAGS, attributes={})))


def _links_as_text(text: str) -> str:
    return re.sub(r"!?\[([^\]]*)\]\(([^)\s]*)\)", lambda m: f"{m[1]} ({m[2]})" if m[2] else m[1], text)


def _shift(html: str, first: int) -> str:
    """Headings moved so that the topmost is ``first``; below h4 all are h4."""
    levels = [int(n) for n in re.findall(r"<h([1-6])", html)]
    if not levels:
        return html
    by = first - min(levels)
    return re.sub(r"(</?h)([1-6])", lambda m: f"{m[1]}{min(4, int(m[2]) + by)}", html)


def _plain_tables(html: str) -> str:
    return (
        html.replace("<th>", '<th scope="col">')
        .replace("<table>", '<div class="wide" tabindex="0" role="group" aria-label="Table"><table>')
        .replace("</table>", "</table></div>")
    )


@lru_cache(maxsize=16384)
def inline(text: str) -> Markup:
    """One line: escaped, with **strong**, *emphasis* and `code`.

    >>> inline("a **b** < c")
    Markup('a <strong>b</strong> &lt; c')
    """
    safe = str(escape(text.strip()))
    safe = re.sub(r"\*\*(\S(?:.*?\S)?)\*\*", r"<strong>\1</strong>", safe)
    safe = re.sub(r"(?<!\*)\*(\S(?:[^*]*?\S)?)\*(?!\*)", r"<em>\1</em>", safe)
    return Markup(re.sub(r"`([^`]+)`", r"<code>\1</code>", safe))


@lru_cache(maxsize=4096)
def lines_of_list(text: str) -> tuple[Markup, ...]:
    """The points of a Markdown list, or the sentences' paragraphs where there is no list."""
    points = re.split(r"^\s*(?:[-*]|\d+\.)\s+", text, flags=re.M)
    if len(points) > 1 and not points[0].strip():
        return tuple(inline(" ".join(p.split())) for p in points[1:] if p.strip())
    return tuple(inline(" ".join(p.split())) for p in re.split(r"\n\s*\n", text) if p.strip())


@lru_cache(maxsize=4096)
def steps_of(text: str) -> tuple[Step, ...]:
    """Numbered steps: an action, then optionally *what you see*, parts, and notes.

    Examples
    --------
    >>> steps_of("1. Pull. *It clicks.*\\n2. Push.\\n   - Once.\\n   Note: It is stiff.")[1]
    Step(text=Markup('Push.'), expect=None, notes=(Markup('It is stiff.'),), parts=(Markup('Once.'),))
    """
    blocks = re.split(r"^\d+\.\s+", text, flags=re.M)[1:]
    return tuple(_step(block) for block in blocks)


def _step(block: str) -> Step:
    action: list[str] = []
    parts: list[str] = []
    notes: list[str] = []
    target = action
    for line in (line.strip() for line in block.strip().splitlines()):
        if match := re.match(r"(?:[-*]|\d+\.|[a-z][.)])\s+(.*)", line):
            parts.append(match[1])
            target = parts
        elif match := re.match(r"(?:>\s*)?(?:\*\*)?Note[:.](?:\*\*)?\s*(.*)", line):
            notes.append(match[1])
            target = notes
        elif line:
            _join(target, line)
    said, expect = _expectation(" ".join(action))
    return Step(inline(said), expect, tuple(map(inline, notes)), tuple(map(inline, parts)))


def _join(target: list[str], line: str) -> None:
    if target:
        target[-1] += f" {line}"
    else:
        target.append(line)


def _expectation(action: str) -> tuple[str, Markup | None]:
    match = re.search(r"(?<!\*)\*([^*]+)\*\.?\s*$", action)
    if match and match.start() > 0:
        return action[: match.start()], inline(match[1])
    return action, None


_VALUE = re.compile(
    r"(?<![\w.])(\d+(?:[.,]\d+)?)(?:\s*(?:to|-|–)\s*(\d+(?:\.\d+)?))?\s*(kPa|km/h|Nm|kg|mm|cm|km|°C|degC|L|V|m)\b(?!/)"
)


def values_in(text: str, where: str) -> list[Value]:
    """Measurable values of a text, as printed in a values table.

    >>> values_in("Pump it to 240 kPa.", "step 3")
    [Value(where='step 3', text='240 kPa')]
    """
    found = []
    for low, high, unit in _VALUE.findall(text):
        said = f"{low} to {high}" if high else low
        found.append(Value(where, f"{said} {unit.replace('degC', '°C')}"))
    return found
