"""Figures and ids as people say them, from the words in ``settings/handbook.toml``."""

from __future__ import annotations

import re
from bisect import bisect
from dataclasses import dataclass
from datetime import date
from math import floor, isfinite, log
from typing import Any

from fieldkit.quantities import both
from fieldkit.specs.trip_tables import MONTHS

#: Chances that people can picture, as (n, m) for "n in m".
LADDER = (
    (19, 20), (9, 10), (4, 5), (3, 4), (2, 3), (3, 5), (1, 2), (2, 5), (1, 3), (1, 4), (1, 5), (1, 6), (1, 7), (1, 8),
    (1, 10), (1, 12), (1, 15), (1, 20), (1, 25), (1, 30), (1, 40), (1, 50), (1, 60), (1, 80), (1, 100), (1, 150),
    (1, 200), (1, 300), (1, 500), (1, 1000),
)  # fmt: skip


@dataclass(frozen=True)
class Figure:
    """A figure as said, and the exact one that is a tap away."""

    said: str
    exact: str


@dataclass(frozen=True)
class Words:
    """The page words of a library, and the ways figures are said."""

    settings: dict[str, Any]
    imperial: bool = False

    def __getitem__(self, group: str) -> Any:
        return self.settings[group]

    def label(self, group: str, name: object) -> str:
        """An id's word on pages; the id itself where the settings have none."""
        return str(self.settings.get(group, {}).get(str(name), name))

    def chance(self, value: float) -> str:
        return in_words(value)

    def chance_figure(self, value: float, low: float | None = None, high: float | None = None) -> Figure:
        """A chance said, with its percentage and central 80 % as the exact figure."""
        exact = percent(value)
        if low is not None and high is not None:
            exact += f"; likely between {percent(low)} and {percent(high)}"
        return Figure(self.chance(value), exact)

    def times(self, value: float) -> str:
        """An expected number of failures: a chance while below one, then "about n times"."""
        return self.chance(value) if value < 0.95 else f"about {_counted(value)}"

    def quantity(self, value: float, unit: str, digits: int | None = None) -> str:
        """A value in both systems; the trip's own system first."""
        text = both(value, unit, digits)
        if not self.imperial or "(" not in text:
            return text
        metric, other = text[:-1].split(" (")
        return f"{other} ({metric})"


def in_words(value: float) -> str:
    """A probability as people say it: the nearest rung of a ladder of "n in m", by ratio of the odds.

    >>> [in_words(p) for p in (0.1283, 0.52, 0.91, 0.997, 0.0002, 0)]
    ['about 1 in 8', 'about 1 in 2', 'about 9 in 10', 'nearly certain', 'less than 1 in 1,000', 'none']
    """
    if value <= 0:
        return "none"
    if value < 0.0007:
        return "less than 1 in 1,000"
    if value > 0.97:
        return "nearly certain"
    return _RUNGS[bisect(_BETWEEN, _odds(value))]


def about_hours(value: float) -> str:
    """The same as ``hours``; the name used outside the pages."""
    return hours(value)


def _odds(p: float) -> float:
    p = min(max(p, 1e-9), 1 - 1e-9)
    return log(p / (1 - p))


_RUNGS = [f"about {top} in {bottom:,}" for top, bottom in reversed(LADDER)]
_BETWEEN = [
    (_odds(low[0] / low[1]) + _odds(high[0] / high[1])) / 2
    for low, high in zip(reversed(LADDER), list(reversed(LADDER))[1:], strict=False)
]


def percent(value: float) -> str:
    """A share with two or three digits, never a false precision; a load beyond its rating keeps its size.

    >>> percent(0.1283), percent(0.000412), percent(0.9994), percent(1.0), percent(2.723)
    ('12.8 %', '0.041 %', '99.9 %', '100.0 %', '272 %')
    """
    shown = value * 100
    if value > 1 + 1e-9:
        return f"{max(shown, 101):.0f} %"
    if shown >= 10:
        return f"{min(shown, 99.9) if value < 1 else 100:.1f} %"
    return f"{shown:.2g} %"


def kilograms(value: float) -> str:
    """A mass as it stands on a list: never nought for something that weighs.

    >>> kilograms(6.49), kilograms(0.1), kilograms(0.04), kilograms(0.004), kilograms(0)
    ('6.5', '0.1', '0.04', '0.01', '0.0')
    """
    return f"{value:.1f}" if value >= 0.095 or value <= 0 else f"{max(value, 0.01):.2f}"


def _counted(value: float) -> str:
    return "once" if value < 1.5 else "twice" if value < 2.5 else f"{value:.0f} times"


def hours(value: float) -> str:
    """A length of time as people say it.

    >>> [hours(h) for h in (0.2, 0.55, 1.4, 3.2, 20, 37.4, 61, 400)]
    ['about 10 minutes', 'about half an hour', 'about an hour and a half', 'about 3 hours', 'about 20 hours', 'about a day and a half', 'about 2 and a half days', 'about 2 weeks']
    """
    if not isfinite(value):
        return "out of reach"
    if value < 0.7:
        return _minutes(value * 60)
    if value < 22:
        return "about " + _halves(value, "hour", "an hour")
    if value < 24 * 12:
        return "about " + _halves(value / 24, "day", "a day")
    return f"about {value / 168:.0f} weeks"


def _minutes(value: float) -> str:
    if value < 4:
        return "a few minutes"
    if value > 25 and value < 38:
        return "about half an hour"
    step = 5 if value < 20 else 10
    return f"about {max(step, round(value / step) * step)} minutes"


def _halves(value: float, unit: str, one: str) -> str:
    """Whole or half units below five, whole ones above; ``one`` says a single unit."""
    halves = floor(value * 2 + 0.5) if value < 5 else 2 * floor(value + 0.5)
    whole, half = divmod(max(halves, 2), 2)
    if whole == 1:
        return f"{one} and a half" if half else one
    return f"{whole} and a half {unit}s" if half else f"{whole} {unit}s"


def minutes(value: float) -> str:
    """Working time of a repair: whole minutes, and hours beside them from two hours.

    >>> minutes(45), minutes(150)
    ('45 min', '150 min (2 h 30 min)')
    """
    if value < 120:
        return f"{value:.0f} min"
    whole, rest = divmod(round(value), 60)
    return f"{value:.0f} min ({whole} h {rest} min)" if rest else f"{value:.0f} min ({whole} h)"


def joined(names: list[str] | tuple[str, ...]) -> str:
    """Names in a sentence.

    >>> joined(["a", "b", "c"])
    'a, b and c'
    """
    names = [n for n in names if n]
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def day_text(value: Any) -> str:
    """A date written so that nobody reads it two ways.

    >>> from datetime import date
    >>> day_text(date(2031, 5, 3))
    '3 May 2031'
    """
    return f"{value.day} {MONTHS[value.month - 1]} {value.year}"


def days_said(text: str) -> str:
    """Dates of the year-month-day form in a sentence as a page writes them everywhere.

    >>> days_said("looked at 2031-05-03, A. Brook")
    'looked at 3 May 2031, A. Brook'
    """
    return re.sub(r"\b\d{4}-\d\d-\d\d\b", lambda m: _day_or_as_it_is(m[0]), text)


def _day_or_as_it_is(written: str) -> str:
    try:
        return day_text(date.fromisoformat(written))
    except ValueError:  # people write what they like in notes
        return written
