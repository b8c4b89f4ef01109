"""Quantities at the edges: text with a unit in, one float per quantity inside, both systems out.

Inside the program each kind of quantity has one unit (``INSIDE``); the unit stands in the attribute's
name. People write ``"2.3 t"``, ``"33 in"``, ``"18 psi"``; a bare number is an error that shows how to write it.
"""

from __future__ import annotations

import re
from decimal import Decimal
from functools import lru_cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pint import UnitRegistry

#: kind -> (unit inside, an example of how to write it, plausible range inside)
INSIDE: dict[str, tuple[str, str, float, float]] = {
    "mass": ("kg", "85 kg", 0.0, 60_000.0),
    "length": ("m", "2.85 m", -50.0, 50.0),
    "distance": ("km", "120 km", 0.0, 2_000_000.0),
    "depth": ("m", "0.4 m", 0.0, 5.0),
    "volume": ("L", "80 L", 0.0, 5_000.0),
    "speed": ("km/h", "60 km/h", 0.0, 300.0),
    "time": ("h", "3 h", 0.0, 20_000.0),
    "days": ("day", "9 days", 0.0, 40_000.0),
    "pressure": ("kPa", "240 kPa", 0.0, 1_000.0),
    "power": ("kW", "85 kW", 0.0, 1_500.0),
    "voltage": ("V", "12 V", 0.0, 1_000.0),
    "consumption": ("L/100km", "14 L/100km", 0.0, 200.0),
    "temperature": ("degC", "35 degC", -60.0, 70.0),
    "ratio": ("", "1.2", 0.0, 1_000.0),
}

_SPACED = re.compile(r"^\s*([+-]?\d+(?:\.\d+)?(?:[eE][+-]?\d+)?)\s*([^\d\s].*?)\s*$")
_BARE = re.compile(r"^\s*[+-]?\d+(?:[.,]\d+)?\s*$")
_COMMA = re.compile(r"^\s*[+-]?\d+,\d+")
_PER_100 = re.compile(r"^\s*([+-]?\d+(?:\.\d+)?)\s*(L|l|litres?)\s*(?:/|per)\s*100\s*km\s*$")


@lru_cache(maxsize=1)
def _registry() -> UnitRegistry[Any]:
    from pint import UnitRegistry

    registry: UnitRegistry[Any] = UnitRegistry(autoconvert_offset_to_baseunit=True, cache_folder=None)
    registry.define("imperial_gallon_ = 4.54609 * litre = imp_gal")
    return registry


class QuantityError(ValueError):
    """A quantity that cannot be read; the message says how to write it."""


#: Offset and everyday spellings that do not need the unit library: factor to the inside unit.
_QUICK: dict[str, dict[str, float]] = {
    "mass": {"kg": 1.0, "t": 1000.0, "g": 0.001, "lb": 0.45359237},
    "length": {"m": 1.0, "mm": 0.001, "cm": 0.01, "in": 0.0254, "ft": 0.3048},
    "distance": {"km": 1.0, "m": 0.001, "mi": 1.609344, "miles": 1.609344},
    "depth": {"m": 1.0, "mm": 0.001, "cm": 0.01, "in": 0.0254, "ft": 0.3048},
    "volume": {"L": 1.0, "l": 1.0, "ml": 0.001, "litres": 1.0},
    "speed": {"km/h": 1.0, "mph": 1.609344},
    "time": {"h": 1.0, "min": 1 / 60, "day": 24.0, "days": 24.0},
    "days": {"day": 1.0, "days": 1.0, "years": 365.25, "year": 365.25, "months": 30.4375, "weeks": 7.0},
    "pressure": {"kPa": 1.0, "bar": 100.0, "psi": 6.894757293168361},
    "power": {"kW": 1.0, "hp": 0.7456998715822702},
    "voltage": {"V": 1.0},
    "consumption": {},
    "temperature": {"degC": 1.0, "°C": 1.0},
    "ratio": {},
}


def parse(text: Any, kind: str) -> float:
    """A quantity as text, as a float in the unit used inside.

    Parameters
    ----------
    text : str
        Such as ``"2.3 t"``.
    kind : str
        A key of ``INSIDE``: its unit is the one returned.

    Returns
    -------
    float
        Value in ``INSIDE[kind]``'s unit.

    Raises
    ------
    QuantityError
        If the unit is missing or of another kind, a comma stands for the point, or the value is
        not a possible one.

    Examples
    --------
    >>> parse("2.3 t", "mass")
    2300.0
    >>> round(parse("35 psi", "pressure"), 2)
    241.32
    >>> parse("14 L/100km", "consumption")
    14.0
    """
    unit, example, low, high = INSIDE[kind]
    if isinstance(text, bool) or (isinstance(text, (int, float)) and kind != "ratio"):
        raise QuantityError(f'{text} has no unit; write it like "{example}"')
    if kind == "ratio" and isinstance(text, (int, float)):
        return _possible(float(text), kind, text, low, high, unit)
    if not isinstance(text, str):
        raise QuantityError(f'{text!r} is not a quantity; write it like "{example}"')
    if _COMMA.match(text):
        raise QuantityError(f'{text!r} has a comma; write the decimal point as in "{example}"')
    if _BARE.match(text):
        raise QuantityError(f'{text!r} has no unit; write it like "{example}"')
    return _possible(_convert(text, kind, unit, example), kind, text, low, high, unit)


def _convert(text: str, kind: str, unit: str, example: str) -> float:
    if kind == "consumption" and (match := _PER_100.match(text)):
        return float(match[1])
    match = _SPACED.match(text)
    if match and match[2] in _QUICK[kind]:
        return float(match[1]) * _QUICK[kind][match[2]]
    return _by_library(text, kind, unit, example)


