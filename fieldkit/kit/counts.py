"""How many failures a demand class brings by which leg, its members counted together.

Members are weak points of vehicles. Each has its own factor theta ~ Gamma(a, b), which is its alone and integrated at
once; the vehicle's, the trip's and the common causes' factors are shared. Given the shared factors members fail on their
own and are convolved; then the shared factors are integrated over a fixed set of nodes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaincinv, gammaln, roots_genlaguerre

from fieldkit.likelihood.result import ModeHazard, Risk
from fieldkit.likelihood.settings import Evidence

Floats = NDArray[np.float64]

#: Nodes over all shared factors at once, and over one member's own factor.
SHARED_NODES, OWN_NODES, SCALE_NODES = 256, 16, 9
#: Evidence worth more than this is as good as sure.
SURE = 400.0


@dataclass(frozen=True)
class Member:
    """One weak point of one vehicle.

    Attributes
    ----------
    sound, worn, damage : array, shape (positions, legs)
        Cumulative means of a sound and of a degraded position, and of damage from others, by the end of each leg.
    share : array, shape (positions,)
        Chance that a position is degraded.
    """

    vehicle: str
    mode: str
    groups: tuple[str, ...]
    sound: Floats
    worn: Floats
    damage: Floats
    share: Floats
    renews: bool
    shape_a: float
    rate_b: float


def member_of(risk: Risk, groups: Sequence[str]) -> Member:
    """A risk as a member of a class."""
    others = np.zeros((len(risk.hazard.positions), len(risk.by_leg))) if risk.others is None else risk.others
    return changed_member(risk.hazard, risk.degraded, others, groups)


def changed_member(hazard: ModeHazard, degraded: Sequence[float], others: Floats, groups: Sequence[str]) -> Member:
    """A hazard with its chances of being degraded and damage from others (positions, legs) as a member."""
    return Member(
        hazard.vehicle,
        hazard.mode,
        tuple(groups),
        np.array([p.sound for p in hazard.positions]),
        np.array([p.degraded for p in hazard.positions]),
        others,
        np.array(degraded, float),
        hazard.renews,
        hazard.shape_a,
        hazard.rate_b,
    )


@dataclass(frozen=True)
class Shared:
    """Nodes of the shared factors: name -> (nodes,), each of mean 1; all nodes weigh the same. ``memory``: members counted before."""

    factors: dict[str, Floats]
    memory: dict[object, Pooled] = field(default_factory=dict, repr=False, compare=False)

    def of(self, member: Member) -> Floats:
        """The product of the factors that act on a member, (nodes,), of mean 1."""
        names = [f"vehicle {member.vehicle}", "trip", *(f"cause {g}" for g in member.groups)]
        product = np.ones(SHARED_NODES)
        for name in names:
            product = product * self.factors[name]
        return np.asarray(product / product.mean())


def shared_worth(evidence: Evidence, vehicles: Sequence[str], groups: Sequence[str]) -> dict[str, float]:
    """Failures' worth of every shared factor of a trip, by name."""
    worths = {f"vehicle {v}": evidence.vehicle for v in sorted(vehicles)}
    worths["trip"] = evidence.trip
    worths.update({f"cause {g}": evidence.of_group(g) for g in sorted(groups)})
    return worths


def shared_nodes(worths: dict[str, float]) -> Shared:
    """Fixed nodes over all shared factors: a rank-1 lattice through each factor's Gamma quantiles, means put right.

    Examples
    --------
    >>> nodes = shared_nodes({"trip": 20.0, "vehicle a": 8.0})
    >>> round(float(nodes.factors["trip"].mean()), 12), round(float(nodes.factors["trip"].var()), 2)
    (1.0, 0.05)
    """
    points = np.arange(SHARED_NODES) + 0.5
    ratio = _harmonious(len(worths))
    factors = {}
    for d, (name, worth) in enumerate(worths.items(), 1):
        if worth >= SURE:
            factors[name] = np.ones(SHARED_NODES)
            continue
        quantile = np.mod(0.5 + points / ratio**d, 1.0)
        values = gammaincinv(worth, np.clip(quantile, 1e-6, 1 - 1e-6)) / worth
        factors[name] = values / values.mean()
    return Shared(factors)


def _harmonious(dimensions: int) -> float:
    """The root of x^(d+1) = x + 1: its powers spread a lattice evenly over d dimensions."""
    x = 1.5
    for _ in range(60):
        x = (1.0 + x) ** (1.0 / (dimensions + 1))
    return x


