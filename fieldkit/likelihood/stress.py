"""What this vehicle does to a weak point: wear per km against the build as it left the works, factor by factor."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

from fieldkit.likelihood.physics import stress_of_rate
from fieldkit.likelihood.result import StoryStep
from fieldkit.likelihood.settings import Settings, settings_of
from fieldkit.loads.fitted_tyres import derived_features
from fieldkit.loads.result import VehicleLoads
from fieldkit.specs.library import Archetype, FailureMode, Library, Modification
from fieldkit.specs.trip import Fitted, Vehicle

Parts = Sequence[tuple[Fitted, Modification]]
LOCKED_BY = {"front_torque": "front-locker", "rear_torque": "rear-locker"}


@dataclass(frozen=True)
class Drivers:
    """Ratios to the build as it left the works, by driver [-].

    ``locked``: driver -> (share of time its axle is locked, ratio while it is).
    """

    ratios: Mapping[str, float]
    locked: Mapping[str, tuple[float, float]] = field(default_factory=dict)

    def factor(self, driver: str, exponent: float) -> float:
        """Factor on wear per km: ratio^exponent, averaged over time locked and open (Miner's rule).

        Examples
        --------
        >>> Drivers({"mass": 2.0}).factor("mass", 3.0)
        8.0
        >>> Drivers({}, {"front_torque": (0.1, 2.0)}).factor("front_torque", 3.0)     # 0.9 + 0.1 * 2^3
        1.7
        """
        share, ratio = self.locked.get(driver, (0.0, 1.0))
        base = float(self.ratios.get(driver, 1.0) ** exponent)
        return base * ((1.0 - share) + share * float(ratio**exponent))


@dataclass(frozen=True)
class Stress:
    """Wear per km against the build as it left the works (A), and the factors it is the product of."""

    factor: float
    steps: tuple[StoryStep, ...]


def drivers_today(
    vehicle: Vehicle, features: frozenset[str], loads: VehicleLoads, locked_share: float, settings: Settings
) -> Drivers:
    """Ratios on the trip: tyres and masses as loaded, the fitted parts' own, lift, and torque by share of time locked.

    Parameters
    ----------
    features : frozenset of str
        What the vehicle has, derived features included.
    locked_share : float
        Share of the trip's time with an axle locked, 0 to 1.
    """
    ratios = {**loads.ratios, "tyre": loads.tyre_ratio}
    return _with_parts(ratios, vehicle.modifications, vehicle.archetype, features, locked_share, settings)


def drivers_then(
    vehicle: Vehicle, parts: Parts, loads: VehicleLoads, tyre_ratio: float, locked_share: float, settings: Settings
) -> Drivers:
    """Ratios of a stretch of the past, with the parts fitted by then and the build's usual load.

    Fitted mass counts from the day it was fitted: the share of today's fitted mass that ``parts`` make up. The roof is taken
    to have been loaded as on the trip.
    """
    heavy = sum(part.mass_kg - part.removes_kg for _, part in vehicle.modifications)
    then = sum(part.mass_kg - part.removes_kg for _, part in parts)
    share = then / heavy if heavy > 0 else 0.0
    roof = loads.ratios.get("roof", 1.0)
    ratios = {"tyre": tyre_ratio, "roof": roof, **{k: 1.0 + share * g for k, g in _fitted_gain(loads).items()}}
    features = frozenset(vehicle.archetype.features) | {a for _, p in parts for a in p.adds}
    return _with_parts(ratios, parts, vehicle.archetype, features, locked_share, settings)


def _fitted_gain(loads: VehicleLoads) -> dict[str, float]:
    """What today's fitted parts add to each mass ratio."""
    built, fitted = loads.states.get("as-built"), loads.states.get("fitted")
    now = loads.states.get("with-budget") or loads.states.get("departure")
    if not (built and fitted and now):
        return {}
    gains = {}
    for driver, name in (("mass", "gross_kg"), ("front_load", "front_kg"), ("rear_load", "rear_kg")):
        ratio = loads.ratios.get(driver, 1.0)
        reference = getattr(now, name) / ratio if ratio > 0 else 0.0
        if reference > 0:
            gains[driver] = (getattr(fitted, name) - getattr(built, name)) / reference
    return gains


def _with_parts(
    ratios: Mapping[str, float],
    parts: Parts,
    archetype: Archetype,
    features: frozenset[str],
    locked_share: float,
    settings: Settings,
) -> Drivers:
    found = dict(ratios)
    locking = settings.torque.locked / settings.torque.open
    locked = {d: (locked_share, locking) for d, f in LOCKED_BY.items() if f in features and f not in archetype.features}
    for _, part in parts:
        for driver, ratio in part.drivers.items():
            if LOCKED_BY.get(driver) in part.adds:  # a lock's own figure holds while it is locked
                locked[driver] = (locked_share, ratio)
            else:
                found[driver] = found.get(driver, 1.0) * ratio
        if part.lift_mm and "lift" not in part.drivers:
            found["lift"] = found.get("lift", 1.0) + part.lift_mm / settings.lift.mm_per_unit
    return Drivers(found, locked)


def stress(vehicle: Vehicle, mode: str, loads: VehicleLoads, library: Library, locked_share: float = 0.0) -> Stress:
    """What a vehicle as loaded does to one weak point: wear per km against the build as it left the works, with reasons.

    Parameters
    ----------
    mode : str
        The weak point's id.
    loads : VehicleLoads
        Ratios of masses and tyres.
    locked_share : float
        Share of the trip's time with an axle locked, 0 to 1.
    """
    settings = settings_of(library)
    features = vehicle.features | derived_features(vehicle)
    drivers = drivers_today(vehicle, features, loads, locked_share, settings)
    return stress_under(vehicle, mode, library.failure_modes[mode], drivers, vehicle.modifications, settings)


def stress_under(
    vehicle: Vehicle,
    key: str,
    mode: FailureMode,
    drivers: Drivers,
    parts: Parts,
    settings: Settings,
    ways: Mapping[str, tuple[float, str]] | None = None,
) -> Stress:
    """Wear per km of one weak point, A = build * product of ratio^exponent * parts * ways of driving.

    Exponents of life enter as they are; a part's ``rate`` (a ratio of failure rates) enters as rate^(1/shape).

    Parameters
    ----------
    key, mode : str, FailureMode
        The weak point.
    drivers : Drivers
        Today's, or those of a stretch of the past.
    parts : sequence
        Fitted parts that count.
    ways : mapping
        Label -> (factor, reason) of ways of driving.

    Returns
    -------
    Stress
        Factor [-] and its steps in the order: build, drivers, parts, ways; steps of 1 are left out.
    """
    words = settings.words
    steps = [StoryStep(words.build, vehicle.archetype.stress.get(key, 1.0), vehicle.archetype.name)]
    steps += [_driver_step(d, e, drivers, vehicle.archetype, words.driver) for d, e in mode.drivers.items()]
    steps += [_part_step(key, mode, part) for _, part in parts]
    steps += [StoryStep(label, factor, reason) for label, (factor, reason) in (ways or {}).items()]
    return stress_of(steps)


def stress_of(steps: Iterable[StoryStep]) -> Stress:
    """The product of steps, steps of exactly 1 left out."""
    kept, factor = [], 1.0
    for step in steps:
        if step.factor != 1.0:
            kept.append(step)
            factor *= step.factor
    return Stress(factor, tuple(kept))


def _driver_step(
    driver: str, exponent: float, drivers: Drivers, archetype: Archetype, words: Mapping[str, str]
) -> StoryStep:
    exponent *= archetype.driver_exponents.get(driver, 1.0)  # type: ignore[call-overload]
    factor, label = drivers.factor(driver, exponent), words.get(driver, driver)
    if factor == 1.0:
        return StoryStep(label, 1.0, "")
    reason = f"{drivers.ratios.get(driver, 1.0):.3g} of the build's, to the power {exponent:.3g}"
    if driver in drivers.locked:
        share, ratio = drivers.locked[driver]
        reason += f"; {ratio:.3g} times that while locked, {100 * share:.3g} % of the time"
    return StoryStep(label, factor, reason)


def _part_step(key: str, mode: FailureMode, part: Modification) -> StoryStep:
    factor = part.stress.get(key, 1.0)
    if key in part.rate:
        factor *= float(stress_of_rate(part.rate[key], mode.shape))
    return StoryStep(part.name, factor, part.evidence if factor != 1.0 else "")


def fitting_factor(key: str, mode: FailureMode, archetype: Archetype, part: Modification) -> float:
    """What fitting one more part does to a weak point's wear per km: its drivers, stress and rate; a lock's torque apart.

    Examples
    --------
    >>> from types import SimpleNamespace as N
    >>> part = N(name="core", stress={"a": 0.5}, rate={}, drivers={"airflow": 0.9}, adds=(), evidence="judgement")
    >>> round(fitting_factor("a", N(drivers={"airflow": 2.0}, shape=2.0), N(driver_exponents={}), part), 4)
    0.405
    """
    factor = _part_step(key, mode, part).factor
    for driver, ratio in part.drivers.items():
        if LOCKED_BY.get(driver) not in part.adds:
            exponent = mode.drivers.get(driver, 0.0) * archetype.driver_exponents.get(driver, 1.0)
            factor *= float(ratio**exponent)
    return factor
