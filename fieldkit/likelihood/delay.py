"""Delay time: what a part that shows wear, and one that does not, may do on the trip.

A share of failures gives warning for a while first (the P-F interval of reliability-centred maintenance). A part found
degraded is within that while of failing; one found sound is not.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from fieldkit.likelihood.result import PositionHazard, Wear
from fieldkit.likelihood.weibull import cumulative_hazard, hazard_rate, mean_life, renewal_rate, renewals

Floats = NDArray[np.float64]

#: A part is never taken as certain to be degraded, and no mean is larger than this.
MOST_DEGRADED, MOST_EXPECTED = 0.9, 50.0
#: Points of the standard normal at which a spread age is averaged (five equal shares).
QUANTILES = ndtri(np.array([0.1, 0.3, 0.5, 0.7, 0.9]))


@dataclass(frozen=True)
class Means:
    """Cumulative means of positions, shape (positions, legs), and the chance that each is degraded before a look (positions,)."""

    own: Floats
    sound: Floats
    degraded: Floats
    prior: Floats


def split_means(own: Floats, duty: Floats, prior: Floats, warning: Floats) -> tuple[Floats, Floats]:
    """Means of a sound and of a degraded part from the mean of one nobody looked at.

    On one position's probabilities: P_own = 1 - exp(-own); P_deg = min(max(1 - exp(-duty / warning), P_own), P_own / prior);
    P_sound = (P_own - prior * P_deg) / (1 - prior); means are -ln(1 - P), 50 at most and never falling along the legs. The
    ``max`` matters only for a part so old that its kind fails within the warning time: worn is never better than unseen.

    Parameters
    ----------
    own, duty : array, shape (positions, legs)
        Cumulative mean and duty by the end of each leg.
    prior, warning : array, shape (positions,)
        Chance of being degraded now, 0 to 0.9; warning time on the clock of ``duty``.

    Returns
    -------
    sound, degraded : array, shape (positions, legs)

    Examples
    --------
    >>> sound, degraded = split_means(np.array([[0.2]]), np.array([[5.0]]), np.array([0.3]), np.array([10.0]))
    >>> float(1 - np.exp(-sound[0, 0])), float(1 - np.exp(-degraded[0, 0]))
    (0.0903, 0.3935)
    """
    chance = -np.expm1(-own)
    most = np.divide(chance, prior[:, None], out=np.full_like(chance, np.inf), where=prior[:, None] > 0)
    worn = np.minimum(np.maximum(-np.expm1(-duty / warning[:, None]), chance), most)
    fine = (chance - prior[:, None] * worn) / (1.0 - prior[:, None])
    return _rising(fine), _rising(worn)


def _rising(chance: Floats) -> Floats:
    with np.errstate(divide="ignore"):
        mean = -np.log1p(-np.clip(chance, 0.0, 1.0))
    return np.maximum.accumulate(np.minimum(mean, MOST_EXPECTED), axis=-1)


def means(wears: Sequence[Wear]) -> Means:
    """Means of many positions at once.

    1. own mean by age: H(a + D) - H(a), or m(O + D) - m(O) for a part of unknown history;
    2. chance of being degraded now: share that warns * warning time * slope of the same function, 0.9 at most;
    3. the two conditional means;
    4. early failures of fresh work added to all three.
    """
    table = _Table.of(wears)
    own, slope = table.expected()
    prior = np.minimum(table.warned * np.where(table.warns, table.warning, 0.0) * slope, MOST_DEGRADED)
    sound, degraded = own.copy(), own.copy()
    if table.warns.any():
        w = table.warns
        sound[w], degraded[w] = split_means(own[w], table.duty[w], prior[w], table.warning[w])
    early = table.early_failures()
    return Means(own + early, sound + early, degraded + early, prior)


def position_hazards(names: Sequence[str], wears: Sequence[Wear]) -> tuple[PositionHazard, ...]:
    """Positions with their means, from what they are worked out from."""
    found = means(wears)
    return tuple(
        PositionHazard(n, found.own[i], found.sound[i], found.degraded[i], float(found.prior[i]), w)
        for i, (n, w) in enumerate(zip(names, wears, strict=True))
    )


def under_stress(wear: Wear, factor: float) -> Wear:
    """The same position with more (or less) wear per km from now on."""
    return wear if factor == 1.0 else replace(wear, duty=wear.duty * factor)


@dataclass(frozen=True)
class _Table:
    """Wear of many positions as columns."""

    life: Floats
    shape: Floats
    warning: Floats
    warned: Floats
    warns: NDArray[np.bool_]
    kinds: NDArray[np.str_]
    age: Floats
    spread: Floats
    duty: Floats
    km: Floats
    early: Floats
    fresh_km: Floats
    early_km: Floats

    @classmethod
    def of(cls, wears: Sequence[Wear]) -> _Table:
        def column(name: str) -> Floats:
            return np.array([getattr(w, name) for w in wears], float)

        return cls(
            **{n: column(n) for n in ("life", "shape", "warned", "age", "spread", "early", "fresh_km", "early_km")},
            warning=np.array([w.warning or 1.0 for w in wears], float),
            warns=np.array([bool(w.warning) and w.warned > 0 for w in wears]),
            kinds=np.array([w.kind for w in wears]),
            duty=np.array([w.duty for w in wears], float),
            km=np.array([w.km for w in wears], float),
        )

    def expected(self) -> tuple[Floats, Floats]:
        """Own mean (positions, legs) and the slope of its function at the age (positions,)."""
        own, slope = np.zeros_like(self.duty), np.zeros_like(self.life)
        for pick, fill in (
            ((self.kinds == "known") & (self.spread == 0), self._known),
            ((self.kinds == "known") & (self.spread > 0), self._spread),
            (self.kinds == "unknown", self._unknown),
            (self.kinds == "steady", self._steady),
            (self.kinds == "replaced", self._replaced),
        ):
            if pick.any():
                own[pick], slope[pick] = fill(pick)
        return own, slope

    def _known(self, pick: NDArray[np.bool_], factor: float = 1.0) -> tuple[Floats, Floats]:
        life, shape, age = self.life[pick], self.shape[pick], self.age[pick] * factor
        before = cumulative_hazard(age, life, shape)
        after = cumulative_hazard(age[:, None] + self.duty[pick], life[:, None], shape[:, None])
        # a part of shape below 1 has an endless slope at age 0, but then it gives no warning and the slope is not used
        slope = hazard_rate(np.maximum(age, 1e-9 * life), life, shape)
        return after - before[:, None], slope

    def _spread(self, pick: NDArray[np.bool_]) -> tuple[Floats, Floats]:
        own, slope = np.zeros_like(self.duty[pick]), np.zeros_like(self.life[pick])
        for z in QUANTILES:
            factor = np.exp(self.spread[pick] * z)
            part = replace(self, age=_scaled(self.age, pick, factor))._known(pick)
            own += part[0] / len(QUANTILES)
            slope += part[1] / len(QUANTILES)
        return own, slope

    def _unknown(self, pick: NDArray[np.bool_]) -> tuple[Floats, Floats]:
        own, slope = np.zeros_like(self.duty), np.zeros_like(self.life)
        for shape in np.unique(self.shape[pick]):
            rows = pick & (self.shape == shape)
            life = self.life[rows]
            done, duty = self.age[rows] / life, self.duty[rows] / life[:, None]
            own[rows] = renewals(done[:, None] + duty, float(shape)) - renewals(done, float(shape))[:, None]
            slope[rows] = renewal_rate(done, float(shape)) / life
        return own[pick], slope[pick]

    def _steady(self, pick: NDArray[np.bool_]) -> tuple[Floats, Floats]:
        slope = 1.0 / mean_life(self.life[pick], self.shape[pick])
        return self.duty[pick] * slope[:, None], slope

    def _replaced(self, pick: NDArray[np.bool_]) -> tuple[Floats, Floats]:
        """Mean over ages from 0 to T alike likely: (J(T + D) - J(T) - J(D)) / T with J the integral of H; slope H(T) / T."""
        life, shape, every, duty = self.life[pick], self.shape[pick], self.age[pick], self.duty[pick]

        def integral(x: Floats) -> Floats:
            power = (shape + 1.0)[:, None]
            return np.asarray(life[:, None] / power * (x / life[:, None]) ** power)

        at = every[:, None]
        own = (integral(at + duty) - integral(at) - integral(duty)) / at
        return own, cumulative_hazard(every, life, shape) / every

    def early_failures(self) -> Floats:
        """Early failures of fresh work by the end of each leg: delta * (exp(-x/L) - exp(-(x + km)/L))."""
        x, scale = self.fresh_km[:, None], self.early_km[:, None]
        return np.asarray(self.early[:, None] * (np.exp(-x / scale) - np.exp(-(x + self.km) / scale)))


def _scaled(values: Floats, pick: NDArray[np.bool_], factor: Floats) -> Floats:
    found = values.copy()
    found[pick] = values[pick] * factor
    return found
