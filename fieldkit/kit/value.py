"""Hours: what a failure costs on each leg, and what each field repair leaves of it. One function of the state left.

R(state, leg) is the time lost to a state: ok 0; nuisance its own; limp the slower way to a workshop, and the work; disabled
or unsafe until help has come, the vehicle is back and mended. L is R of the state the failure leaves, net of what
everybody can do without a kit. A repair leaves a state of its own; G = L - [r + e R(after) + (1 - e) L] is what it saves.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from fieldkit.exposure.result import Exposure, LegExposure
from fieldkit.kit.result import Way, Worth
from fieldkit.kit.settings import KitSettings, kit_settings
from fieldkit.likelihood.hazard import has_part
from fieldkit.likelihood.result import Risks
from fieldkit.loads.fitted_tyres import features_of
from fieldkit.loads.result import Loads
from fieldkit.specs.base import SKILLS, Severity
from fieldkit.specs.library import FailureMode, Procedure
from fieldkit.specs.trip import Trip, Vehicle

Floats = NDArray[np.float64]
Key = tuple[str, str]


def worths(trip: Trip, exposure: Exposure, risks: Risks, loads: Loads | None = None) -> dict[Key, Worth]:
    """What each weak point's failure costs, and what each repair leaves, for every (vehicle, weak point) with a risk.

    Parameters
    ----------
    loads : Loads or None
        For towing (masses of both vehicles); without it nobody is towed.

    Returns
    -------
    dict
        (vehicle, weak point) -> Worth, arrays of shape (legs,) [h].
    """
    settings = kit_settings(trip.library)
    cases = {v.id: _Case(trip, exposure, v, loads, settings) for v in trip.vehicles}
    return {key: cases[key[0]].worth(key[1]) for key in risks.by_key}


def severity_at(mode: FailureMode, need: str) -> Severity:
    """How bad a failure is on a leg that needs this; a low-range leg is at least as bad as a four-wheel-drive one.

    Examples
    --------
    >>> from types import SimpleNamespace as N
    >>> mode = N(severity="nuisance", severity_where={"four-wheel": "disabled"})
    >>> severity_at(mode, "low-range"), severity_at(mode, "highway")
    ('disabled', 'nuisance')
    """
    where: Mapping[str, Severity] = mode.severity_where  # type: ignore[assignment]
    if need == "low-range" and need not in where:
        need = "four-wheel"
    return where.get(need, mode.severity)


def limp_hours(on_km: float | None, off_km: float | None, speed: float, pace: float, reach_km: float) -> float:
    """Hours to limp to the nearer workshop, before its work: on the route d (1/v - 1/v_l), off it d (1/v + 1/v_l).

    Parameters
    ----------
    on_km, off_km : float or None
        Distance to a workshop further along the route, and off it [km]; None: none.
    speed, pace : float
        Limping and usual speed [km/h]; the slower of both is limped.
    reach_km : float
        How far the vehicle may go [km].

    Returns
    -------
    float
        [h]; infinite where no workshop is in reach.

    Examples
    --------
    >>> limp_hours(100, 60, 20, 50, 1000)     # 100 km at 20 instead of 50: 3 h; 60 km off and back: 4.2 h
    3.0
    >>> limp_hours(100, None, 20, 50, 80)
    inf
    """
    slow = min(speed, pace)
    ways = [
        km * (1.0 / slow + sign / pace)
        for km, sign in ((on_km, -1.0), (off_km, 1.0))
        if km is not None and km <= reach_km
    ]
    return min(ways, default=float("inf"))


@dataclass(frozen=True)
class _Case:
    """One vehicle on one trip."""

    trip: Trip
    exposure: Exposure
    vehicle: Vehicle
    loads: Loads | None
    settings: KitSettings

    @property
    def legs(self) -> tuple[LegExposure, ...]:
        return self.exposure.legs

    @cached_property
    def features(self) -> frozenset[str]:
        return features_of(self.vehicle)

    def worth(self, key: str) -> Worth:
        mode = self.trip.library.failure_modes[key]
        own = self._own(key, mode)
        ways, refused = [], []
        for procedure in self.trip.library.procedures_for(key, self.features):
            why = self._refusal(procedure, mode)
            if why:
                refused.append((procedure.id, why))
            else:
                ways.append(self._way(procedure, mode, key))
        loss, free = own, ""
        for way in (w for w in ways if not w.tools and not w.stock):
            done = way.hours + way.holds * np.minimum(way.left, own) + (1.0 - way.holds) * own
            if (done < loss - 1e-9).any() and done.sum() < loss.sum():
                free = way.procedure
            loss = np.minimum(loss, done)
        kept = tuple(_capped(w, loss) for w in ways if w.tools or w.stock)
        return Worth(self.vehicle.id, key, own, loss, free, kept, tuple(refused), self._last(key, mode))

    # ------------------------------------------------------------------ states
    def _own(self, key: str, mode: FailureMode) -> Floats:
        """R of the state that the failure leaves, by leg; the party's help to a dead vehicle in it."""
        return np.array([self._state(leg, self._severity(mode, leg), mode, key) for leg in self.legs])

    def _severity(self, mode: FailureMode, leg: LegExposure) -> Severity:
        """The last way of a function lost is the function lost."""
        for function in self.trip.library.functions.values():
            if mode.function in function.ways and not self._has_other_way(mode.function, function.ways):
                return function.loss_of_all
        return severity_at(mode, leg.need)

    def _last(self, key: str, mode: FailureMode) -> Floats | None:
        """R once everything that backs this part up is lost too, by leg."""
        for function in self.trip.library.functions.values():
            if mode.function in function.ways and self._has_other_way(mode.function, function.ways):
                return np.array([self._state(leg, function.loss_of_all, mode, key) for leg in self.legs])
        return None

    def _has_other_way(self, own: str | None, ways: tuple[str, ...]) -> bool:
        modes = self.trip.library.failure_modes.values()
        return any(m.function in ways and m.function != own and has_part(m, self.features) for m in modes)

    def _state(
        self,
        leg: LegExposure,
        severity: Severity,
        mode: FailureMode,
        key: str,
        speed: float | None = None,
        reach: float | None = None,
    ) -> float:
        """R(state, leg) [h]; ``speed`` and ``reach`` of a limp, where a repair sets them."""
        work = self._work_hours(leg, mode)
        if severity == "nuisance":
            return mode.nuisance_hours
        dead = min(leg.out_h + leg.back_h + work, self.settings.hours.longest_h)
        dead = min(dead, self._towed(leg, mode, key) + work, self._left_behind())
        if severity != "limp":
            return dead
        slow = speed or mode.limp_speed_kmh or self.settings.hours.limp_speed_kmh
        far = reach if reach is not None else mode.limp_distance_km
        limped = limp_hours(leg.workshop_on_km, leg.workshop_off_km, slow, leg.speed_kmh, _or_inf(far))
        return min(limped + work, dead)

    def _work_hours(self, leg: LegExposure, mode: FailureMode) -> float:
        """Waiting for the part where the vehicle is mended, and the work itself [h]."""
        lead = mode.part_lead_days * 24.0 * self.vehicle.archetype.part_lead_factor
        return leg.part_lead_h + lead + mode.fit_hours

    # ----------------------------------------------------------------- the party
    def _towed(self, leg: LegExposure, mode: FailureMode, key: str) -> float:
        """Hours of a tow to the nearer workshop, before its work; infinite where towing is not allowed."""
        rule = self.settings.tow
        grade = max(leg.climb_m or 0.0, leg.descent_m or 0.0) / (1000.0 * leg.km) if leg.km else 0.0
        allowed = (
            leg.need in rule.needs
            and leg.difficulty <= rule.difficulty_at_most
            and grade <= rule.grade_at_most
            and self.trip.library.subsystem_of[key] not in rule.not_with
            and mode.unsafe_kind != "do-not-move"
            and self._tower
        )
        if not allowed:
            return float("inf")
        away = limp_hours(leg.workshop_on_km, leg.workshop_off_km, rule.speed_kmh, leg.speed_kmh, rule.distance_km)
        return away + rule.rigging_h

    @cached_property
    def _tower(self) -> bool:
        """Whether another vehicle may pull this one: its own tow limit and combination limit, masses as loaded."""
        if self.loads is None or len(self.trip.vehicles) < 2:
            return False
        mine = self._gross(self.vehicle.id)
        for other in self.trip.vehicles:
            limits = other.archetype.masses
            if other.id == self.vehicle.id or other.spec.trailer is not None:
                continue
            if limits.tow_limit_kg is None or limits.combination_limit_kg is None:
                continue
            if mine <= limits.tow_limit_kg and mine + self._gross(other.id) <= limits.combination_limit_kg:
                return True
        return False

    def _gross(self, vehicle: str) -> float:
        loads = self.loads.vehicles.get(vehicle) if self.loads else None
        return loads.states["departure"].gross_kg if loads and "departure" in loads.states else float("inf")

    def _left_behind(self) -> float:
        """Hours when the vehicle is left and its people ride with the others; infinite without seats for them."""
        if not 0 < self.vehicle.entry.crew <= self._free_seats:
            return float("inf")
        return self.settings.people.transfer_h + self.settings.people.fetch_h

    @cached_property
    def _free_seats(self) -> int:
        others = [v for v in self.trip.vehicles if v.id != self.vehicle.id]
        return sum(max(0, v.archetype.seats - v.entry.crew) for v in others)

    # ------------------------------------------------------------------- repairs
    def _refusal(self, procedure: Procedure, mode: FailureMode) -> str:
        """Why a repair is not offered; empty when it is."""
        head, party = procedure.head, self.trip.head.party
        best = max((SKILLS.index(s) for s in party.skills), default=0)
        if SKILLS.index(head.skill) > best:
            return f"nobody aboard is {head.skill}"
        if head.people > party.people:
            return f"takes {head.people} people"
        if mode.unsafe_kind == "do-not-move" and head.kind != "proper":
            return "unsafe to move until properly repaired"
        surplus = self.vehicle.entry.crew - head.limits.aboard if head.limits.aboard is not None else 0
        if head.kind != "proper" and surplus > self._free_seats:
            return f"only {head.limits.aboard} may stay aboard and there are no seats for the others"
        misfit = [i for i in procedure.items() if not set(self.trip.library.items[i].fits) <= self.features]
        if misfit:
            return f"{self.trip.library.items[misfit[0]].name} does not suit the vehicle"
        return ""

    def _way(self, procedure: Procedure, mode: FailureMode, key: str) -> Way:
        head = procedure.head
        stock = {i: float(n) for i, n in {**head.supplies, **head.spares}.items() if n > 0}
        tools = {i: n for i, n in head.tools.items() if n > 0}
        left = np.array([self._left(leg, procedure, mode, key) for leg in self.legs])
        return Way(procedure.id, head.kind, head.minutes / 60.0, head.holds, left, tools, stock)

    def _left(self, leg: LegExposure, procedure: Procedure, mode: FailureMode, key: str) -> float:
        """R of the state that a repair leaves when it holds, its limits kept [h].

        An unsafe vehicle on anything but a proper repair goes at walking pace, unless the repair takes the danger away
        (a way out that leaves it ok or a nuisance: the seat whose belt failed stays empty).
        """
        head = procedure.head
        speed, reach = head.limits.speed_kmh, head.limits.distance_km
        if mode.unsafe_kind == "get-out-only" and head.kind == "get-out":
            return self._state(leg, "limp", mode, key, self.settings.hours.walking_pace_kmh, reach)
        if head.leaves == "disabled":
            return self._state(leg, "disabled", mode, key)
        if head.leaves == "limp":
            pace = self.settings.hours.walking_pace_kmh if mode.unsafe_kind == "get-out-only" else speed
            return self._state(leg, "limp", mode, key, pace, reach)
        slowed = self._slowed(leg.index, speed or 0.0, _or_inf(reach))
        return slowed + (mode.nuisance_hours if head.leaves == "nuisance" else 0.0)

    def _slowed(self, leg: int, speed: float, reach_km: float) -> float:
        """Hours lost by going slower than the legs' speeds until a repair's distance, or the trip, is over [h]."""
        return _slower(tuple((x.km, x.speed_kmh) for x in self.legs[leg:]), speed, reach_km) if speed else 0.0