def _by_library(text: str, kind: str, unit: str, example: str) -> float:
    from pint import PintError

    try:
        found: Any = _registry().Quantity(text)
        if kind == "consumption":
            return float((100.0 / found.to("km/L")).magnitude)
        return float(found.to(unit).magnitude)
    except (PintError, ValueError, TypeError, ZeroDivisionError, AttributeError, SyntaxError, AssertionError):
        raise QuantityError(f'{text!r} is not a {kind}; write it like "{example}"') from None
    except Exception as odd:  # the unit library's own tokenizer raises several kinds on odd text
        if type(odd).__module__.startswith(("pint", "tokenize", "flexparser", "builtins")):
            raise QuantityError(f'{text!r} is not a {kind}; write it like "{example}"') from None
        raise


def _possible(value: float, kind: str, text: Any, low: float, high: float, unit: str) -> float:
    if not low <= value <= high:
        raise QuantityError(f"{text!r} is not a possible {kind} ({low:g} to {high:g} {unit})".replace(" )", ")"))
    return value


#: inside unit -> (second system's unit, factor, decimals)
_SECOND = {
    "kg": ("lb", 1 / 0.45359237, 0),
    "m": ("ft", 1 / 0.3048, 1),
    "km": ("mi", 1 / 1.609344, 0),
    "L": ("US gal", 1 / 3.785411784, 1),
    "km/h": ("mph", 1 / 1.609344, 0),
    "kPa": ("psi", 1 / 6.894757293168361, 0),
    "mm": ("in", 1 / 25.4, 1),
    "Nm": ("lbf ft", 1 / 1.3558179483314004, 0),
}
#: In the second system, below this a decimal is shown, and from that on none: whole miles would make one of 1 km.
_FEW, _MANY = 3, 10


def both(value: float, unit: str, digits: int | None = None) -> str:
    """A value in metric with the second system in brackets, as printed on pages: no nought for a small value, no decimal for a large one.

    Examples
    --------
    >>> both(240, "kPa")
    '240 kPa (35 psi)'
    >>> both(0.5, "km"), both(1, "km"), both(50, "m")
    ('0.5 km (0.3 mi)', '1 km (0.6 mi)', '50 m (164 ft)')
    >>> both(20, "degC")
    '20 °C (68 °F)'
    """
    if unit == "degC":
        return f"{value:.0f} °C ({value * 9 / 5 + 32:.0f} °F)"
    shown = f"{value:.{digits}f}" if digits is not None else f"{value:.6g}"
    if unit not in _SECOND:
        return f"{shown} {unit}"
    other, factor, decimals = _SECOND[unit]
    second = value * factor
    if 0 < abs(second) < _FEW:
        decimals = max(decimals, 1)
    elif abs(second) >= _MANY:
        decimals = 0
    return f"{shown} {unit} ({second:.{decimals}f} {other})"


#: unit as written -> (the other system's unit, factor)
_BESIDE = {unit: (other, factor) for unit, (other, factor, _) in _SECOND.items()} | {
    "cm": ("in", 1 / 2.54),
    "t": ("lb", 1000 / 0.45359237),
    "g": ("oz", 1 / 28.349523125),
    "ml": ("US fl oz", 1 / 29.5735295625),
}
#: Weighed or set to a figure: noughts at the end of these count.
_FINE = frozenset({"kg", "t", "kPa", "Nm"})
#: Read off in whole ones from ``_FEW`` up.
_WHOLE = frozenset({"km", "km/h", "kPa"})
#: How far the other system's figure may be off, by the digits that the written one has.
_OFF = (0.06, 0.02, 0.005, 0.0005)


def _most_off(value: float, unit: str) -> float:
    """How far off at most, whatever the digits: things to carry less finely than what is weighed on a ticket or set on a tool."""
    if unit == "kg" and abs(value) < 20.0:
        return 0.03
    return 0.01 if unit in _FINE else 0.02 if unit == "mm" else 1.0


def other_system(value: float, unit: str) -> float:
    """A value in the other system's unit, not rounded."""
    return value * _BESIDE[unit][1]


def rounded(figure: str, unit: str) -> tuple[str, str]:
    """A written figure in the other system, to as few digits as the figure's own allow, and that system's unit.

    Examples
    --------
    >>> [rounded(*f.split()) for f in ("50 m", "10 km", "80 km/h", "2 mm", "20 L", "1,785 kg", "0.08 kg")]
    [('160', 'ft'), ('6', 'mi'), ('50', 'mph'), ('0.08', 'in'), ('5', 'US gal'), ('3,935', 'lb'), ('0.18', 'lb')]
    """
    value = float(figure.replace(",", ""))
    if unit == "°C":
        return f"{value * 9 / 5 + 32:.0f}", "°F"
    other, factor = _BESIDE[unit]
    exact = value * factor
    written = figure.replace(",", "").lstrip("-")
    kept = written if "." in written or unit in _FINE else written.rstrip("0")
    digits = len(kept.replace(".", "").lstrip("0"))
    off = min(_OFF[min(max(digits, 1), len(_OFF)) - 1], _most_off(value, unit))
    shown = next(s for n in range(1, 13) if abs(float(s := f"{exact:.{n}g}") - exact) <= off * abs(exact))
    decimals = max(0, -(Decimal(shown).as_tuple().exponent))  # type: ignore[operator]
    if decimals and unit in _WHOLE and exact >= _FEW:
        decimals, shown = 0, f"{exact:.0f}"
    return f"{float(shown):{',' if ',' in figure else ''}.{decimals}f}", other
