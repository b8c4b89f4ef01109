"""Expected failures of every weak point before anybody has looked: what the trip asks, what the vehicle does to it, and age."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fieldkit.exposure.result import Exposure
from fieldkit.likelihood.coolant import air_side_ratio
from fieldkit.likelihood.delay import means
from fieldkit.likelihood.duty import (
    TripClock,
    calendar_factor,
    channel_weights,
    event_means,
    leg_duty,
    trip_clock,
    usual_crossings,
    usual_intensity,
)
from fieldkit.likelihood.history import History, Renewal, history_of
from fieldkit.likelihood.result import Hazards, ModeHazard, PositionHazard, StoryStep, Wear
from fieldkit.likelihood.settings import Settings, settings_of
from fieldkit.likelihood.stress import Drivers, Stress, drivers_then, drivers_today, stress_under
from fieldkit.likelihood.weibull import mean_life
from fieldkit.loads.fitted_tyres import features_of
from fieldkit.loads.result import Loads, VehicleLoads
from fieldkit.specs.library import FailureMode
from fieldkit.specs.trip import Trip, Vehicle

Floats = NDArray[np.float64]


def hazards(trip: Trip, exposure: Exposure, loads: Loads) -> Hazards:
    """Means of every position of every weak point each vehicle has, by leg, before any finding.

    1. duty of each leg on the weak point's own clock;
    2. the vehicle's stress on it today;
    3. its age: past duty under the past's parts, renewals, or nothing known;
    4. means by age, and those of a sound and a degraded part;
    5. the story up to here.

    Parameters
    ----------
    trip : Trip
    exposure : Exposure
        Wear per km by channel and leg.
    loads : Loads
        Masses with the full kit budget aboard.

    Returns
    -------
    Hazards
        By (vehicle, weak point), in the trip's and the library's order.
    """
    settings = settings_of(trip.library)
    clock = trip_clock(exposure.legs, trip.head.days, settings)
    drafts = [
        draft
        for vehicle in trip.vehicles
        for draft in _VehicleCase(trip, exposure, loads[vehicle.id], vehicle, settings, clock).drafts()
    ]
    found = means([w for draft in drafts for w in draft.wears])
    ends = list(accumulate(len(draft.wears) for draft in drafts))
    modes = {}
    for draft, end in zip(drafts, ends, strict=True):
        at = slice(end - len(draft.wears), end)
        positions = tuple(
            PositionHazard(*row)
            for row in zip(
                draft.names, found.own[at], found.sound[at], found.degraded[at], found.prior[at].tolist(), draft.wears,
                strict=True,
            )
        )  # fmt: skip
        modes[(draft.vehicle, draft.key)] = draft.hazard(positions, settings)
    return Hazards(len(exposure.legs), modes)


def has_part(mode: FailureMode, features: frozenset[str]) -> bool:
    """Whether a vehicle with these features has the part that a weak point is about."""
    return (
        set(mode.needs) <= features
        and not set(mode.without) & features
        and (not mode.needs_any or bool(set(mode.needs_any) & features))
    )


def position_names(mode: FailureMode) -> tuple[str, ...]:
    """Names of a weak point's positions: as written, or numbers; one position is unnamed."""
    if mode.position_names or mode.positions == 1:
        return mode.position_names or ("",)
    return tuple(str(i + 1) for i in range(mode.positions))


@dataclass(frozen=True)
class _Draft:
    """One weak point of one vehicle before its means are worked out; ``reached``: label, mean so far, reason."""

    vehicle: str
    key: str
    mode: FailureMode
    names: tuple[str, ...]
    wears: tuple[Wear, ...]
    stress: Stress
    reached: tuple[tuple[str, float, str], ...]
    learned: tuple[float, float] | None

    def hazard(self, positions: tuple[PositionHazard, ...], settings: Settings) -> ModeHazard:
        a, b = self.learned or (self.mode.failures_worth, self.mode.failures_worth)
        return ModeHazard(
            self.vehicle,
            self.key,
            positions,
            self.mode.repair == "renews",
            a,
            b,
            self._stages(positions, settings),
            self.stress.factor,
            self._evidence(positions),
        )

    def _stages(self, positions: Sequence[PositionHazard], settings: Settings) -> tuple[StoryStep, ...]:
        total = sum(float(p.own[-1]) for p in positions)
        early = sum(_early_part(w) for w in self.wears)
        ages = sorted({age_words(w) for w in self.wears})
        reached = [*self.reached]
        if self.mode.clock != "event":
            reached.append((settings.words.age, total - early, "; ".join(ages)))
        if early > 0:
            reached.append((settings.words.early, total, "new is not safe: a shakedown uses this up"))
        return as_steps(reached)

    def _evidence(self, positions: Sequence[PositionHazard]) -> str:
        if self.learned:
            logged = max(0.0, self.learned[0] - self.mode.failures_worth)
            words = f"on {logged:.3g} logged failures; before them {self.mode.evidence}"
        else:
            words = f"rests on {self.mode.evidence}"
        worn = [p.name for p in positions if p.prior_degraded >= 0.9]
        if worn:
            words += f"; nearly certain to be worn: renew ({', '.join(filter(None, worn)) or 'the part'})"
        return words


