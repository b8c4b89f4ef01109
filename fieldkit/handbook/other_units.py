"""The other system of units beside every figure on a page, rounded as the figure is."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import partial
from typing import NamedTuple

from markupsafe import escape

from fieldkit.quantities import other_system, rounded

_NUMBER = r"(?:(?<![\w.,-])-)?\d+(?:,\d{3})*(?:\.\d+)?"
_MORE = rf"(?:(?:, {_NUMBER})*(?: (?:to|of|and|or) | ?[-–] ?){_NUMBER})?"
_METRIC = r"km/h|kPa|Nm|kg|km|mm|cm|ml|°C|m|g|t|L"
_OTHER = r"lbf ft|US gal|US fl oz|psi|mph|mi|ft|in|lb|oz|°F"
#: A figure has neither a letter nor another figure before it, and not the other system behind it. Both patterns begin with the sign or
#: letters themselves: that is what makes them quick.
_ALONE = rf"(?![\w/²³]|[.,]\d| ?\({_NUMBER}{_MORE} (?:{_OTHER})\))"
_FIRST = r"[-\d](?<![\w.,/×-].)(?:(?<=-)\d+|(?<=\d)\d*)(?:,\d{3})*(?:\.\d+)?"
_FIGURE = re.compile(rf"(?P<figures>{_FIRST}{_MORE})[ \u00a0](?P<unit>{_METRIC}){_ALONE}")
_POSITION = re.compile(rf"km (?<![\w.,/×-]km )(?P<figures>{_NUMBER}(?: to {_NUMBER})?){_ALONE}")
_SIZE = re.compile(rf"{_NUMBER} (?:{_METRIC})(?!\w)", re.I)
#: A figure that has the other system's already.
_PAIR = re.compile(rf"(?<![\w.,])({_NUMBER}{_MORE} (?:{_METRIC})) \(({_NUMBER}{_MORE} (?:{_OTHER}))\)")
#: What a figure in brackets stands behind where its other system leads.
_LED = re.compile(rf"\d (?:{_OTHER}) \($")
#: Elements whose words stay: titles and links to them, heads of columns, drawings.
_KEPT = re.compile(
    r'<th scope="col">.*?</th>|<(svg|h[12]|a|caption|script|style|button|option|textarea)\b.*?</\1>', re.S
)
#: What a figure before it is the size of: a 10 mm spanner is no 0.4 in spanner.
_SIZED = re.compile(
    r" mm[ -](?:(?:hex|ring|open|long|deep) )?(?:spanner|socket|key|bolt|screw|stud|nut|drill|bit|hose|tube|pipe)s?\b"
)


class Sizes(NamedTuple):
    """Figures that belong to names of things, by which they are found: the words up to them, and names that begin with one."""

    ends: tuple[str, ...] = ()
    starts: tuple[str, ...] = ()

    def have(self, html: str, start: int, end: int) -> bool:
        before, behind = html[max(0, start - 90) : end], html[start : start + 90]
        return before.lower().endswith(self.ends) or behind.lower().startswith(self.starts)


def sizes_in(names: Iterable[str]) -> Sizes:
    """The sizes in names.

    >>> sizes_in(["Diesel can 20 L full", "2 m chain", "shovel"])
    Sizes(ends=('diesel can 20 l',), starts=('2 m chain',))
    """
    ends, starts = [], []
    for name in (str(escape(name)).lower() for name in names):
        found = [match.span() for match in _SIZE.finditer(name)]
        ends += [name[:end] for start, end in found if start]
        starts += [name for start, _ in found if not start]
    return Sizes(tuple(ends), tuple(starts))


NO_SIZES = Sizes()


def in_both(html: str, imperial: bool = False, sizes: Sizes = NO_SIZES) -> str:
    """HTML with the other system of units behind every figure that stands alone; ``imperial``: that system first, everywhere.

    ``sizes``: figures that stay as they are.

    Examples
    --------
    >>> in_both("Go 50 m upwind; at most 80 km/h (50 mph).")
    'Go 50 m (160 ft) upwind; at most 80 km/h (50 mph).'
    >>> in_both("Go 50 m upwind; at most 80 km/h (50 mph).", imperial=True)
    'Go 160 ft (50 m) upwind; at most 50 mph (80 km/h).'
    >>> in_both("Look at 5, 20 and 50 km. The camp is at km 275.")
    'Look at 5, 20 and 50 km (3, 12 and 30 mi). The camp is at km 275 (171 mi).'
    """
    if imperial:
        html = _PAIR.sub(r"\2 (\1)", html)
    for pattern in (_POSITION, _FIGURE):
        kept = [match.span() for match in _KEPT.finditer(html)]
        html = pattern.sub(partial(_both, imperial=imperial, sizes=sizes, kept=kept), html)
    return html


def _both(match: re.Match[str], imperial: bool, sizes: Sizes, kept: list[tuple[int, int]]) -> str:
    html, start, end = match.string, match.start(), match.end()
    in_tag = html.rfind("<", 0, start) > html.rfind(">", 0, start)
    if in_tag or any(a <= start < b for a, b in kept) or _LED.search(html, max(0, start - 30), start):
        return match[0]
    if _SIZED.match(html, end - 3) or sizes.have(html, start, end):
        return match[0]
    figures, unit = match["figures"], match.groupdict().get("unit", "")
    if unit:
        amounts, other = re.sub(_NUMBER, lambda n: rounded(n[0], unit)[0], figures), rounded("1", unit)[1]
    else:
        amounts, other = (
            re.sub(_NUMBER, lambda n: f"{other_system(float(n[0].replace(',', '')), 'km'):.0f}", figures),
            "mi",
        )
    if unit != "°C" and not re.search("[1-9]", figures):
        return match[0]
    if imperial:
        return f"{amounts} {other} ({match[0]})" if unit else f"mile {amounts} ({match[0]})"
    return f"{match[0]} ({amounts} {other})"