@lru_cache(maxsize=256)
def own_nodes(a: float, b: float) -> tuple[Floats, Floats]:
    """Nodes and weights of theta ~ Gamma(a, b) by Gauss and Laguerre; one node where the figure is sure.

    Examples
    --------
    >>> theta, weight = own_nodes(2.0, 2.0)
    >>> round(float(weight @ (1 + theta / 2) ** -1), 4), round(float(weight @ np.exp(-theta)), 6)   # (1 + 1/2)^-2
    (0.6986, 0.444444)
    """
    if a >= SURE:
        return np.ones(1) * (1.0 if np.isinf(a) else a / b), np.ones(1)
    if a > 100.0:
        spread = np.sqrt(3.0 / a)
        return (a / b) * np.array([1 - spread, 1.0, 1 + spread]), np.array([1, 4, 1]) / 6.0
    nodes, weights = roots_genlaguerre(OWN_NODES, a - 1.0)
    return nodes / b, weights / weights.sum()


def counts_at(member: Member, factor: Floats, damage: Floats, most: int) -> tuple[Floats, Floats]:
    """Counts of one member where its factor is known.

    Parameters
    ----------
    factor, damage : array, shape (nodes,)
        What multiplies its own means, and the means of damage from others.
    most : int
        Counts kept apart; the last one holds "this many or more".

    Returns
    -------
    chance : array, shape (most + 1, nodes, legs)
        P(N = n by the end of leg l).
    mean : array, shape (nodes, legs)
    """
    chance = np.zeros((most + 1, len(factor), member.sound.shape[1]))
    chance[0] = 1.0
    mean = np.zeros(chance.shape[1:])
    for i, share in enumerate(member.share.tolist()):
        struck = damage[:, None] * member.damage[i]
        good = factor[:, None] * member.sound[i]
        bad = factor[:, None] * member.worn[i] if share > 0 else good
        if member.renews:
            failed = 1.0 - np.exp(-struck) * ((1.0 - share) * np.exp(-good) + share * np.exp(-bad))
            mean += failed
            _add_once(chance, failed)
        else:
            mean += struck + (1.0 - share) * good + share * bad
            parts = [(1.0 - share, good + struck), (share, bad + struck)]
            chance = _convolved(chance, sum(q * _poisson(m, most) for q, m in parts if q > 0))
    return chance, mean


def _add_once(chance: Floats, failed: Floats) -> None:
    """One more position that fails at most once, in place."""
    for n in range(len(chance) - 1, 0, -1):
        kept = chance[n] if n == len(chance) - 1 else chance[n] * (1.0 - failed)
        chance[n] = kept + chance[n - 1] * failed
    chance[0] *= 1.0 - failed


def _poisson(mean: Floats, most: int) -> Floats:
    n = np.arange(most).reshape(-1, *([1] * mean.ndim))
    with np.errstate(divide="ignore", invalid="ignore"):
        body = np.exp(np.where(n > 0, n * np.log(mean), 0.0) - mean - gammaln(n + 1.0))
    return np.concatenate([body, np.clip(1.0 - body.sum(axis=0), 0.0, 1.0)[None]])


def _convolved(one: Floats, two: Floats) -> Floats:
    most = len(one) - 1
    result = np.zeros(np.broadcast_shapes(one.shape, two.shape))
    for n in range(most + 1):
        for m in range(most + 1):
            result[min(n + m, most)] += one[n] * two[m]
    return result


@dataclass(frozen=True)
class Counted:
    """A class's failures.

    Attributes
    ----------
    weights : array, shape (counts, legs)
        P(the k-th failure of the class falls on leg l), k = 1 .. counts.
    means : array, shape (members, legs)
        Failures of each member expected on each leg.
    """

    weights: Floats
    means: Floats


@dataclass(frozen=True)
class Pooled:
    """One member at every shared node: ``chance`` (counts + 1, nodes, legs), ``mean`` (nodes, legs), both cumulative over legs."""

    chance: Floats
    mean: Floats


def count_class(members: Sequence[Member], shared: Shared, most: int) -> Counted:
    """Failures of a class, its members pooled, all factors integrated.

    Parameters
    ----------
    most : int
        Counts kept apart; parts that fail once allow fewer.

    Examples
    --------
    >>> one = np.array([[0.5]])
    >>> member = Member("a", "x", (), one, one, 0 * one, np.zeros(1), True, 2.0, 2.0)
    >>> sure = Shared({"vehicle a": np.ones(SHARED_NODES), "trip": np.ones(SHARED_NODES)})
    >>> count_class([member], sure, 3).weights.round(6).tolist()        # 1 - (1 + 0.5/2)^-2
    [[0.36]]
    """
    most = possible_counts(members, most)
    return pool([over_shared(m, shared, most) for m in members])