@lru_cache(maxsize=65_536)
def _slower(legs: tuple[tuple[float, float], ...], speed: float, reach_km: float) -> float:
    """The first leg counts half: the failure falls somewhere on it."""
    lost, gone = 0.0, 0.0
    for i, (km, pace) in enumerate(legs):
        stretch = min(km * (0.5 if i == 0 else 1.0), max(0.0, reach_km - gone))
        gone += stretch
        lost += stretch * max(0.0, 1.0 / speed - 1.0 / pace)
    return lost


def _or_inf(value: float | None) -> float:
    return float("inf") if value is None else value


def _capped(way: Way, loss: Floats) -> Way:
    """A repair never leaves more than the failure itself: what could be done before can be done after."""
    return Way(way.procedure, way.kind, way.hours, way.holds, np.minimum(way.left, loss), way.tools, way.stock)


def saved_by_chain(loss: Floats, ways: tuple[Way, ...], second_try_h: float) -> Floats:
    """G of an ordered chain of repairs by leg, by backward recursion [h].

    The last that does not hold leaves L; one before it leaves the next, after the time to see that it has not held.

    Examples
    --------
    >>> import numpy as np
    >>> one = Way("a", "proper", 1.0, 0.5, np.array([0.0]))
    >>> two = Way("b", "proper", 2.0, 0.5, np.array([4.0]))
    >>> saved_by_chain(np.array([20.0]), (one, two), 0.5).tolist()     # b leaves 14 h; a leaves 1 + 0.5 (0.5 + 14)
    [11.75]
    """
    left = loss
    for n, way in enumerate(reversed(ways)):
        left = way.hours + way.holds * way.left + (1.0 - way.holds) * (left + (second_try_h if n else 0.0))
    return loss - left
