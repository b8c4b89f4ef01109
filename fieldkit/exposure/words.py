"""Times and lengths of time as they are said in cautions."""

from __future__ import annotations

from math import floor, isfinite


def span(hours: float) -> str:
    """A length of time [h] in words of fitting coarseness.

    Examples
    --------
    >>> span(0.4), span(7.25), span(31.0), span(80.0), span(float("inf"))
    ('25 min', '7.2 h', '31 h', '3.3 days', 'no end in sight')
    """
    if not isfinite(hours):
        return "no end in sight"
    if abs(hours) < 0.95:
        return f"{5 * round(hours * 12):.0f} min"
    if abs(hours) < 10:
        return f"{hours:.1f} h"
    return f"{hours:.0f} h" if abs(hours) < 48 else days(hours / 24)


def days(value: float) -> str:
    """A number of days in words.

    Examples
    --------
    >>> days(1.0), days(2.34), days(-0.5)
    ('1 day', '2.3 days', '-0.5 days')
    """
    shown = f"{value:.1f}".removesuffix(".0")
    return f"{shown} day" if shown == "1" else f"{shown} days"


def clock(hours: float) -> str:
    """Hours after midnight as a clock shows them; past midnight it starts again.

    Examples
    --------
    >>> clock(6.5), clock(25.0)
    ('06:30', '01:00')
    """
    minutes = floor(hours * 60 + 0.5) % 1440
    return f"{minutes // 60:02d}:{minutes % 60:02d}"