def as_steps(reached: Sequence[tuple[str, float, str]]) -> tuple[StoryStep, ...]:
    """Means reached one after another, as factors whose product is the last mean; steps that change nothing are left out.

    Examples
    --------
    >>> [(s.label, s.factor) for s in as_steps([("base", 0.2, ""), ("load", 0.3, ""), ("age", 0.3, "")])]
    [('base', 0.2), ('load', 1.5)]
    """
    steps: list[StoryStep] = []
    before = 0.0
    for label, after, reason in reached:
        if not steps or before == 0.0:
            steps = [StoryStep(label, after, reason)]
        elif after != before:
            steps.append(StoryStep(label, after / before, reason))
        before = after
    return tuple(steps)


def _early_part(wear: Wear) -> float:
    if wear.early == 0.0:
        return 0.0
    x = wear.fresh_km / wear.early_km
    return float(wear.early * np.exp(-x) * -np.expm1(-wear.km[-1] / wear.early_km))


def age_words(wear: Wear) -> str:
    """How old a position is, for the story."""
    share = 100 * wear.age / wear.life
    if wear.kind == "known":
        return f"at {share:.3g} % of its life"
    if wear.kind == "replaced":
        return f"renewed as owners do, every {share:.3g} % of its life"
    return "history unknown" if wear.kind == "unknown" else "nothing known of its age"


