"""The tyres a vehicle stands on, and the features that follow from its figures."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

from fieldkit.errors import Fault, InputFaults
from fieldkit.loads.figures import TyreFigures, tyre_figures
from fieldkit.loads.places import Locator, locator
from fieldkit.loads.tyre_load import TyreRating, tyre_rating
from fieldkit.loads.tyre_size import TyreSize, TyreSizeError, parse_tyre, same_size
from fieldkit.specs.trip import Vehicle

_CODE = re.compile(r"^(?:.*\s)?(\d{2})\s?(\d{1,2})$")


@dataclass(frozen=True)
class FittedTyre:
    """Sizes built, fitted and spare (None: no spare), load index, road pressures front and rear [kPa] or None."""

    built: TyreSize
    fitted: TyreSize
    spare: TyreSize | None
    load_index: int
    rating: TyreRating
    front_kpa: float | None
    rear_kpa: float | None

    @property
    def ratio(self) -> float:
        """Fitted diameter over the build's [-]."""
        return self.fitted.diameter_mm / self.built.diameter_mm


def fitted_tyre(vehicle: Vehicle, figures: TyreFigures | None = None) -> FittedTyre:
    """What a vehicle runs on: its own [tyres], else a fitted modification's, else the build's.

    Raises
    ------
    InputFaults
        If a size, or the load index, cannot be read; names the vehicle's file.
    """
    figures = figures or tyre_figures()
    if faults := tyre_faults(vehicle, figures):
        raise InputFaults(faults)
    own = vehicle.spec.tyres
    size, index = size_and_index(vehicle)
    fitted = parse_tyre(size, figures)
    spare_size = own.spare_size if own and own.spare_size else size
    spare = parse_tyre(spare_size, figures) if own is None or own.spares else None
    return FittedTyre(
        parse_tyre(vehicle.archetype.tyre.size, figures),
        fitted,
        spare,
        index,
        tyre_rating(fitted, index, own.index_kpa if own else None, figures),
        own.front_kpa if own else None,
        own.rear_kpa if own else None,
    )


def size_and_index(vehicle: Vehicle) -> tuple[str, int]:
    """Size as written and load index: of [tyres], else of the last modification that has a size, else of the build."""
    size, index = vehicle.archetype.tyre.size, vehicle.archetype.tyre.load_index
    for _, part in vehicle.modifications:
        if part.tyre_size:
            size, index = part.tyre_size, part.load_index or index
    if own := vehicle.spec.tyres:
        size, index = own.size, own.load_index or index
    return size, index


def tyre_faults(vehicle: Vehicle, figures: TyreFigures | None = None, at: Locator | None = None) -> list[Fault]:
    """Everything in a vehicle's tyre figures that cannot be read; ``at`` finds the lines."""
    figures, at = figures or tyre_figures(), at or locator(vehicle)
    size, index = size_and_index(vehicle)
    sizes = [("tyres.size", size), ("build's tyre", vehicle.archetype.tyre.size)]
    if vehicle.spec.tyres and vehicle.spec.tyres.spare_size:
        sizes.append(("tyres.spare_size", vehicle.spec.tyres.spare_size))
    faults = [f for key, text in sizes for f in _size_fault(at, key, text, figures)]
    if index not in figures.load_index:
        known = f"{min(figures.load_index)} to {max(figures.load_index)}"
        faults.append(
            Fault(at("tyres", "load_index"), f"tyres.load_index is {index}", f"an index in the table, {known}")
        )
    return list(dict.fromkeys(faults))


def _size_fault(at: Locator, key: str, text: str, figures: TyreFigures) -> list[Fault]:
    try:
        parse_tyre(text, figures)
    except TyreSizeError as odd:
        loc = tuple(key.split(".")) if "." in key else ("based_on",)
        return [Fault(at(*loc), f"{key}: {odd}")]
    return []


def made_on(code: str) -> date | None:
    """The Monday of the week a tyre was made, from the last figures of its date code: week and year.

    Three figures were used until 1999 and give no decade: the 1990s are taken, the youngest it can be. No week: None.

    Examples
    --------
    >>> made_on("2324")
    datetime.date(2024, 6, 3)
    >>> made_on("238").year
    1998
    >>> made_on("9924") is None
    True
    """
    match = _CODE.match(code.strip())
    if not match or not 1 <= int(match[1]) <= 53:
        return None
    week, year = int(match[1]), int(match[2]) + (2000 if len(match[2]) == 2 else 1990)
    try:
        return date.fromisocalendar(year, week, 1)
    except ValueError:  # a week 53 in a year of 52
        return date.fromisocalendar(year, 52, 1)


def date_code_fault(vehicle: Vehicle, departure: date, at: Locator | None = None) -> Fault | None:
    """What is the matter with a vehicle's date code, if anything; ``at`` finds the line."""
    code = vehicle.spec.tyres.date_code if vehicle.spec.tyres else None
    if not code:
        return None
    expected = 'week and year as on the sidewall, such as "2324"'
    made, place = made_on(code), (at or locator(vehicle))("tyres", "date_code")
    if made is None:
        return Fault(place, f"tyres.date_code '{code}' is no week and year", expected)
    if made > departure:
        return Fault(place, f"tyres.date_code '{code}' lies after departure ({departure})", expected)
    return None


def lift_mm(vehicle: Vehicle) -> float:
    """How much the fitted parts raise the body above its axles [mm]."""
    return sum(part.lift_mm for _, part in vehicle.modifications)


def features_of(vehicle: Vehicle) -> frozenset[str]:
    """What a vehicle has, the features that follow from its figures included."""
    return vehicle.features | derived_features(vehicle)


def derived_features(vehicle: Vehicle, figures: TyreFigures | None = None) -> frozenset[str]:
    """Features that follow from a vehicle's figures; never written by hand.

    Returns
    -------
    frozenset of str
        Of ``tyres-5-percent-taller``, ``tyres-10-percent-taller``, ``lifted-over-40-mm``, ``lifted-over-75-mm``, ``odd-spare``.

    Raises
    ------
    InputFaults
        If a tyre size cannot be read.
    """
    figures = figures or tyre_figures()
    tyre, lift = fitted_tyre(vehicle, figures), lift_mm(vehicle)
    found = {
        "tyres-5-percent-taller": tyre.ratio > 1.05,
        "tyres-10-percent-taller": tyre.ratio > 1.10,
        "lifted-over-40-mm": lift > 40,
        "lifted-over-75-mm": lift > 75,
        "odd-spare": tyre.spare is not None and not same_size(tyre.fitted, tyre.spare, figures),
    }
    return frozenset(name for name, holds in found.items() if holds)
