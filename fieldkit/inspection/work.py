"""Workshop options: which of them a vehicle can have in time, and what each leaves of its weak points."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice

from fieldkit.inspection.result import Beliefs, WorkOption
from fieldkit.likelihood.delay import position_hazards, under_stress
from fieldkit.likelihood.hazard import has_part, life_of
from fieldkit.likelihood.result import Hazards, ModeHazard, PositionHazard, StoryStep, Wear
from fieldkit.likelihood.settings import Settings, settings_of
from fieldkit.likelihood.stress import LOCKED_BY, Drivers, fitting_factor
from fieldkit.loads.fitted_tyres import features_of
from fieldkit.specs.library import FailureMode, Library, Modification, WorkshopOption
from fieldkit.specs.trip import Limits, Trip, Vehicle

Key = tuple[str, str]


def work_options(trip: Trip, hazards: Hazards, beliefs: Beliefs) -> list[WorkOption]:
    """Every workshop option of every weak point, with what it leaves.

    Options whose part does not suit the vehicle, or is fitted already, are left out; those that come too late are not (the
    pages say so). Renewed parts start at age nought with their early failures (a shakedown uses these up); what the work
    fits, and what it says of neighbours, changes their wear on the trip. Weak points that a fitted part would bring anew
    are not in ``after``.

    Returns
    -------
    list of WorkOption
        In vehicle, weak point and option order.
    """
    settings = settings_of(trip.library)
    drafts = []
    for vehicle in trip.vehicles:
        mine = {m: h for (v, m), h in hazards.modes.items() if v == vehicle.id}
        case = _Case(trip, vehicle, features_of(vehicle), mine, settings)
        drafts += [
            case.left(key, option)
            for key in mine
            for option in trip.library.failure_modes[key].workshop
            if suits(option, trip.library, vehicle, case.features)
        ]
    return _worked_out(drafts)


def suits(option: WorkshopOption, library: Library, vehicle: Vehicle, features: frozenset[str]) -> bool:
    """Whether the parts an option fits suit a vehicle, and at least one is not fitted yet (or none is fitted by it)."""
    parts = [library.modifications[f] for f in option.fits]
    fitted = {f.id for f, _ in vehicle.modifications}
    fresh = not option.fits or any(f not in fitted for f in option.fits)
    return fresh and all(set(p.needs) <= features and not set(p.without) & features for p in parts)


def in_time(option: WorkshopOption, trip: Trip) -> bool:
    """Whether parts ordered on the day the plan is made arrive before departure."""
    return option.lead_weeks * 7.0 <= (trip.head.start - trip.head.prepared).days


def money(option: WorkshopOption, limits: Limits) -> float:
    """Middle of the price range, and the work at the stated rate [the trip's currency]."""
    return (option.cost_low + option.cost_high) / 2.0 + option.hours * limits.workshop_rate


def within(options: Iterable[WorkshopOption], trip: Trip) -> bool:
    """Whether some options together keep to the stated hours and money, each in time."""
    options, limits = list(options), trip.head.limits
    return (
        all(in_time(o, trip) for o in options)
        and sum(o.hours for o in options) <= limits.workshop_hours + 1e-9
        and sum(money(o, limits) for o in options) <= limits.workshop_money + 1e-9
    )


def renewed_by(key: str, option: WorkshopOption) -> tuple[str, ...]:
    """Weak points that an option of one weak point makes new."""
    return option.renews if option.renews is not None else (key,)


def after_work(
    hazards: Hazards, beliefs: Mapping[Key, Sequence[float]], chosen: Iterable[WorkOption]
) -> tuple[Hazards, dict[Key, Sequence[float]]]:
    """Hazards and degraded probabilities once some options are done; of two that change one weak point the renewing one stands."""
    modes, degraded = dict(hazards.modes), dict(beliefs)
    renewed: set[Key] = set()
    for work in chosen:
        for mode, hazard in work.after.items():
            key = (work.vehicle, mode)
            if mode in work.degraded:
                renewed.add(key)
                degraded[key] = work.degraded[mode]
            elif key in renewed:
                continue
            modes[key] = hazard
        for mode in work.gone:
            modes.pop((work.vehicle, mode), None)
            degraded.pop((work.vehicle, mode), None)
    return Hazards(hazards.legs, modes), degraded


@dataclass(frozen=True)
class _Draft:
    """An option before its hazards are worked out: weak point -> (hazard now, wear of its positions after)."""

    vehicle: str
    mode: str
    option: WorkshopOption
    changed: Mapping[str, tuple[ModeHazard, list[Wear]]]
    degraded: Mapping[str, tuple[float, ...]]
    gone: tuple[str, ...]


@dataclass(frozen=True)
class _Case:
    """One vehicle's weak points, for all its options."""

    trip: Trip
    vehicle: Vehicle
    features: frozenset[str]
    mine: Mapping[str, ModeHazard]
    settings: Settings

    def left(self, key: str, option: WorkshopOption) -> _Draft:
        """What an option of one weak point changes."""
        modes = self.trip.library.failure_modes
        fitted = {x.id for x, _ in self.vehicle.modifications}
        parts = [self.trip.library.modifications[f] for f in option.fits if f not in fitted]
        now_has = _features_after(self.features, option.fits, parts)
        gone = tuple(m for m in self.mine if parts and not has_part(modes[m], now_has))
        fresh = {m for m in renewed_by(key, option) if m in self.mine and m not in gone}
        changed, degraded = {}, {}
        for m, hazard in self.mine.items():
            factor = 1.0 if m in gone else self._factor(m, option, parts)
            if m in fresh:
                changed[m] = (hazard, _fresh(hazard, modes[m], option, factor, self.settings))
                degraded[m] = (0.0,) * len(hazard.positions)
            elif factor != 1.0:
                changed[m] = (hazard, [under_stress(w, factor) for w in _wears(hazard)])
        return _Draft(self.vehicle.id, key, option, changed, degraded, gone)

    def _factor(self, mode: str, option: WorkshopOption, parts: Sequence[Modification]) -> float:
        """What an option does to a weak point's wear per km from now on."""
        factor, spec = option.stress.get(mode, 1.0), self.trip.library.failure_modes[mode]
        share = self.trip.head.driving.locked_share
        for part in parts:
            factor *= fitting_factor(mode, spec, self.vehicle.archetype, part)
            factor *= _locking_factor(spec, self.vehicle, self.features, part, share, self.settings)
        return factor


def _worked_out(drafts: Sequence[_Draft]) -> list[WorkOption]:
    """Options with their hazards, all positions worked out at once."""
    names = [p.name for d in drafts for hazard, _ in d.changed.values() for p in hazard.positions]
    wears = [w for d in drafts for _, after in d.changed.values() for w in after]
    positions = iter(position_hazards(names, wears) if wears else ())
    return [
        WorkOption(
            d.vehicle,
            d.mode,
            d.option,
            {
                m: _changed(hazard, tuple(islice(positions, len(after))), d.option.title)
                for m, (hazard, after) in d.changed.items()
            },
            d.degraded,
            d.gone,
        )
        for d in drafts
    ]


def _features_after(features: frozenset[str], fits: Iterable[str], parts: Iterable[Modification]) -> frozenset[str]:
    found = set(features) | set(fits)
    for part in parts:
        found = (found - set(part.removes)) | set(part.adds)
    return frozenset(found)


def _locking_factor(
    mode: FailureMode, vehicle: Vehicle, features: frozenset[str], part: Modification, share: float, settings: Settings
) -> float:
    """What a differential lock that comes with a part does to the shafts of its axle."""
    factor = 1.0
    for driver, exponent in mode.drivers.items():
        lock = LOCKED_BY.get(driver)
        if lock in part.adds and lock not in features:
            ratio = part.drivers.get(driver, settings.torque.locked / settings.torque.open)
            scale = vehicle.archetype.driver_exponents.get(driver, 1.0)
            factor *= Drivers({}, {driver: (share, ratio)}).factor(driver, exponent * scale)
    return factor


def _wears(hazard: ModeHazard) -> list[Wear]:
    return [p.wear for p in hazard.positions if p.wear is not None]


def _fresh(
    hazard: ModeHazard, mode: FailureMode, option: WorkshopOption, factor: float, settings: Settings
) -> list[Wear]:
    """Positions fresh from the workshop. Route events have no age: for them nothing changes."""
    wears = [under_stress(w, factor) for w in _wears(hazard)]
    if mode.clock == "event":
        return wears
    rule = settings.early_life
    early = (mode.early_life + option.early_life) * rule.grade[option.grade] * rule.fitter["workshop"]
    life = life_of(mode) * settings.life_by_grade[option.grade]
    new = {"kind": "known", "age": 0.0, "spread": 0.0, "fresh_km": 0.0}
    return [replace(w, life=life, early=early, early_km=rule.wears_off_km, **new) for w in wears]  # type: ignore[arg-type]


def _changed(hazard: ModeHazard, positions: tuple[PositionHazard, ...], label: str) -> ModeHazard:
    before, after = (sum(float(p.own[-1]) for p in ps) for ps in (hazard.positions, positions))
    step = StoryStep(label, after / before if before > 0 else 1.0, "work before leaving")
    return replace(hazard, positions=positions, stages=(*hazard.stages, step))