class _VehicleCase:
    """One vehicle on one trip: everything its weak points' figures share."""

    def __init__(
        self,
        trip: Trip,
        exposure: Exposure,
        loads: VehicleLoads,
        vehicle: Vehicle,
        settings: Settings,
        clock: TripClock,
    ) -> None:
        self.trip, self.exposure, self.loads, self.vehicle = trip, exposure, loads, vehicle
        self.settings, self.clock = settings, clock
        self.features = features_of(vehicle)
        self.history: History = history_of(trip, vehicle, settings)
        library = trip.library
        self.modes = {k: m for k, m in library.failure_modes.items() if has_part(m, self.features)}
        self.weights = channel_weights(list(self.modes.values()))
        self.locked_share = trip.head.driving.locked_share

    def drafts(self) -> list[_Draft]:
        return [self._draft(i, key, mode) for i, (key, mode) in enumerate(self.modes.items())]

    def _draft(self, row: int, key: str, mode: FailureMode) -> _Draft:
        today = stress_under(
            self.vehicle, key, mode, self.drivers, self.vehicle.modifications, self.settings, self.ways(key)
        )
        plain, asked, conditions = self.asked(row, key, mode)
        duty = np.cumsum(asked * today.factor)
        positions = mode.positions
        if mode.clock == "event":
            wears: tuple[Wear, ...] = (self._event_wear(duty / positions),) * positions
            mean = 1.0
        else:
            wears = tuple(self._wear(row, key, mode, name, duty) for name in position_names(mode))
            mean = float(mean_life(life_of(mode), mode.shape)) / positions
        return _Draft(
            self.vehicle.id,
            key,
            mode,
            position_names(mode),
            wears,
            today,
            self._reached(mode, plain / mean, asked, conditions, today, mean),
            self.trip.learned.get(key),
        )

    # ------------------------------------------------------------------------------------ the trip
    @cached_property
    def drivers(self) -> Drivers:
        return drivers_today(self.vehicle, self.features, self.loads, self.locked_share, self.settings)

    @cached_property
    def _km_duty(self) -> Floats:
        return leg_duty(self.clock.km, self.weights, self.exposure.intensity)

    def ways(self, key: str) -> dict[str, tuple[float, str]]:
        """Ways of driving that the trip states."""
        driving, settings = self.trip.head.driving, self.settings
        found = {}
        if not driving.pressures_let_down and key in settings.pressures_kept:
            found[settings.words.pressures] = (settings.pressures_kept[key], "as the trip says")
        if driving.care != "usual" and "driver" in self.modes[key].causes_in_common:
            found[settings.words.care[driving.care]] = (settings.driver_care[driving.care], "as the trip says")
        return found

    def asked(self, row: int, key: str, mode: FailureMode) -> tuple[float, Floats, dict[str, Floats]]:
        """What the trip asks of the build: (plain clock reading, duty by leg, conditions by leg that are in it)."""
        clock = self.clock
        conditions: dict[str, Floats] = {}
        if mode.clock == "km":
            plain, duty = float(clock.km.sum()), self._km_duty[row]
            if mode.drivers.get("airflow"):
                conditions[self.settings.words.altitude] = self._thin_air ** self._exponent(mode, "airflow")
        elif mode.clock == "days":
            plain, duty = float(clock.days.sum()), clock.days
            conditions[self.settings.words.heat] = calendar_factor(mode, clock, self.settings)
        elif mode.clock == "crossings":
            plain, duty = float(clock.crossings.sum()), clock.crossings
        else:
            duty = event_means(mode, self.exposure.legs, clock)
            plain = float(duty.sum())
            if self.trip.library.subsystem_of.get(key) in self.settings.difficulty.subsystems:
                conditions[self.settings.words.difficulty] = self._harder
        for factor in conditions.values():
            duty = duty * factor
        return plain, duty, conditions

    def _exponent(self, mode: FailureMode, driver: str) -> float:
        exponents: Mapping[Any, float] = mode.drivers
        scale: Mapping[Any, float] = self.vehicle.archetype.driver_exponents
        return exponents.get(driver, 0.0) * scale.get(driver, 1.0)

    @cached_property
    def _thin_air(self) -> Floats:
        rule = self.settings.coolant
        heights = np.array([leg.altitude_m or 0.0 for leg in self.exposure.legs], float)
        reference = (rule.reference_cap_kpa, rule.reference_c)
        return air_side_ratio(
            self.vehicle.archetype.cap_pressure_kpa, np.clip(heights, -400, 6000), rule.glycol_volume_share, reference
        )

    @cached_property
    def _harder(self) -> Floats:
        surfaces, rule = self.trip.library.surfaces, self.settings.difficulty
        steps = [leg.difficulty - surfaces[leg.surface].difficulty for leg in self.exposure.legs]
        return np.asarray(rule.per_class ** np.array(steps, float))

    def _reached(
        self,
        mode: FailureMode,
        base: float,
        asked: Floats,
        conditions: Mapping[str, Floats],
        today: Stress,
        mean: float,
    ) -> tuple[tuple[str, float, str], ...]:
        """Means reached step by step at middle age: base, surfaces, conditions, then the vehicle's own stress."""
        words = self.settings.words
        label = words.event if mode.clock == "event" else words.base
        bare = asked.copy()
        for factor in conditions.values():
            bare = bare / factor
        reached = [(label, base, ""), (words.surface, float(bare.sum()) / mean, "")]
        for name, factor in conditions.items():
            bare = bare * factor
            reached.append((name, float(bare.sum()) / mean, "by leg"))
        level = reached[-1][1]
        for step in today.steps:
            level *= step.factor
            reached.append((step.label, level, step.reason))
        return tuple(reached)

    # ------------------------------------------------------------------------------------- the past
    @cached_property
    def _past(self) -> list[tuple[float, float, Floats, Floats]]:
        """(from km, to km, stress, wear per km) of each stretch of the past, the last two by weak point."""
        asked = self.weights @ usual_intensity(self.trip.library, self.history.usual)
        rows = []
        for stretch in self.history.stretches:
            drivers = drivers_then(
                self.vehicle, stretch.parts, self.loads, stretch.tyre_ratio, self._past_locked, self.settings
            )
            factors = np.array(
                [
                    stress_under(self.vehicle, k, m, drivers, stretch.parts, self.settings).factor
                    for k, m in self.modes.items()
                ]
            )
            rows.append((stretch.from_km, stretch.to_km, factors, factors * asked))
        return rows

    @cached_property
    def _past_locked(self) -> float:
        """Share of past time with an axle locked: the trip's share, on past surfaces that need four driven wheels."""
        surfaces = self.trip.library.surfaces
        hard = sum(x for s, x in self.history.usual.items() if surfaces[s].need in ("four-wheel", "low-range"))
        return self.locked_share * hard

    def past_duty(self, row: int, mode: FailureMode, since_km: float, days: float) -> float:
        """Duty on the weak point's clock since the vehicle had driven ``since_km``, ``days`` ago."""
        lengths = [max(0.0, to - max(start, since_km)) for start, to, _, _ in self._past]
        if mode.clock == "km":
            return sum(x * float(wear[row]) for x, (_, _, _, wear) in zip(lengths, self._past, strict=True))
        stressed = sum(x * float(factor[row]) for x, (_, _, factor, _) in zip(lengths, self._past, strict=True))
        if mode.clock == "crossings":
            return stressed * usual_crossings(self.history.usual, self.settings)
        total = sum(lengths)
        return days * (stressed / total if total > 0 else 1.0)

    def _wear(self, row: int, key: str, mode: FailureMode, name: str, duty: Floats) -> Wear:
        history, life = self.history, life_of(mode)
        renewal = history.renewed(key, name)
        common: dict[str, Any] = {"shape": mode.shape, "warning": self._warning(row, mode), "warned": 1.0 - mode.sudden}
        if renewal:
            return self._fresh(row, mode, renewal, duty, life, common)
        if history.km is None or history.days is None:
            return Wear(life=life, kind="steady", age=0.0, spread=0.0, duty=duty, km=self._km_ends, **common)
        age = standing_age(mode, self.past_duty(row, mode, 0.0, history.days), history.days)
        kind = "known" if history.known else "unknown"
        if not history.known and mode.usual_renewal_km and mode.usual_renewal_km < history.km:
            kind, age = "replaced", age * mode.usual_renewal_km / history.km
        return Wear(life=life, kind=kind, age=age, spread=0.0, duty=duty, km=self._km_ends, **common)  # type: ignore[arg-type]

    def _fresh(
        self, row: int, mode: FailureMode, renewal: Renewal, duty: Floats, life: float, common: dict[str, Any]
    ) -> Wear:
        rule = self.settings.early_life
        early = mode.early_life * rule.grade[renewal.grade] * rule.fitter[renewal.fitter]  # type: ignore[index]
        guessed = renewal.sure and renewal.by_date and mode.clock != "days"
        spread = self.settings.age.spread_by_date if guessed else 0.0
        return Wear(
            life=life * self.settings.life_by_grade[renewal.grade],  # type: ignore[index]
            kind="known" if renewal.sure else "unknown",
            age=standing_age(mode, self.past_duty(row, mode, renewal.km, renewal.days_ago), renewal.days_ago),
            spread=spread,
            duty=duty,
            km=self._km_ends,
            early=early,
            fresh_km=renewal.since_km,
            early_km=rule.wears_off_km,
            **common,
        )

    @cached_property
    def _km_ends(self) -> Floats:
        return np.cumsum(self.clock.km)

    def _event_wear(self, duty: Floats) -> Wear:
        return Wear(1.0, 1.0, None, 0.0, "known", 0.0, 0.0, duty, self._km_ends)

    def _warning(self, row: int, mode: FailureMode) -> float | None:
        """Warning time on the weak point's own clock, from kilometres or days at the usual use."""
        if mode.sudden >= 1.0:
            return None
        if mode.clock == "days":
            per_day = self.history.km_per_day
            return mode.warning_days if mode.warning_days is not None else (mode.warning_km or 0.0) / per_day
        if mode.clock == "km":
            if mode.warning_km is not None:
                return mode.warning_km
            per_km = float(self._past[-1][3][row]) if self._past else 1.0
            return (mode.warning_days or 0.0) * self.history.km_per_day * per_km
        km = mode.warning_km if mode.warning_km is not None else (mode.warning_days or 0.0) * self.history.km_per_day
        return km * usual_crossings(self.history.usual, self.settings)


def standing_age(mode: FailureMode, worn: float, days: float) -> float:
    """Age on the weak point's own clock: by use, or by standing where that is further on ("whichever comes first").

    Examples
    --------
    >>> from types import SimpleNamespace as N
    >>> hose = N(standing_days=3650.0, clock="km", life_km=200_000.0, life_days=None, life_crossings=None)
    >>> standing_age(hose, 30_000.0, 1825.0), standing_age(hose, 150_000.0, 1825.0)
    (100000.0, 150000.0)
    """
    return worn if mode.standing_days is None else max(worn, days / mode.standing_days * life_of(mode))


def life_of(mode: FailureMode) -> float:
    """Life on the weak point's own clock."""
    life = {"km": mode.life_km, "days": mode.life_days, "crossings": mode.life_crossings}[mode.clock]
    if life is None:  # the model of a failure mode refuses this
        raise ValueError(f"a '{mode.clock}' clock without its life")
    return life