def pool(members: Sequence[Pooled]) -> Counted:
    """Members convolved at each shared node, then averaged over the nodes."""
    total = members[0].chance
    for other in members[1:]:
        total = _convolved(total, other.chance)
    means = np.diff(np.array([m.mean.mean(axis=0) for m in members]), axis=1, prepend=0.0)
    return Counted(_by_count_and_leg(total.mean(axis=1)), means)


def expected_roughly(member: Member) -> Floats:
    """Expected failures on each leg with only the member's own factor integrated, shape (legs,); for ranking."""
    total = np.zeros(member.sound.shape[1])
    for i, share in enumerate(member.share.tolist()):
        for q, mean in ((1.0 - share, member.sound[i]), (share, member.worn[i])):
            if not member.renews:
                total += q * (mean + member.damage[i])
            elif member.shape_a >= SURE:
                total += q * -np.expm1(-mean - member.damage[i])
            else:
                spared = -member.shape_a * np.log1p(mean / member.rate_b) - member.damage[i]
                total += q * -np.expm1(spared)
    return np.diff(total, prepend=0.0)


def count_class_at(members: Sequence[Member], factors: Sequence[Floats], most: int) -> list[Counted]:
    """Failures of a class where every member's factor is known: one answer per draw.

    Parameters
    ----------
    factors : per member an array of shape (draws,)
        Everything that multiplies its means.
    """
    most = possible_counts(members, most)
    total: Floats | None = None
    means = []
    for member, factor in zip(members, factors, strict=True):
        chance, mean = counts_at(member, factor, factor, most)
        means.append(np.diff(mean, axis=1, prepend=0.0))
        total = chance if total is None else _convolved(total, chance)
    assert total is not None
    weights, mean = _by_count_and_leg(total), np.array(means)
    return [Counted(weights[:, d], mean[:, d]) for d in range(total.shape[1])]


def possible_counts(members: Sequence[Member], most: int) -> int:
    """Counts worth keeping apart: no more than parts that fail once allow, no more than ``most``."""
    return min(most, sum(len(m.share) if m.renews else most for m in members))


def over_shared(member: Member, shared: Shared, most: int) -> Pooled:
    """Counts at every shared node, the own factor integrated: worked out on a few scales and interpolated between them."""
    arrays = (member.sound, member.worn, member.damage, member.share)
    key = (member.vehicle, member.mode, most, member.shape_a, member.rate_b, *(a.tobytes() for a in arrays))
    if key not in shared.memory:
        shared.memory[key] = _over_shared(member, shared, most)
    return shared.memory[key]


def _over_shared(member: Member, shared: Shared, most: int) -> Pooled:
    factor = shared.of(member)
    low, high = float(factor.min()), float(factor.max())
    scales, interpolate = (factor[:1], np.ones((len(factor), 1))) if high - low < 1e-12 else _between(factor, low, high)
    theta, weight = own_nodes(member.shape_a, member.rate_b)
    nodes = (scales[:, None] * theta).ravel()
    chance, mean = counts_at(member, nodes, np.repeat(scales, len(theta)), most)
    shape = (most + 1, len(scales), len(theta), -1)
    chance = np.einsum("nstl,t->nsl", chance.reshape(shape), weight)
    mean = np.einsum("stl,t->sl", mean.reshape(shape[1:]), weight)
    return Pooled(interpolate @ chance, interpolate @ mean)


def _between(factor: Floats, low: float, high: float) -> tuple[Floats, Floats]:
    """Chebyshev nodes in log(factor) and the matrix that interpolates from them (barycentric form)."""
    k = np.arange(SCALE_NODES)
    angle = np.pi * (k + 0.5) / SCALE_NODES
    x = np.cos(angle)
    at = (2.0 * np.log(factor) - np.log(high * low)) / np.log(high / low)
    signs = (-1.0) ** k * np.sin(angle)
    gap = at[:, None] - x
    hit = np.abs(gap) < 1e-13
    terms = signs / np.where(hit, 1.0, gap)
    matrix = terms / terms.sum(axis=1, keepdims=True)
    matrix[hit.any(axis=1)] = hit[hit.any(axis=1)]
    return np.exp(0.5 * (x * np.log(high / low) + np.log(high * low))), matrix


def _by_count_and_leg(chance: Floats) -> Floats:
    """(counts + 1, ..., legs) of P(N = n by leg l) to P(the k-th falls on leg l)."""
    tails = np.flip(np.cumsum(np.flip(chance, axis=0), axis=0), axis=0)[1:]
    return np.clip(np.diff(tails, axis=-1, prepend=0.0), 0.0, None)
