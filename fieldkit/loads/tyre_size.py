"""Tyre sizes: text to diameter, and what a change of diameter does."""

from __future__ import annotations

import re
from dataclasses import dataclass
from math import pi

from fieldkit.loads.figures import TyreFigures, tyre_figures

INCH_MM = 25.4
_NUMBER = r"\d+(?:\.\d+)?"
_RIM = rf"\s*(?P<build>ZR|R|D|B|-)\s*(?P<rim>{_NUMBER})\s*(?P<suffix>LT|C)?"
_METRIC = re.compile(rf"^(?P<prefix>LT|P)?\s*(?P<width>\d{{3}})\s*/\s*(?P<aspect>\d{{2,3}}){_RIM}$")
_FULL_PROFILE = re.compile(rf"^(?P<prefix>LT|P)?\s*(?P<width>\d{{3}}){_RIM}$")
_FLOTATION = re.compile(rf"^(?P<diameter>\d{{2}}(?:\.\d+)?)\s*X\s*(?P<width>{_NUMBER}){_RIM}$")
_NUMERIC = re.compile(rf"^(?P<width>\d{{1,2}}\.\d{{1,2}}){_RIM}$")
_BARE = re.compile(rf'^(?P<diameter>{_NUMBER})\s*(?:IN|")$')
HOW = 'a size such as "265/75R16", "LT265/75R16", "33x12.5R15", "7.50R16" or "33 in"'


class TyreSizeError(ValueError):
    """A tyre size that cannot be read; the message says how to write one."""


@dataclass(frozen=True)
class TyreSize:
    """A tyre size; lengths [mm], the rim [in]. ``about``: the size does not fix the diameter, it is estimated."""

    text: str
    diameter_mm: float
    width_mm: float | None = None
    aspect: float | None = None
    rim_in: float | None = None
    light_truck: bool = False
    passenger: bool = False
    about: bool = False

    @property
    def circumference_mm(self) -> float:
        """Of the free, unloaded tyre [mm]."""
        return pi * self.diameter_mm

    @property
    def free_rev_per_km(self) -> float:
        """Turns of the free tyre in a kilometre [1/km]."""
        return 1e6 / self.circumference_mm


def parse_tyre(size: str, figures: TyreFigures | None = None) -> TyreSize:
    """A tyre size as printed on a sidewall.

    Metric sizes give diameter = rim * 25.4 + 2 * width * aspect / 100 [mm]; sizes in inches print the diameter; sizes such as
    7.50R16 and 205R16 leave the height out, so it is estimated (``about``) with the ratios of ``settings/tyres.toml``.

    Parameters
    ----------
    size : str
        Metric ``265/75R16``, ``265/75-16``, ``LT265/75 R16``, ``P265/70R16``; inches ``33x12.5R15``, ``33 in``; numeric ``7.50R16``;
        full profile ``205R16``. Width 100 to 500 mm, aspect 20 to 110, rim 10 to 30 in, diameter 18 to 60 in.

    Raises
    ------
    TyreSizeError
        If the text is no size, or one that no road tyre has.

    Examples
    --------
    >>> round(parse_tyre("265/75R16").diameter_mm, 1)
    803.9
    >>> parse_tyre("33x12.5R15").diameter_mm
    838.2
    """
    text = re.sub(r"\s+", " ", size.strip())
    plain = text.upper().replace("×", "X").replace(",", ".")
    figures = figures or tyre_figures()
    for pattern, build in (
        (_METRIC, _metric),
        (_FLOTATION, _flotation),
        (_NUMERIC, _numeric),
        (_FULL_PROFILE, _full),
        (_BARE, _bare),
    ):
        if match := pattern.match(plain):
            return _possible(build(text, match.groupdict(), figures))
    raise TyreSizeError(f"'{size}' is not a tyre size; write {HOW}")


def _marks(found: dict[str, str | None]) -> dict[str, bool]:
    return {
        "light_truck": found.get("prefix") == "LT" or bool(found.get("suffix")),
        "passenger": found.get("prefix") == "P",
    }


