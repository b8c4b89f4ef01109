"""Sunrise, sunset and twilight of a place and day in the trip's own time, computed offline."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone, tzinfo
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from astral import Observer
from astral.sun import dawn, dusk, elevation, sunrise, sunset

_OFFSET = re.compile(r"^(?:UTC|GMT)?\s*([+-])\s*(\d{1,2})(?::?(\d{2}))?$", re.I)


@dataclass(frozen=True)
class SunDay:
    """Clock times of one day at one place [h after midnight]; None where the sun does not cross that height.

    ``dawn`` and ``dusk`` are civil twilight (sun 6 degrees below the horizon). ``up_all_day`` tells which, where there is
    no sunrise and no sunset.
    """

    dawn: float | None
    sunrise: float | None
    sunset: float | None
    dusk: float | None
    up_all_day: bool


def sun_day(lat: float, lon: float, day: date, zone: tzinfo) -> SunDay:
    """Sun times at a place.

    Parameters
    ----------
    lat, lon : float
        Degrees, at sea level height.
    day : date
        Of the zone's calendar.
    zone : tzinfo

    Returns
    -------
    SunDay
        To the minute between 66 degrees south and north; within some minutes further towards the poles.

    Notes
    -----
    Sunrise and sunset are those of the upper rim on a level horizon with usual refraction: hills and cloud make the day shorter.

    Examples
    --------
    >>> found = sun_day(-36.833333, 174.8, date(2020, 6, 15), timezone(timedelta(hours=12)))
    >>> round(found.sunrise, 1), round(found.sunset, 1)
    (7.5, 17.2)
    """
    observer = Observer(lat, lon)
    times = [_clock(function, observer, day, zone) for function in (dawn, sunrise, sunset, dusk)]
    noon = datetime(day.year, day.month, day.day, 12, tzinfo=UTC) - timedelta(hours=lon / 15.0)
    return SunDay(times[0], times[1], times[2], times[3], elevation(observer, noon) > -0.833)


def _clock(function: Callable[..., datetime], observer: Observer, day: date, zone: tzinfo) -> float | None:
    try:
        found = function(observer, date=day, tzinfo=zone)
    except ValueError:
        return None
    past = (found.date() - day).days * 24
    return past + found.hour + found.minute / 60 + found.second / 3600


def parse_zone(text: str) -> tzinfo:
    """A time zone as written: a zone name, ``UTC``, or ``UTC+2``, ``UTC-3:30``.

    Raises
    ------
    ValueError
        If there is no such zone.

    Examples
    --------
    >>> parse_zone("UTC+9:30").utcoffset(None)
    datetime.timedelta(seconds=34200)
    """
    if text.strip().upper() in ("UTC", "GMT", "Z"):
        return UTC
    if match := _OFFSET.match(text.strip()):
        minutes = int(match[2]) * 60 + int(match[3] or 0)
        if minutes > 14 * 60 or int(match[3] or 0) > 59:
            raise ValueError(f"no time zone '{text}'")
        return timezone(timedelta(minutes=-minutes if match[1] == "-" else minutes))
    try:
        return ZoneInfo(text.strip())
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise ValueError(f"no time zone '{text}'") from None


def hours_from_utc(zone: tzinfo, day: date) -> float:
    """A zone's hours ahead of UTC at noon of a day [h].

    Examples
    --------
    >>> hours_from_utc(parse_zone("UTC-3:30"), date(2027, 6, 1))
    -3.5
    """
    offset = datetime(day.year, day.month, day.day, 12, tzinfo=zone).utcoffset()
    return offset.total_seconds() / 3600.0 if offset is not None else 0.0
