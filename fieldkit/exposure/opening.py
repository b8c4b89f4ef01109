"""Opening hours of help points: what was written, and how long one who arrives has to wait."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from fieldkit.errors import Fault
from fieldkit.exposure.result import Floats
from fieldkit.specs.trip import Help

DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
WEEK_H = 168.0
_ENTRY = re.compile(r"^(?:([A-Za-z]{3})(?:\s*-\s*([A-Za-z]{3}))?\s+)?(\d{1,2}):(\d{2})\s*-\s*(\d{1,2}):(\d{2})$")


@dataclass(frozen=True)
class Opening:
    """Opening times of a week: hours after Monday 00:00, rising, not overlapping; shape (times,). Empty: always open."""

    opens: Floats
    shuts: Floats

    def wait(self, week_hours: Floats) -> Floats:
        """How long one has to wait who arrives then.

        Parameters
        ----------
        week_hours : array
            Hours after Monday 00:00 [h], any week; infinity stays.

        Returns
        -------
        array
            Hours [h], 0 while open.

        Examples
        --------
        >>> parse_opening("Mon-Sat 08:00-18:00").wait(np.array([7.0, 9.0, 19.0, 6 * 24 + 9.0]))
        array([ 1.,  0., 13., 23.])
        """
        if not len(self.opens):
            return np.zeros_like(week_hours)
        at = np.where(np.isfinite(week_hours), week_hours, 0.0) % WEEK_H
        current = np.searchsorted(self.opens, at, side="right") - 1
        # A time of the end of the week may run on into Monday.
        inside = np.where(current >= 0, at < self.shuts[current], at + WEEK_H < self.shuts[-1])
        following = np.append(self.opens, self.opens[0] + WEEK_H)[current + 1]
        return np.where(inside, 0.0, following - at)


def parse_opening(text: str) -> Opening:
    """Opening hours as written.

    Parameters
    ----------
    text : str
        ``"always"``, ``"08:00-18:00"``, ``"Mon-Sat 08:00-18:00"``, or several such with commas between.

    Raises
    ------
    ValueError
        If it is none of these.

    Examples
    --------
    >>> float(parse_opening("Mon-Fri 08:00-12:00, Sat 09:00-10:00").opens[-1])
    129.0
    """
    if text.strip().lower() in ("always", "24/7"):
        return Opening(np.zeros(0), np.zeros(0))
    spans = [span for entry in re.split(r"\s*[,;]\s*", text.strip()) for span in _spans(entry)]
    merged: list[list[float]] = []
    for start, end in sorted(spans):
        if merged and start <= merged[-1][1]:
            merged[-1][1] = max(merged[-1][1], end)
        else:
            merged.append([start, end])
    return Opening(np.array([s for s, _ in merged]), np.array([e for _, e in merged]))


def _spans(entry: str) -> list[tuple[float, float]]:
    match = _ENTRY.match(entry)
    if not match:
        raise ValueError(f"'{entry}'")
    first, last = (_day(match[1]), _day(match[2] or match[1])) if match[1] else (0, 6)
    opens, shuts = _hour(match[3], match[4]), _hour(match[5], match[6])
    if shuts <= opens:
        shuts += 24.0
    return [(24.0 * (day % 7) + opens, 24.0 * (day % 7) + shuts) for day in range(first, last + 1 + 7 * (last < first))]


def _day(name: str) -> int:
    if name.title() not in DAYS:
        raise ValueError(f"'{name}'")
    return DAYS.index(name.title())


def _hour(hours: str, minutes: str) -> float:
    value = int(hours) + int(minutes) / 60
    if value > 24 or int(minutes) > 59:
        raise ValueError(f"'{hours}:{minutes}'")
    return value


def opening_faults(points: Sequence[Help]) -> list[Fault]:
    """Opening hours of a trip that cannot be read."""
    faults = []
    for point in points:
        try:
            parse_opening(point.open)
        except ValueError as odd:
            faults.append(
                Fault(
                    "trip.toml",
                    f"help point '{point.name}': open {odd}",
                    "'always', '08:00-18:00' or 'Mon-Sat 08:00-18:00'",
                )
            )
    return faults