def _metric(text: str, found: dict[str, str | None], figures: TyreFigures) -> TyreSize:
    width, aspect, rim = (float(found[k] or 0) for k in ("width", "aspect", "rim"))
    return TyreSize(text, rim * INCH_MM + 2 * width * aspect / 100, width, aspect, rim, **_marks(found))


def _flotation(text: str, found: dict[str, str | None], figures: TyreFigures) -> TyreSize:
    diameter, width, rim = (float(found[k] or 0) for k in ("diameter", "width", "rim"))
    aspect = 100 * (diameter - rim) / (2 * width) if width else 0.0
    marks = {**_marks(found), "light_truck": True}
    return TyreSize(text, diameter * INCH_MM, width * INCH_MM, aspect, rim, **marks)


def _numeric(text: str, found: dict[str, str | None], figures: TyreFigures) -> TyreSize:
    width, rim = float(found["width"] or 0) * INCH_MM, float(found["rim"] or 0)
    aspect = figures.size.numeric_aspect
    marks = {**_marks(found), "light_truck": True}
    return TyreSize(text, rim * INCH_MM + 2 * width * aspect, width, 100 * aspect, rim, about=True, **marks)


def _full(text: str, found: dict[str, str | None], figures: TyreFigures) -> TyreSize:
    width, rim = float(found["width"] or 0), float(found["rim"] or 0)
    aspect = figures.size.full_profile_aspect
    return TyreSize(text, rim * INCH_MM + 2 * width * aspect, width, 100 * aspect, rim, about=True, **_marks(found))


def _bare(text: str, found: dict[str, str | None], figures: TyreFigures) -> TyreSize:
    return TyreSize(text, float(found["diameter"] or 0) * INCH_MM, about=True)


def _possible(size: TyreSize) -> TyreSize:
    checks = (
        ("width", size.width_mm, 100, 500, "mm"),
        ("aspect", size.aspect, 20, 110, "%"),
        ("rim", size.rim_in, 10, 30, "in"),
        ("diameter", size.diameter_mm / INCH_MM, 18, 60, "in"),
    )
    for what, value, low, high, unit in checks:
        if value is not None and not low <= value <= high:
            raise TyreSizeError(
                f"'{size.text}' has a {what} of {value:.4g} {unit}, not {low} to {high} {unit}; write {HOW}"
            )
    return size


def same_size(one: TyreSize, other: TyreSize, figures: TyreFigures | None = None) -> bool:
    """Whether two tyres turn alike and go on one rim size: one may stand in for the other.

    Examples
    --------
    >>> same_size(parse_tyre("265/75R16"), parse_tyre("LT265/75 R16"))
    True
    >>> same_size(parse_tyre("265/75R16"), parse_tyre("265/70R16"))
    False
    """
    figures = figures or tyre_figures()
    alike = abs(other.diameter_mm / one.diameter_mm - 1) <= figures.size.same_size_share
    rims = {s.rim_in for s in (one, other) if s.rim_in is not None}
    return alike and len(rims) <= 1


@dataclass(frozen=True)
class SizeChange:
    """What tyres of another diameter do: ``ratio`` new over old; true speed when 100 is shown [km/h]; factor on every
    gear's ratio; clearance gained under the axles [mm]."""

    ratio: float
    true_kmh_at_100: float
    drive_factor: float
    clearance_mm: float


def size_change(old: TyreSize, new: TyreSize) -> SizeChange:
    """What fitting ``new`` for ``old`` changes; both by free diameter.

    Examples
    --------
    >>> change = size_change(parse_tyre("265/70R16"), parse_tyre("285/75R16"))
    >>> round(change.ratio, 4), round(4.10 * change.drive_factor, 2), round(change.clearance_mm, 1)
    (1.0727, 3.82, 28.2)
    """
    ratio = new.diameter_mm / old.diameter_mm
    return SizeChange(ratio, 100 * ratio, 1 / ratio, (new.diameter_mm - old.diameter_mm) / 2)
