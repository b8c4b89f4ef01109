"""The other system of units beside a figure in running text, rounded as the figure is."""

from __future__ import annotations

import re
from collections.abc import Iterable

from fieldkit.quantities import rounded

_NUMBER = r"\d+(?:,\d{3})*(?:\.\d+)?"
_FIGURE = re.compile(
    rf"(?<![\w.,/×-])(?P<low>{_NUMBER})(?:(?P<joint> (?:to|of|and|or) | ?[-–] ?)(?P<high>{_NUMBER}))?"
    r"(?P<gap>[ \u00a0])(?P<unit>km/h|kPa|Nm|kg|km|mm|cm|ml|°C|m|g|t|L)(?![\w/²³(]| ?\()"
)
#: Elements whose words stay: names, heads, links (titles of pages), drawings.
_KEPT = re.compile(r"<(svg|h[12]|a|th|caption|script|style|button|option|textarea)\b.*?</\1>", re.S)
#: What makes a figure before it the name of a size: a "10 mm spanner" is no 0.4 in spanner.
_SIZED = re.compile(
    r"[ -](?:hex |ring |open |long |deep )?(?:spanner|socket|key|bolt|screw|stud|nut|drill|bit|hose|tube|pipe|rope|strap|cable|wire|can|bottle|jack|lead)"
)
#: The end of a figure in the other system, before what stands in brackets behind it.
_OTHER = re.compile(r"(?:psi|mph|mi|ft|in|lb|gal|°F|oz) \((?:[\d.,]+ to )?$")


def beside(text: str, imperial: bool = False, sizes: tuple[str, ...] = ()) -> str:
    """Text or HTML with the other system of units behind every figure that has a unit and stands alone; ``imperial``: that system first.

    ``sizes``: see ``sizes_in``; these figures stay.

    Examples
    --------
    >>> beside("Go 50 m upwind; at most 80 km/h (50 mph).")
    'Go 50 m (160 ft) upwind; at most 80 km/h (50 mph).'
    >>> beside("Go 50 m upwind with the tape 20 m.", True, sizes_in(["tape 20 m"]))
    'Go 160 ft (50 m) upwind with the tape 20 m.'
    """
    if not _FIGURE.search(text):
        return text
    kept = [match.span() for match in _KEPT.finditer(text)]

    def both(match: re.Match[str]) -> str:
        start, end = match.span()
        if _in_tag(text, start) or any(a <= start < b for a, b in kept) or _OTHER.search(text, max(0, start - 30), start):
            return match[0]
        before = text[max(0, start - 90) : end].lower().replace("\u00a0", " ")
        if before.endswith(sizes) or (match["unit"] in ("mm", "m", "L", "t", "kg") and _SIZED.match(text, end)):
            return match[0]
        return _said(match, imperial)

    return _FIGURE.sub(both, text)


def sizes_in(names: Iterable[str]) -> tuple[str, ...]:
    """Names of things up to the end of a figure in them: such a figure is a size, by which the thing is found."""
    return tuple({name[: found.end()].lower() for name in names for found in _FIGURE.finditer(name)})


def _in_tag(text: str, at: int) -> bool:
    return text.rfind("<", 0, at) > text.rfind(">", 0, at)


def _said(match: re.Match[str], imperial: bool) -> str:
    unit = match["unit"]
    figures = [f for f in (match["low"], match["high"]) if f]
    pairs = [rounded(figure, unit) for figure in figures]
    if not any(float(f.replace(",", "")) for f in figures) and unit != "°C":
        return match[0]
    other = (match["joint"] or "").join(amount for amount, _ in pairs) + f" {pairs[0][1]}"
    return f"{other} ({match[0]})" if imperial else f"{match[0]} ({other})"
