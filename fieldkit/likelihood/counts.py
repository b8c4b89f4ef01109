"""How often: the chance of at least so many failures of one weak point, for every kind of repair and evidence.

The factor theta ~ Gamma(a, b) (shape a, rate b) says how far the estimate may be off; it multiplies every mean of a
weak point on a vehicle. ``a = b = k`` is evidence worth k failures; infinite is a sure figure.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import betainc, gammainc, gammaln

Floats = NDArray[np.float64]


@lru_cache(maxsize=512)
def factor_nodes(a: float, b: float) -> tuple[Floats, Floats]:
    """Nodes and weights that integrate over theta ~ Gamma(a, b): sum of weight * f(node) is E f(theta).

    Trapezoid rule in log(theta), which converges exponentially for the analytic functions used here (chances and
    means, bounded or growing no faster than a power): relative error below 1e-10. Weights are positive and add
    to 1, so chances stay in [0, 1].

    Parameters
    ----------
    a, b : float
        Shape and rate, 0.4 or more; infinite ``a`` means theta = 1 (``b`` infinite too).

    Examples
    --------
    >>> theta, weight = factor_nodes(2.0, 2.0)
    >>> round(float(weight @ theta), 9)
    1.0
    """
    if np.isinf(a):
        return np.ones(1), np.ones(1)
    spread = 1.0 / np.sqrt(a)
    step = min(0.2, 0.45 * spread)
    low = np.log(a) - max(9.0 * spread, (26.0 + max(0.0, float(gammaln(a)) - a * np.log(a) + a)) / a + 1.0)
    high = np.log(a + 9.0 * np.sqrt(a) + 45.0)
    t = np.arange(low, high + step, step)
    weight = np.exp(a * t - np.exp(t) - gammaln(a))
    keep = weight > weight.max() * 1e-14
    return np.exp(t[keep]) / b, weight[keep] / weight[keep].sum()


def count_tail(count: int, mu: ArrayLike, positions: int, a: float, b: float) -> Floats:
    """P(N >= count): the one tail function of the model.

    Parameters
    ----------
    count : int
        0 or more.
    mu : array
        Mean of the weak point over its positions, at theta = 1; any shape, 0 or more.
    positions : int
        n >= 1: renewed parts, each of the n positions fails at most once. 0: patched (punctures, wiring), any count.
    a, b : float
        theta ~ Gamma(a, b), rate b; ``inf, inf`` for a sure mean.

    Returns
    -------
    array, shape of mu
        Patched: the negative binomial tail (Poisson when sure). Renewed: the binomial tail with chance
        1 - exp(-theta mu / n), integrated over theta.

    Examples
    --------
    >>> float(count_tail(1, 0.5, 1, 2.0, 2.0))                # 1 - (1 + mu/k)^-k
    0.36
    >>> [round(float(count_tail(c, 1.0, 0, np.inf, np.inf)), 4) for c in (1, 2, 3)]
    [0.6321, 0.2642, 0.0803]
    """
    mu = np.asarray(mu, float)
    if count <= 0:
        return np.ones_like(mu)
    if positions == 0:
        return _patched_tail(count, mu, a, b)
    if count > positions:
        return np.zeros_like(mu)
    if positions == 1:
        return -np.expm1(_log_spared(mu, a, b))
    theta, weight = factor_nodes(a, b)
    failed = -np.expm1(-mu[..., None] * theta / positions)
    return np.asarray(betainc(count, positions - count + 1.0, failed) @ weight)


def _patched_tail(count: int, mu: Floats, a: float, b: float) -> Floats:
    if np.isinf(a):
        return np.asarray(gammainc(count, mu))
    return np.asarray(betainc(count, a, mu / (b + mu)))


def _log_spared(mu: Floats, a: float, b: float) -> Floats:
    """log E exp(-theta mu)."""
    return -mu if np.isinf(a) else -a * np.log1p(mu / b)


@dataclass(frozen=True)
class Counted:
    """Counts of one weak point over the legs.

    Attributes
    ----------
    tails : array, shape (..., counts, legs)
        P(at least k failures by the end of leg l), k = 1 .. counts.
    mean : array, shape (..., legs)
        Expected failures by the end of each leg.
    """

    tails: Floats
    mean: Floats


def count_positions(
    sound: Floats,
    degraded: Floats,
    share: Floats,
    others: Floats,
    renews: bool,
    evidence: tuple[float, float],
    most: int,
) -> Counted:
    """Counts where every position is a mixture of sound and degraded, with damage from others added to both.

    At fixed theta each position is on its own: its mean is theta * degraded with chance ``share``, else theta * sound;
    ``others`` is added unscaled. Positions are convolved at fixed theta, then theta is integrated.

    Parameters
    ----------
    sound, degraded : array, shape (..., positions, legs)
        Cumulative means by the end of each leg.
    share : array, shape (..., positions)
        Chance that a position is degraded.
    others : array, shape (..., positions, legs)
        Cumulative mean of damage from other failures.
    renews : bool
        Whether a position fails at most once.
    evidence : (a, b)
        theta ~ Gamma(a, b).
    most : int
        Counts kept apart (never more than the positions of a renewed part).

    Examples
    --------
    >>> one = np.array([[0.5]])
    >>> found = count_positions(one, one, np.zeros(1), 0 * one, True, (2.0, 2.0), 6)
    >>> found.tails, found.mean
    (array([[0.36]]), array([0.36]))
    """
    positions = sound.shape[-2]
    if positions == 1 and renews:
        return _single(sound, degraded, share, others, evidence)
    alike = sound is degraded or not share.any() or np.array_equal(sound, degraded)
    if alike and not renews and not others.any():
        return _poisson(sound, evidence, most)
    if renews:
        return _renewed(sound, degraded, share, others, evidence, min(most, positions))
    return _patched(sound, degraded, share, others, evidence, most)


def _single(sound: Floats, degraded: Floats, share: Floats, others: Floats, evidence: tuple[float, float]) -> Counted:
    """One renewed position has a closed form: P(none) = exp(-others) * (q E exp(-theta bad) + (1 - q) E exp(-theta good))."""
    failed = -np.expm1(_log_spared(sound, *evidence))
    if share.any() and sound is not degraded:
        q = share[..., None]
        failed = q * -np.expm1(_log_spared(degraded, *evidence)) + (1.0 - q) * failed
    tail = failed - (1.0 - failed) * np.expm1(-others)
    return Counted(tail, tail[..., 0, :])


def _poisson(mean: Floats, evidence: tuple[float, float], most: int) -> Counted:
    total = mean.sum(axis=-2)
    tails = np.stack([_patched_tail(k, total, *evidence) for k in range(1, most + 1)], axis=-2)
    return Counted(tails, total * _factor_mean(*evidence))


def _factor_mean(a: float, b: float) -> float:
    return 1.0 if np.isinf(a) else a / b


def _renewed(
    sound: Floats, degraded: Floats, share: Floats, others: Floats, evidence: tuple[float, float], counts: int
) -> Counted:
    theta, weight = factor_nodes(*evidence)
    positions, legs = sound.shape[-2:]
    exactly = np.zeros((*sound.shape[:-2], counts + 1, legs, len(theta)))
    exactly[..., 0, :, :] = 1.0
    mean = np.zeros((*sound.shape[:-2], legs))
    for i in range(positions):
        failed = _position_failed(sound, degraded, share, others, i, theta)
        mean += failed @ weight
        moved = exactly[..., :-1, :, :] * failed[..., None, :, :]
        kept = exactly * (1.0 - failed[..., None, :, :])
        kept[..., -1, :, :] = exactly[..., -1, :, :]  # the last row holds "at least"
        kept[..., 1:, :, :] += moved
        exactly = kept
    integrated = exactly @ weight
    return Counted(_at_least(integrated[..., 1:, :]), mean)


def _position_failed(sound: Floats, degraded: Floats, share: Floats, others: Floats, i: int, theta: Floats) -> Floats:
    q = share[..., i, None, None]
    spared = q * np.exp(-degraded[..., i, :, None] * theta) + (1.0 - q) * np.exp(-sound[..., i, :, None] * theta)
    return np.asarray(1.0 - np.exp(-others[..., i, :, None]) * spared)


def _patched(
    sound: Floats, degraded: Floats, share: Floats, others: Floats, evidence: tuple[float, float], counts: int
) -> Counted:
    theta, weight = factor_nodes(*evidence)
    positions, legs = sound.shape[-2:]
    exactly = np.zeros((*sound.shape[:-2], counts, legs, len(theta)))
    exactly[..., 0, :, :] = 1.0
    mean = np.zeros((*sound.shape[:-2], legs))
    for i in range(positions):
        q = share[..., i, None, None]
        bad = degraded[..., i, :, None] * theta + others[..., i, :, None]
        good = sound[..., i, :, None] * theta + others[..., i, :, None]
        mean += (q * bad + (1.0 - q) * good) @ weight
        odds = [q * _poisson_pmf(bad, c) + (1.0 - q) * _poisson_pmf(good, c) for c in range(counts)]
        exactly = np.stack(
            [sum(exactly[..., c - d, :, :] * odds[d] for d in range(c + 1)) for c in range(counts)], axis=-3
        )
    below = np.cumsum(exactly @ weight, axis=-2)
    return Counted(np.clip(1.0 - below, 0.0, 1.0), mean)


def _poisson_pmf(mean: Floats, count: int) -> Floats:
    return np.asarray(mean**count * np.exp(-mean - gammaln(count + 1.0)))


def _at_least(exactly: Floats) -> Floats:
    return np.flip(np.cumsum(np.flip(exactly, axis=-2), axis=-2), axis=-2)


def generating(tails: Floats, z: float) -> Floats:
    """E z^N by leg from the tails of N: 1 - (1 - z) * sum_k z^(k-1) P(N >= k).

    Parameters
    ----------
    tails : array, shape (counts, legs)
    z : float
        0 to 1.

    Examples
    --------
    >>> float(generating(np.array([[0.5]]), 0.2)[0])      # N is 0 or 1, each 1 in 2
    0.6
    """
    powers = z ** np.arange(tails.shape[-2])
    return np.asarray(1.0 - (1.0 - z) * np.einsum("k,...kl->...l", powers, tails))
