"""What is known of a vehicle's past: true distance, usual duty, and when each part was last made new."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from itertools import pairwise

from fieldkit.likelihood.settings import Settings
from fieldkit.loads.fitted_tyres import fitted_tyre, made_on
from fieldkit.loads.tyre_size import parse_tyre
from fieldkit.specs.library import Library, Modification
from fieldkit.specs.trip import Fitted, Trip, Vehicle

DAYS_PER_YEAR = 365.25


@dataclass(frozen=True)
class Renewal:
    """A part made new: true distance of the vehicle then [km], days before the trip's preparation, grade, how it is known.

    ``sure``: nothing was renewed since. A part that came with a modification long ago may have been, unless the history is known.
    """

    km: float
    days_ago: float
    grade: str
    fitter: str
    by_date: bool
    since_km: float
    source: str
    sure: bool = True


@dataclass(frozen=True)
class Stretch:
    """A stretch of the past with one set of parts: true distances [km], tyre diameter ratio to the build's."""

    from_km: float
    to_km: float
    parts: tuple[tuple[Fitted, Modification], ...]
    tyre_ratio: float


@dataclass(frozen=True)
class History:
    """One vehicle's past.

    ``known``: the parts not named as renewed are the first ones. Without an odometer or years nothing is known, and
    ages are taken as those of a part met at a random moment of its life.
    """

    vehicle: Vehicle
    library: Library
    settings: Settings
    prepared: date
    findings: tuple[tuple[str, str, date], ...] = ()

    @property
    def known(self) -> bool:
        return self.vehicle.spec.age.history_known

    @cached_property
    def years(self) -> float | None:
        """Age of the vehicle [years], from its file or the year it was built."""
        age, built = self.vehicle.spec.age, self.vehicle.spec.identity.built
        if age.years is not None:
            return age.years
        return None if built is None else max(0.0, self.prepared.year + self.prepared.timetuple().tm_yday / 366 - built)

    @cached_property
    def km(self) -> float | None:
        """True distance driven [km]: the odometer corrected for tyres, or the years at the build's usual use."""
        if self.vehicle.spec.age.odometer_km is not None:
            return self.true_km(self.vehicle.spec.age.odometer_km)
        return None if self.years is None else self.years * self.vehicle.archetype.usual_km_per_year

    @cached_property
    def km_per_day(self) -> float:
        """Usual use [km/day]."""
        if self.km and self.years:
            return self.km / self.years / DAYS_PER_YEAR
        return self.vehicle.archetype.usual_km_per_year / DAYS_PER_YEAR

    @cached_property
    def days(self) -> float | None:
        """Age of the vehicle [days]."""
        if self.years is not None:
            return self.years * DAYS_PER_YEAR
        return None if self.km is None else self.km / self.km_per_day

    @cached_property
    def usual(self) -> dict[str, float]:
        """Shares of the past kilometres by surface, adding to 1; surfaces that the library lacks are left out."""
        stated = self.vehicle.spec.age.usual or self.settings.usual
        known = {s: share for s, share in stated.items() if s in self.library.surfaces}
        total = sum(known.values())
        return {s: share / total for s, share in known.items()} if total > 0 else {}

    @cached_property
    def _odometer_ratio(self) -> float:
        """True over shown distance on today's tyres."""
        tyre, shown_for = fitted_tyre(self.vehicle), self.vehicle.spec.age.odometer_tyre
        right = parse_tyre(shown_for) if shown_for else tyre.built
        return tyre.fitted.diameter_mm / right.diameter_mm

    @cached_property
    def _tyres_since(self) -> float:
        own = self.vehicle.spec.tyres
        return own.fitted_at_km or 0.0 if own else 0.0

    def true_km(self, shown_km: float) -> float:
        """True distance at an odometer reading [km]; taller tyres make the odometer show too little."""
        on_today = max(0.0, shown_km - self._tyres_since)
        return shown_km + on_today * (self._odometer_ratio - 1.0)

    def km_at(self, when: date) -> float:
        """True distance on a day, at the usual use [km]."""
        ago = max(0, (self.prepared - when).days)
        return max(0.0, (self.km or 0.0) - ago * self.km_per_day)

    def _at(self, shown_km: float | None, when: date | None) -> tuple[float, float] | None:
        """(true distance, days ago) of something dated by odometer or calendar; None when by neither."""
        if shown_km is not None:
            km = min(self.true_km(shown_km), self.km or self.true_km(shown_km))
            ago = (self.prepared - when).days if when else ((self.km or km) - km) / self.km_per_day
            return km, max(0.0, ago)
        return None if when is None else (self.km_at(when), float(max(0, (self.prepared - when).days)))

    @cached_property
    def stretches(self) -> tuple[Stretch, ...]:
        """The past cut where a part or the tyres were fitted; parts of unknown date count from the start."""
        end = self.km or 0.0
        fitted = [(self._at(f.since_km, f.date), f, m) for f, m in self.vehicle.modifications]
        since = [(min(at[0], end) if at else 0.0, f, m) for at, f, m in fitted]
        tyres = min(self.true_km(self._tyres_since), end)
        cuts = sorted({0.0, end, tyres, *(km for km, _, _ in since)})
        ratio = fitted_tyre(self.vehicle).ratio
        return tuple(
            Stretch(a, b, tuple((f, m) for km, f, m in since if km <= a), ratio if tyres <= a else 1.0)
            for a, b in pairwise(cuts)
        )

    @cached_property
    def renewals(self) -> dict[tuple[str, str], Renewal]:
        """(weak point, position or '' for all) -> its latest renewal."""
        latest: dict[tuple[str, str], Renewal] = {}
        for mode, positions, renewal in self._all_renewals():
            for position in positions or ("",):
                before = latest.get((mode, position))
                if before is None or renewal.days_ago <= before.days_ago:
                    latest[(mode, position)] = renewal
        return latest

    def renewed(self, mode: str, position: str) -> Renewal | None:
        """The latest renewal of one position."""
        found = [r for p in ("", position) if (r := self.renewals.get((mode, p)))]
        return min(found, key=lambda r: r.days_ago) if found else None

    def _all_renewals(self) -> Iterator[tuple[str, tuple[str, ...], Renewal]]:
        yield from self._with_fitted_parts()
        yield from self._tyres()
        for entry in self.vehicle.spec.renewed:
            if at := self._at(entry.at_km, entry.date):
                made = self._renewal(at, entry.grade, entry.at_km is None, "renewed")
                for mode in self._modes_of(entry.failure_mode):
                    yield mode, entry.positions, made
        for mode, position, when in self.findings:
            made = self._renewal((self.km_at(when), max(0, (self.prepared - when).days)), "good", True, "found renewed")
            yield mode, (position,) if position else (), made

    def _modes_of(self, name: str) -> list[str]:
        """A weak point, or every weak point of a subsystem (an engine or axle swap)."""
        if name in self.library.failure_modes:
            return [name]
        return [m for m, s in self.library.subsystem_of.items() if s == name]

    def _renewal(self, at: tuple[float, float], grade: str, by_date: bool, source: str) -> Renewal:
        km, days = at
        since = max(0.0, (self.km or km) - km)
        if by_date:
            since = max(since, self.vehicle.spec.shakedown_km)
        return Renewal(km, days, grade, "unknown", by_date, since, source)

    def _with_fitted_parts(self) -> Iterator[tuple[str, tuple[str, ...], Renewal]]:
        """Parts that came with a modification are as old as it, and work that fits it renewed what it renews."""
        had = set(self.vehicle.archetype.features)
        for fitted, part in self.vehicle.modifications:
            at = self._at(fitted.since_km, fitted.date)
            if at is None:
                continue
            brings = (set(part.adds) | {fitted.id}) - had
            made = replace(self._renewal(at, fitted.grade, fitted.since_km is None, part.name), sure=self.known)
            for key, mode in self.library.failure_modes.items():
                if brings & {*mode.needs, *mode.needs_any}:
                    yield key, (), made
            for key in renewed_by_fitting(self.library, fitted.id):
                yield key, (), made

    def _tyres(self) -> Iterator[tuple[str, tuple[str, ...], Renewal]]:
        own, settings = self.vehicle.spec.tyres, self.settings.tyres
        if own is None:
            return
        made = made_on(own.date_code) if own.date_code else None
        if made:
            at = (self.km_at(made), float(max(0, (self.prepared - made).days)))
            for mode in settings.age_by_date_code:
                yield mode, (), self._renewal(at, "good", False, "date code")
        if own.fitted_at_km is not None and (found := self._at(own.fitted_at_km, None)):
            for mode in settings.age_by_fitting:
                yield mode, (), self._renewal(found, "good", False, "tyres fitted")


def renewed_by_fitting(library: Library, part: str) -> set[str]:
    """Weak points that every workshop option which fits a part makes new (a lock may go on old gears: it renews nothing).

    Examples
    --------
    >>> from types import SimpleNamespace as N
    >>> new, old = N(fits=("rebuild", "lock"), renews=None), N(fits=("lock",), renews=())
    >>> library = N(failure_modes={"gears": N(workshop=(new, old))})
    >>> renewed_by_fitting(library, "rebuild"), renewed_by_fitting(library, "lock")
    ({'gears'}, set())
    """
    each = [
        set(o.renews if o.renews is not None else (key,))
        for key, mode in library.failure_modes.items()
        for o in mode.workshop
        if part in o.fits
    ]
    return set.intersection(*each) & set(library.failure_modes) if each else set()


def history_of(trip: Trip, vehicle: Vehicle, settings: Settings) -> History:
    """A vehicle's past from its file and from findings that say 'renewed'."""
    found = tuple(
        (f.failure_mode, f.position, f.date)
        for f in trip.findings
        if f.vehicle == vehicle.id and f.finding == "renewed"
    )
    return History(vehicle, trip.library, settings, trip.head.prepared, found)
