"""What is to be expected on the trip once people have looked: findings, damage from others, counts by leg, ranges."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from fieldkit.likelihood.cascade import Edge, cascade, combined_evidence, damage_edges, damage_matrix
from fieldkit.likelihood.counts import Counted, count_positions, generating
from fieldkit.likelihood.hazard import as_steps
from fieldkit.likelihood.ranges import combined_worth, factor_range, shared_worths
from fieldkit.likelihood.result import Hazards, ModeHazard, Range, Risk, Risks, StoryStep
from fieldkit.likelihood.settings import Settings, settings_of
from fieldkit.specs.library import Library
from fieldkit.specs.trip import Trip

Floats = NDArray[np.float64]
Key = tuple[str, str]
K = TypeVar("K", str, tuple[str, str])

#: Rounds of damage are followed until no mean changes by more than this.
SETTLED, MOST_ROUNDS = 1e-12, 200
#: Weak points counted at once (bounds the memory).
BATCH = 256


def risks(trip: Trip, hazards: Hazards, beliefs: Mapping[Key, Sequence[float]] | None = None) -> Risks:
    """Expected failures, chances and counts by leg of every weak point of every vehicle.

    1. each position a mixture of sound and degraded by what was found;
    2. damage from other failures of the same vehicle, followed until it settles;
    3. counts by leg, integrated over the weak point's own factor;
    4. ranges with every shared factor in;
    5. the story, closed by findings and by damage from others.

    Parameters
    ----------
    beliefs : mapping or None
        (vehicle, weak point) -> probability per position that it is degraded; weak points left out were not looked at.

    Raises
    ------
    InputFaults
        If damage goes round and grows on a vehicle; names the round.
    """
    settings = settings_of(trip.library)
    beliefs = beliefs or {}
    shares = {key: degraded_shares(h, beliefs.get(key)) for key, h in hazards.modes.items()}
    alone = count_all(hazards.modes, shares, settings.counts.most)
    found: dict[Key, Risk] = {}
    edges: list[tuple[str, str, str, float]] = []
    for vehicle in dict.fromkeys(v for v, _ in hazards.modes):
        mine = {m: h for (v, m), h in hazards.modes.items() if v == vehicle}
        case = _VehicleRisks(
            trip.library,
            settings,
            vehicle,
            mine,
            {m: shares[(vehicle, m)] for m in mine},
            {m: alone[(vehicle, m)] for m in mine},
        )
        found.update({(vehicle, m): r for m, r in case.risks().items()})
        edges += [(vehicle, *edge) for edge in case.edges]
    return Risks(hazards.legs, found, tuple(edges))


def expected_by_leg(
    trip: Trip, hazards: Hazards, degraded: Mapping[Key, Sequence[float]] | None = None
) -> dict[Key, Floats]:
    """Expected failures (legs,) of each weak point as ``risks`` finds them, without ranges and story: much quicker."""
    settings = settings_of(trip.library)
    shares = {k: degraded_shares(h, (degraded or {}).get(k)) for k, h in hazards.modes.items()}
    alone = count_all(hazards.modes, shares, settings.counts.most)
    found: dict[Key, Floats] = {}
    for vehicle in dict.fromkeys(v for v, _ in hazards.modes):
        mine = {m: h for (v, m), h in hazards.modes.items() if v == vehicle}
        own = {m: alone[(vehicle, m)] for m in mine}
        case = _VehicleRisks(trip.library, settings, vehicle, mine, {m: shares[(vehicle, m)] for m in mine}, own)
        found.update({(vehicle, m): by_leg(c.mean) for m, c in case.settled().items()})
    return found


def degraded_shares(hazard: ModeHazard, believed: Sequence[float] | None) -> tuple[float, ...]:
    """Chance per position that it is degraded: what findings say, else what age says."""
    return tuple(believed) if believed is not None else tuple(p.prior_degraded for p in hazard.positions)


def counts_of(hazard: ModeHazard, degraded: Sequence[float], others: Floats, most: int) -> Counted:
    """Counts of one weak point by leg; ``others`` of shape (positions, legs) is added to every position."""
    sound = np.array([p.sound for p in hazard.positions])
    worn = np.array([p.degraded for p in hazard.positions])
    evidence = (hazard.shape_a, hazard.rate_b)
    return count_positions(sound, worn, np.array(degraded), others, hazard.renews, evidence, most)


def count_all(
    hazards: Mapping[K, ModeHazard],
    shares: Mapping[K, Sequence[float]],
    most: int,
    others: Mapping[K, Floats] | None = None,
) -> dict[K, Counted]:
    """Counts of many weak points, those of one kind worked out together.

    Of one kind: the same number of positions, the same repair and evidence, all a mixture or none.

    Parameters
    ----------
    others : mapping or None
        Cumulative mean of damage from other failures, (positions, legs) each, some of it everywhere; None: nowhere any.
    """
    groups: dict[tuple[int, bool, float, float, bool], list[K]] = {}
    for key, hazard in hazards.items():
        mixed = any(shares[key]) and any(p.sound is not p.degraded for p in hazard.positions)
        kind = (len(hazard.positions), hazard.renews, hazard.shape_a, hazard.rate_b, mixed)
        groups.setdefault(kind, []).append(key)
    found: dict[K, Counted] = {}
    for (_, renews, a, b, mixed), keys in groups.items():
        for start in range(0, len(keys), BATCH):
            part = keys[start : start + BATCH]
            sound = np.array([[p.sound for p in hazards[k].positions] for k in part])
            worn = np.array([[p.degraded for p in hazards[k].positions] for k in part]) if mixed else sound
            share = np.array([shares[k] for k in part])
            damage = np.zeros_like(sound) if others is None else np.array([others[k] for k in part])
            counted = count_positions(sound, worn, share, damage, renews, (a, b), most)
            found.update({k: Counted(counted.tails[i], counted.mean[i]) for i, k in enumerate(part)})
    return found


def by_leg(cumulative: Floats) -> Floats:
    """Differences along the last axis, the first from 0.

    Examples
    --------
    >>> by_leg(np.array([0.1, 0.3]))
    array([0.1, 0.2])
    """
    found = cumulative.copy()
    found[..., 1:] -= cumulative[..., :-1]
    return found


@dataclass
class _VehicleRisks:
    """One vehicle's weak points on their way from hazards to risks."""

    library: Library
    settings: Settings
    vehicle: str
    hazards: Mapping[str, ModeHazard]
    shares: Mapping[str, tuple[float, ...]]
    alone: Mapping[str, Counted]
    edges: list[Edge] = field(init=False)

    def __post_init__(self) -> None:
        self.edges = damage_edges(self.library, self.hazards, self.settings.driven_on)

    def risks(self) -> dict[str, Risk]:
        worth = self._worth()
        counted, others = self._settle(self.alone)
        return {m: self._risk(m, self.alone[m], counted[m], others[m], worth[m]) for m in self.hazards}

    def settled(self) -> dict[str, Counted]:
        """Counts with damage from others in."""
        return self._settle(self.alone)[0]

    def _worth(self) -> dict[str, float]:
        """Failures' worth of each weak point's mean, damage from others in; refuses damage that goes round and grows."""
        worth = {m: h.shape_a for m, h in self.hazards.items()}
        touched = sorted({end for source, target, _ in self.edges for end in (source, target)})
        if touched:
            own = np.array([self.alone[m].mean[-1] for m in touched])
            firm = np.array([worth[m] for m in touched], float)
            shares = cascade(own, damage_matrix(touched, self.edges))[1]
            worth.update(zip(touched, combined_evidence(own, shares, firm).tolist(), strict=True))
        return worth

    def _no_damage(self, mode: str) -> Floats:
        return np.zeros((len(self.hazards[mode].positions), len(self.hazards[mode].positions[0].own)))

    def _settle(self, alone: Mapping[str, Counted]) -> tuple[dict[str, Counted], dict[str, Floats]]:
        """Counts with damage from others, followed from failure to failure until nothing changes."""
        counted, others = dict(alone), {m: self._no_damage(m) for m in alone}
        into: dict[str, list[tuple[str, float]]] = {}
        for source, target, probability in self.edges:
            into.setdefault(target, []).append((source, probability))
        changed = set(alone)
        for _ in range(MOST_ROUNDS):
            touched = [t for t, sources in into.items() if any(s in changed for s, _ in sources)]
            fresh = {t: self._damage(t, into[t], counted) for t in touched}
            changed = {t for t, new in fresh.items() if np.abs(new - others[t]).max() > SETTLED}
            if not changed:
                break
            for target in changed:
                others[target] = fresh[target]
            struck = {t: self.hazards[t] for t in sorted(changed)}
            counted.update(count_all(struck, self.shares, self.settings.counts.most, others))
        return counted, others

    def _damage(self, target: str, sources: Sequence[tuple[str, float]], counted: Mapping[str, Counted]) -> Floats:
        """Cumulative mean of damage per position (positions, legs).

        Renewed: -ln E(1 - p/n)^N, the chance that none of N failures struck this position; patched: p E N / n.
        """
        hazard, positions = self.hazards[target], len(self.hazards[target].positions)
        total = np.zeros_like(counted[target].mean)
        for source, probability in sources:
            if hazard.renews:
                total = total - np.log(generating(counted[source].tails, 1.0 - probability / positions))
            else:
                total = total + probability * counted[source].mean / positions
        return np.tile(total, (positions, 1))

    def _risk(self, mode: str, alone: Counted, counted: Counted, others: Floats, worth: float) -> Risk:
        hazard, groups = self.hazards[mode], self.library.failure_modes[mode].causes_in_common
        k = combined_worth([worth, *shared_worths(self.settings.evidence, groups)])
        expected, chance = self._ranges(mode, counted, others, k)
        return Risk(
            self.vehicle,
            mode,
            expected,
            chance,
            by_leg(counted.mean),
            by_leg(counted.tails),
            self.shares[mode],
            hazard,
            by_leg(others.sum(axis=0)),
            self._story(mode, alone, counted),
            hazard.evidence,
            k,
            others,
        )

    def _ranges(self, mode: str, counted: Counted, others: Floats, worth: float) -> tuple[Range, Range]:
        """Values integrated over the own factor; ends with the factor at 1 in 10 and 9 in 10 of all that act."""
        hazard, low_high = self.hazards[mode], []
        mean = 1.0 if np.isinf(hazard.shape_a) else hazard.shape_a / hazard.rate_b
        for theta in factor_range(worth):
            low_high.append(self._at(mode, others, theta * mean, theta))
        (low, low_once), (high, high_once) = low_high
        value, once = float(counted.mean[-1]), float(counted.tails[0, -1])
        return (
            Range(value, min(low, value), max(high, value)),
            Range(once, min(low_once, once), max(high_once, once)),
        )

    def _at(self, mode: str, others: Floats, own: float, rest: float) -> tuple[float, float]:
        """Expected failures and chance of one at the end of the trip, means multiplied by a fixed factor."""
        hazard = self.hazards[mode]
        q = np.array(self.shares[mode])
        worn = np.array([p.degraded[-1] for p in hazard.positions]) * own
        fine = np.array([p.sound[-1] for p in hazard.positions]) * own
        damage = others[:, -1] * rest
        spared = (q * np.exp(-worn) + (1.0 - q) * np.exp(-fine)) * np.exp(-damage)
        count = float((1.0 - spared).sum()) if hazard.renews else float((q * worn + (1.0 - q) * fine + damage).sum())
        return count, float(1.0 - np.prod(spared))

    def _story(self, mode: str, alone: Counted, counted: Counted) -> tuple[StoryStep, ...]:
        hazard, words = self.hazards[mode], self.settings.words
        prior = degraded_shares(hazard, None)
        unseen = alone if self.shares[mode] == prior else counts_of(hazard, prior, self._no_damage(mode), 1)
        total = sum(float(p.own[-1]) for p in hazard.positions)
        closing = (
            ("so far", total, ""),
            (words.once if hazard.renews else words.mixed, float(unseen.mean[-1]), "and how unsure the estimate is"),
            (
                words.findings,
                float(alone.mean[-1]),
                f"evidence: chance of wear {_shares_words(self.shares[mode], prior)}",
            ),
            (words.others, float(counted.mean[-1]), ", ".join(sorted(s for s, t, _ in self.edges if t == mode))),
        )
        return (*hazard.stages, *as_steps(closing)[1:]) if total > 0 else as_steps(closing[1:])


def _shares_words(now: Sequence[float], before: Sequence[float]) -> str:
    return f"{_share_words(max(before))} before the look, {_share_words(max(now))} after" if now else ""


def _share_words(share: float) -> str:
    """A chance in per cent, no finer than anybody knows it.

    >>> [_share_words(s) for s in (0.0, 3e-17, 0.0123, 0.456, 1.0)]
    ['0 %', 'under 0.1 %', '1.2 %', '46 %', '100 %']
    """
    return "under 0.1 %" if 0.0 < share < 0.001 else f"{100 * share:.0f} %" if share >= 0.1 else f"{100 * share:.2g} %"
