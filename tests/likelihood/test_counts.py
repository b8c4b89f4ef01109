"""Counts of mixtures by leg: sums, bounds, and special cases that have closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from fieldkit.likelihood.counts import count_positions, count_tail, generating

LEGS = np.array([0.3, 0.5, 1.0])


def positions(mean: float, n: int) -> np.ndarray:
    return np.tile(mean * LEGS, (n, 1))


def test_alike_positions_match_the_one_tail_function() -> None:
    flat = positions(0.2, 4)
    found = count_positions(flat, flat, np.zeros(4), 0 * flat, True, (2.0, 2.0), 6)
    for count in (1, 2, 3, 4):
        assert found.tails[count - 1] == pytest.approx(count_tail(count, 4 * 0.2 * LEGS, 4, 2.0, 2.0), rel=1e-9)
    assert found.tails.sum(axis=0) == pytest.approx(found.mean, rel=1e-9)


def test_patched_events_are_negative_binomial() -> None:
    flat = positions(0.1, 4)
    found = count_positions(flat, flat, np.zeros(4), 0 * flat, False, (3.0, 2.0), 3)
    assert found.tails[1] == pytest.approx(count_tail(2, 0.4 * LEGS, 0, 3.0, 2.0), rel=1e-9)
    assert found.mean == pytest.approx(1.5 * 0.4 * LEGS)  # E theta = a / b


def test_damage_from_others_is_not_scaled_by_the_factor() -> None:
    """P(spared) = E exp(-theta m) * exp(-d), for one position and for several."""
    own, extra = positions(0.4, 1), positions(0.3, 1)
    spared = (1 + 0.4 * LEGS / 2) ** -2 * np.exp(-0.3 * LEGS)
    assert count_positions(own, own, np.zeros(1), extra, True, (2.0, 2.0), 6).tails[0] == pytest.approx(1 - spared)
    patched = count_positions(own, own, np.zeros(1), extra, False, (2.0, 2.0), 6)
    assert patched.tails[0] == pytest.approx(1 - spared, rel=1e-9)
    assert patched.mean == pytest.approx(0.7 * LEGS, rel=1e-9)


def test_a_mixture_is_linear_in_the_chance_of_wear() -> None:
    """Averaging over an inspection's outcomes gives back the mixture before it, exactly, for one and several positions."""
    sound, worn = positions(0.05, 3), positions(0.9, 3)
    before, found, passed, found_share = 0.3, 0.75, 0.12, (0.3 - 0.12) / (0.75 - 0.12)

    def tails(q: list[float]) -> np.ndarray:
        return count_positions(sound, worn, np.array(q), 0 * sound, True, (2.0, 2.0), 3).tails

    mixed = found_share * tails([found, before, before]) + (1 - found_share) * tails([passed, before, before])
    assert mixed == pytest.approx(tails([before] * 3), abs=1e-12)


def test_position_order_does_not_matter() -> None:
    sound = np.array([[0.1, 0.2, 0.3], [0.4, 0.5, 0.6], [0.0, 0.1, 0.1]])
    share = np.array([0.2, 0.9, 0.0])
    one = count_positions(sound, 3 * sound, share, 0 * sound, True, (1.0, 1.0), 3).tails
    order = [2, 0, 1]
    other = count_positions(sound[order], 3 * sound[order], share[order], 0 * sound, True, (1.0, 1.0), 3).tails
    assert one == pytest.approx(other, abs=1e-12)


def test_generating_function_of_a_count() -> None:
    tails = np.array([[0.5], [0.2], [0.05]])
    exactly = [0.5, 0.3, 0.15, 0.05]
    assert generating(tails, 0.4)[0] == pytest.approx(sum(p * 0.4**n for n, p in enumerate(exactly)))
    assert generating(tails, 1.0)[0] == 1.0


def test_counts_beyond_the_positions_are_impossible() -> None:
    assert float(count_tail(3, 5.0, 2, 2.0, 2.0)) == 0.0
    assert float(count_tail(0, 5.0, 2, 2.0, 2.0)) == 1.0
