"""A vehicle's tyres for its page: size, gearing, age, loads, pressures by surface, the odd size of a convoy."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import date

from fieldkit.errors import InputFaults
from fieldkit.loads.figures import TyreFigures, tyre_figures
from fieldkit.loads.fitted_tyres import FittedTyre, date_code_fault, fitted_tyre, made_on
from fieldkit.loads.result import SurfaceTyres, TyreReport, VehicleLoads, WheelLoad
from fieldkit.loads.tickets import WHEELS
from fieldkit.loads.tyre_load import rounded_up_kpa
from fieldkit.loads.tyre_size import same_size, size_change
from fieldkit.specs.trip import Trip, Vehicle


def tyre_report(vehicle: Vehicle, loads: VehicleLoads | None = None, trip: Trip | None = None) -> TyreReport:
    """Everything about a vehicle's tyres.

    Parameters
    ----------
    vehicle : Vehicle
    loads : VehicleLoads or None
        As weighed; without it no loads and no pressures by surface.
    trip : Trip or None
        For the age at departure, the convoy's other sizes and the surfaces' names.

    Raises
    ------
    InputFaults
        If a size, the load index or the date code cannot be read.
    """
    figures = tyre_figures(trip.library if trip else None)
    tyre = fitted_tyre(vehicle, figures)
    change = size_change(tyre.built, tyre.fitted)
    age = _age_years(vehicle, trip.head.start) if trip else None
    wheels = _wheels(tyre, loads) if loads else ()
    return TyreReport(
        vehicle=vehicle.id,
        size=tyre.fitted.text,
        diameter_mm=tyre.fitted.diameter_mm,
        built_size=tyre.built.text,
        built_diameter_mm=tyre.built.diameter_mm,
        ratio=change.ratio,
        true_kmh_at_100=change.true_kmh_at_100,
        drive_factor=change.drive_factor,
        clearance_mm=change.clearance_mm,
        free_rev_per_km=tyre.fitted.free_rev_per_km,
        rolling_rev_per_km=tyre.fitted.free_rev_per_km / figures.size.rolling_share,
        spare_size=tyre.spare.text if tyre.spare else None,
        spare_ratio=tyre.spare.diameter_mm / tyre.fitted.diameter_mm if tyre.spare else None,
        age_years=age,
        load_index=tyre.load_index,
        wheels=wheels,
        surfaces=_surfaces(tyre, wheels, trip, figures) if wheels else (),
        notes=(
            *_size_notes(tyre, figures),
            *(odd_sizes(trip, figures) if trip else ()),
            *((figures.text["guidance"], figures.text["back_up"]) if wheels else ()),
        ),
        cautions=(
            *_spare_cautions(vehicle, tyre, figures),
            *_age_cautions(age, figures),
            *_load_cautions(wheels, figures),
        ),
    )


# --------------------------------------------------------------------------------------- size
def _size_notes(tyre: FittedTyre, figures: TyreFigures) -> list[str]:
    change = size_change(tyre.built, tyre.fitted)
    if abs(change.ratio - 1) <= figures.size.same_size_share:
        return []
    taller = change.ratio > 1
    percent, text = 100 * abs(change.ratio - 1), figures.text
    return [
        text["speedometer_low" if taller else "speedometer_high"].format(true=change.true_kmh_at_100),
        text["gearing"].format(
            percent=percent, longer="longer" if taller else "shorter", drive=4.10 * change.drive_factor
        ),
    ]


def _spare_cautions(vehicle: Vehicle, tyre: FittedTyre, figures: TyreFigures) -> list[str]:
    text = figures.text
    if tyre.spare is None:
        return [text["no_spare"]]
    if same_size(tyre.fitted, tyre.spare, figures):
        return []
    ratio = tyre.spare.diameter_mm / tyre.fitted.diameter_mm
    said = text["odd_spare"].format(
        spare=tyre.spare.text,
        fitted=tyre.fitted.text,
        percent=100 * abs(ratio - 1),
        taller="greater" if ratio > 1 else "smaller",
    )
    driven = abs(ratio - 1) > figures.size.driven_together_share
    return [said, text["spare_driven"]] if driven else [said]


def odd_sizes(trip: Trip, figures: TyreFigures | None = None) -> tuple[str, ...]:
    """Vehicles of a convoy whose wheels serve nobody else's, in words; empty when all are alike or alone.

    Trailers count too: a trailer on its tow vehicle's wheels needs no spare of its own.
    """
    figures = figures or tyre_figures(trip.library)
    groups: list[list[Vehicle]] = []
    for vehicle in trip.vehicles:
        own = fitted_tyre(vehicle, figures).fitted
        for group in groups:
            if same_size(fitted_tyre(group[0], figures).fitted, own, figures):
                group.append(vehicle)
                break
        else:
            groups.append([vehicle])
    return _odd_words(groups, figures) if len(groups) > 1 else ()


def _odd_words(groups: Sequence[Sequence[Vehicle]], figures: TyreFigures) -> tuple[str, ...]:
    sizes = [fitted_tyre(group[0], figures).fitted.text for group in groups]
    count = Counter({size: len(group) for size, group in zip(sizes, groups, strict=True)})
    usual, most = count.most_common(1)[0]
    if most == 1:
        return (figures.text["mixed_convoy"].format(sizes=", ".join(sizes)),)
    return tuple(
        figures.text["convoy_odd"].format(name=group[0].name, size=size, other=usual)
        for size, group in zip(sizes, groups, strict=True)
        if len(group) == 1
    )


# ---------------------------------------------------------------------------------------- age
def _age_years(vehicle: Vehicle, departure: date) -> float | None:
    if fault := date_code_fault(vehicle, departure):
        raise InputFaults([fault])
    code = vehicle.spec.tyres.date_code if vehicle.spec.tyres else None
    made = made_on(code) if code else None
    return (departure - made).days / 365.25 if made else None


def _age_cautions(years: float | None, figures: TyreFigures) -> list[str]:
    text, age = figures.text, figures.age
    if years is None:
        return [text["no_date"]]
    if years >= age.replace_years:
        return [text["aged"].format(years=years, limit=age.replace_years)]
    return [text["look_hard"].format(years=years)] if years >= age.look_hard_years else []


# -------------------------------------------------------------------------- loads and pressures
def _wheels(tyre: FittedTyre, loads: VehicleLoads) -> tuple[WheelLoad, ...]:
    state = loads.states.get("with-kit") or loads.states["departure"]
    found = []
    for i, (wheel, load) in enumerate(zip(WHEELS, state.wheels_kg, strict=True)):
        planned = tyre.front_kpa if i < 2 else tyre.rear_kpa
        rating = tyre.rating
        found.append(
            WheelLoad(wheel, load, planned, rating.carries_kg(planned), rating.index_kg, rating.needed_kpa(load))
        )
    return tuple(found)


def _load_cautions(wheels: Sequence[WheelLoad], figures: TyreFigures) -> list[str]:
    found = []
    for wheel in wheels:
        if wheel.load_kg > wheel.index_kg:
            found.append(figures.text["over_index"].format(wheel=wheel.wheel, load=wheel.load_kg))
        elif wheel.planned_kpa is not None and wheel.load_kg > wheel.carries_kg:
            found.append(
                figures.text["under_load"].format(
                    kpa=wheel.planned_kpa,
                    wheel=wheel.wheel,
                    capacity=wheel.carries_kg,
                    load=wheel.load_kg,
                    need=rounded_up_kpa(wheel.needed_kpa, figures),
                )
            )
    return found


def _surfaces(
    tyre: FittedTyre, wheels: Sequence[WheelLoad], trip: Trip | None, figures: TyreFigures
) -> tuple[SurfaceTyres, ...]:
    """Pressures by surface from the road pressures: those planned, or what the loads need when none are."""
    road = [_road_kpa(wheels[i : i + 2], figures) for i in (0, 2)]
    least, found = figures.let_down.least_kpa, []
    for key, rule in figures.surface.items():
        name = trip.library.surfaces[key].name if trip and key in trip.library.surfaces else key
        front, rear = (max(least, rounded_up_kpa(p * rule.share, figures)) for p in road)
        stuck = max(least, rounded_up_kpa(road[1] * rule.stuck_share, figures)) if rule.stuck_share else None
        found.append(SurfaceTyres(key, name, front, rear, stuck, rule.speed_kmh))
    return tuple(found)


def _road_kpa(pair: Sequence[WheelLoad], figures: TyreFigures) -> float:
    """Cold road pressure of an axle: the planned one, never below what its tyres need or the least for a road."""
    needed = max(rounded_up_kpa(max(w.needed_kpa for w in pair), figures), figures.pressure.least_road_kpa)
    planned = pair[0].planned_kpa
    return needed if planned is None else max(planned, needed)
