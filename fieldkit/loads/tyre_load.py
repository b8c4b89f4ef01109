"""What a tyre carries: load index, pressure, speed symbol."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

from fieldkit.errors import nearest_name
from fieldkit.loads.figures import TyreFigures, tyre_figures
from fieldkit.loads.tyre_size import TyreSize


def load_capacity_kg(load_index: int, figures: TyreFigures | None = None) -> float:
    """Kilograms that one tyre of a load index carries [kg], at the pressure marked for it.

    Parameters
    ----------
    load_index : int
        60 to 140.

    Raises
    ------
    ValueError
        If the index is not in the table.

    References
    ----------
    .. [1] ETRTO Standards Manual and ISO 4000-1, load index table (seen in a full reprint for 68 to 123; the rest from memory).

    Examples
    --------
    >>> load_capacity_kg(112)
    1120.0
    """
    table = (figures or tyre_figures()).load_index
    if load_index not in table:
        raise ValueError(f"load index {load_index} is not in the table ({min(table)} to {max(table)})")
    return table[load_index]


def least_load_index(load_kg: float, figures: TyreFigures | None = None) -> int | None:
    """The smallest load index that carries a load [kg]; None when none does.

    Examples
    --------
    >>> least_load_index(1121)
    113
    """
    table = (figures or tyre_figures()).load_index
    return next((index for index in sorted(table) if table[index] >= load_kg), None)


def speed_limit_kmh(symbol: str, figures: TyreFigures | None = None) -> float:
    """Top speed of a speed symbol [km/h].

    Raises
    ------
    ValueError
        If there is no such symbol; names the nearest.

    Examples
    --------
    >>> speed_limit_kmh("Q")
    160.0
    """
    table = (figures or tyre_figures()).speed_symbol
    if symbol.upper() not in table:
        near = nearest_name(symbol.upper(), table)
        raise ValueError(f"speed symbol '{symbol}' is not known" + (f"; did you mean '{near}'?" if near else ""))
    return table[symbol.upper()]


def high_speed_share(symbol: str, speed_kmh: float, figures: TyreFigures | None = None) -> float:
    """Share of its index load that a tyre may carry at a speed [-]; 1 below its symbol's first speed.

    Examples
    --------
    >>> round(high_speed_share("V", 225), 3)
    0.955
    """
    cut = (figures or tyre_figures()).high_speed.get(symbol.upper())
    if cut is None or speed_kmh <= cut.from_kmh:
        return 1.0
    part = min(1.0, (speed_kmh - cut.from_kmh) / (cut.to_kmh - cut.from_kmh))
    return 1.0 - part * (1.0 - cut.share)


def pressure_factor(pressure_kpa: float, index_kpa: float, exponent: float) -> float:
    """Share of the marked load carried at another pressure [-], never above 1.

    load ~ (p / p_index) ** n, n about 0.8 for car tyres and 0.5 to 0.7 in light-truck tables (from memory).

    Examples
    --------
    >>> round(pressure_factor(200, 250, 0.8), 3)
    0.837
    """
    return float(min(1.0, (max(pressure_kpa, 0.0) / index_kpa) ** exponent))


@dataclass(frozen=True)
class TyreRating:
    """What one vehicle's tyres are rated for: load at ``index_kpa`` [kg], pressure of the marked load [kPa], exponent.

    ``assumed``: the pressure is a usual one, not read from the sidewall.
    """

    index_kg: float
    index_kpa: float
    exponent: float
    assumed: bool = False

    def carries_kg(self, pressure_kpa: float | None) -> float:
        """Load carried at a pressure [kg]; at the marked pressure when None."""
        if pressure_kpa is None:
            return self.index_kg
        return self.index_kg * pressure_factor(pressure_kpa, self.index_kpa, self.exponent)

    def needed_kpa(self, load_kg: float) -> float:
        """Least pressure that carries a load [kPa]; above ``index_kpa`` when the tyre cannot."""
        return float(self.index_kpa * (max(load_kg, 0.0) / self.index_kg) ** (1 / self.exponent))


def tyre_rating(
    size: TyreSize, load_index: int, index_kpa: float | None = None, figures: TyreFigures | None = None
) -> TyreRating:
    """A tyre's rating from its size and load index, and the pressure printed beside its load where it is known.

    Without that pressure a usual one is assumed: the light-truck figure for sizes marked LT, C or in inches and for high
    load indices, else the standard one. A size with the letter P carries less on a multipurpose vehicle.

    Examples
    --------
    >>> from fieldkit.loads.tyre_size import parse_tyre
    >>> tyre_rating(parse_tyre("265/65R17"), 112).carries_kg(250)
    1120.0
    """
    figures = figures or tyre_figures()
    set_ = figures.pressure
    heavy = size.light_truck or load_index >= set_.light_truck_from
    usual = set_.light_truck_index_kpa if heavy else set_.standard_index_kpa
    capacity = load_capacity_kg(load_index, figures) / (set_.passenger_divisor if size.passenger else 1.0)
    exponent = set_.light_truck_exponent if heavy else set_.standard_exponent
    return TyreRating(capacity, index_kpa or usual, exponent, index_kpa is None)


def rounded_up_kpa(pressure_kpa: float, figures: TyreFigures | None = None) -> float:
    """A pressure as it is set: rounded up to the step of the figures [kPa].

    Examples
    --------
    >>> rounded_up_kpa(231)
    240.0
    """
    step = (figures or tyre_figures()).pressure.step_kpa
    return ceil(round(pressure_kpa / step, 6)) * step
