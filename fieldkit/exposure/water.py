"""Water: litres a person and day by heat, what is carried and left along the route, how long it lasts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from fieldkit.exposure.result import Floats
from fieldkit.exposure.schedule import Schedule
from fieldkit.exposure.settings import WaterFigures
from fieldkit.loads.aboard import water_aboard_l
from fieldkit.specs.trip import Climate, Help, Trip, Vehicle

LITRES_PER_QUART = 0.946352946
Work = Literal["easy", "moderate", "hard"]


def heat_index_f(air_c: float, vapour_hpa: float) -> float:
    """Wet-bulb globe temperature estimated from air temperature and humidity [degF].

    WBGT = 0.567 T + 0.393 e + 3.94 [1]_, T in degrees Celsius, e in hectopascal; for full sun and light wind.

    Parameters
    ----------
    air_c : float
        Air temperature in the shade [degC].
    vapour_hpa : float
        Water vapour pressure [hPa]: about 10 in dry country, 24 and more in humid.

    Examples
    --------
    >>> round(heat_index_f(38.0, 10.0), 1)
    84.9

    References
    ----------
    .. [1] The simplified WBGT of the Australian Bureau of Meteorology, as restated on calculators that use it (seen).
    """
    return (0.567 * air_c + 0.393 * vapour_hpa + 3.94) * 9.0 / 5.0 + 32.0


def hourly_water_l(wbgt_f: float, work: Work, figures: WaterFigures) -> float:
    """Water for an hour of work in heat [L], from the work table of the settings; 0 below its first row.

    Parameters
    ----------
    wbgt_f : float
        Wet-bulb globe temperature [degF].
    work : {"easy", "moderate", "hard"}

    Examples
    --------
    >>> from fieldkit.exposure.settings import supply_figures
    >>> round(hourly_water_l(86.0, "easy", supply_figures().water), 2)
    0.71
    """
    column = 1 + ("easy", "moderate", "hard").index(work)
    rows = [row for row in figures.heat if wbgt_f >= row[0]]
    quarts = rows[-1][column] if rows else 0.0
    return min(quarts * LITRES_PER_QUART, figures.most_per_hour)


def daily_water_l(climate: Climate, figures: WaterFigures, waiting: bool = False) -> float:
    """Water for a person and day [L].

    Parameters
    ----------
    climate : Climate
        The day's high and the share of wet days, which tells dry country from humid.
    waiting : bool
        True: people who wait in the shade, drinking only. False: a day's travel with washing, cooking and some work.

    Returns
    -------
    float
        Drinking (the survival figure and what work in heat adds, never above the table's daily limit), and for a
        travelling day hygiene and cooking.

    Examples
    --------
    >>> from fieldkit.exposure.settings import supply_figures
    >>> mild = Climate.model_validate({"day_high": "20 degC", "night_low": "5 degC"})
    >>> daily_water_l(mild, supply_figures().water), daily_water_l(mild, supply_figures().water, waiting=True)
    (7.5, 3.0)
    """
    humid = climate.wet_share >= figures.humid_from
    wbgt = heat_index_f(climate.day_high_c, figures.vapour_humid_hpa if humid else figures.vapour_dry_hpa)
    hours, work = (figures.rest_hours, "easy") if waiting else (figures.hot_hours, "moderate")
    sweat = hours * hourly_water_l(wbgt, work, figures)  # type: ignore[arg-type]
    drinking = min(figures.drinking + sweat, max(figures.most, figures.drinking))
    return drinking if waiting else drinking + figures.hygiene + figures.cooking


def water_carried_l(vehicle: Vehicle) -> float:
    """Drinking water of a vehicle at departure [L], tanks and cans."""
    return sum(water_aboard_l(vehicle))


def vessels(vehicles: Sequence[Vehicle], figures: WaterFigures) -> int:
    """How many vessels the water is in: each vehicle's tank one, its cans by their size."""
    count = 0
    for vehicle in vehicles:
        tank, cans = water_aboard_l(vehicle)
        count += int(tank > 0) + math.ceil(cans / figures.can_l - 1e-9)
    return count


def reserve_l(trip: Trip, days_alone: float, hours_off: float, figures: WaterFigures) -> float:
    """Water that the must-carry rules set aside for waiting [L].

    Parameters
    ----------
    days_alone : float
        The most days until help stands beside a dead vehicle.
    hours_off : float
        The most hours to help with people in it, which decides which rules hold.

    Returns
    -------
    float
        Packs of the rules' item, as ``specs.library.MustCarryRule`` counts them, times the litres of a pack.
    """
    item = trip.library.items.get(figures.reserve_item)
    people, vehicles = trip.head.party.people, len(trip.vehicles)
    rules = [r for r in trip.library.must_carry.values() if r.item == figures.reserve_item]
    packs = sum(
        rule.fixed + rule.per_person * people + rule.per_vehicle * vehicles + rule.per_person_day * people * days_alone
        for rule in rules
        if hours_off >= rule.when_hours_to_help
    )
    return packs * item.pack_size if item else 0.0


@dataclass(frozen=True)
class WaterGap:
    """From one place with water to the next, by the plan's clock [h], from driving on to arriving, with its kilometres."""

    from_name: str
    to_name: str
    from_km: float
    to_km: float
    from_h: float
    to_h: float

    @property
    def days(self) -> float:
        return (self.to_h - self.from_h) / 24.0


def water_gaps(trip: Trip, schedule: Schedule, figures: WaterFigures, names: tuple[str, str]) -> tuple[WaterGap, ...]:
    """Stretches between places with water on the route, from the start to the end.

    Parameters
    ----------
    names : (str, str)
        How the start and the end of the route are called where there is no water.
    """
    first, last = schedule.legs[0].from_km, schedule.legs[-1].to_km
    wells = _wells(trip.head.help, figures)
    rows: list[tuple[str, float]] = [(names[0], first)]
    for well in wells:
        km = min(max(well.km or 0.0, first), last)
        rows = [*rows[:-1], (well.name, km)] if km - rows[-1][1] < 0.5 and len(rows) == 1 else [*rows, (well.name, km)]
    if last - rows[-1][1] > 0.5 or len(rows) == 1:
        rows.append((names[1], last))
    arrive = schedule.at(np.array([km for _, km in rows]))
    leave = [schedule.leaving(km) for _, km in rows]
    return tuple(
        WaterGap(rows[i][0], rows[i + 1][0], rows[i][1], rows[i + 1][1], leave[i], float(arrive[i + 1]))
        for i in range(len(rows) - 1)
        if rows[i + 1][1] > rows[i][1]
    )


def _wells(points: Sequence[Help], figures: WaterFigures) -> list[Help]:
    found = [p for p in points if "water" in p.kind and p.km is not None and p.off_km <= figures.off_route_km]
    return sorted(found, key=lambda p: (p.km or 0.0, p.name))


def water_left_l(km: Floats, at_h: Floats, gaps: Sequence[WaterGap], carried_l: float, per_day_l: float) -> Floats:
    """Water still aboard at kilometres of the route, all vehicles together.

    Parameters
    ----------
    km, at_h : array, shape (n,)
        Kilometres, and when the trip is there [h from midnight before day 1].
    carried_l : float
        With everything full [L].
    per_day_l : float
        Use of the whole party [L/day].

    Returns
    -------
    array, shape (n,)
        Litres, 0 or more; full again at each place with water.
    """
    starts = np.array([gap.from_km for gap in gaps])
    gap = np.maximum(np.searchsorted(starts, km, side="right") - 1, 0)
    since = np.maximum(at_h - np.array([g.from_h for g in gaps])[gap], 0.0)
    return np.maximum(carried_l - per_day_l * since / 24.0, 0.0)
