"""Analytic means against a direct simulation: ten generated vehicles, every draw made as the model says it happens."""

from __future__ import annotations

import numpy as np
import pytest
from small_case import exposure, loads, mode, trip, vehicle

from fieldkit.likelihood import hazards, risks
from fieldkit.likelihood.result import Risks
from fieldkit.specs.trip import Trip

RUNS = 40_000


def generated(seed: int) -> tuple[Trip, dict[tuple[str, str], list[float]]]:
    """A vehicle with eight weak points of mixed kinds, damage between them, and some findings."""
    rng = np.random.default_rng(seed)
    modes = {}
    for i in range(8):
        shape = float(rng.choice([1.0, 1.7, 3.0]))
        common = {"failures_worth": float(rng.choice([1.0, 2.0, 6.0])), "severity": "nuisance"}
        if i % 4 == 3:
            modes[f"m{i}"] = mode(
                clock="event", rates={"rough": float(rng.uniform(0.1, 1.0))}, repair="patches", **common
            )
            continue
        warns = {"sudden": 0.4, "warning": f"{rng.uniform(4000, 15000):.0f} km"} if i % 2 else {}
        modes[f"m{i}"] = mode(
            life=f"{rng.uniform(60_000, 250_000):.0f} km",
            shape=shape,
            positions=int(rng.choice([1, 2, 4])),
            **warns,
            **common,
        )
    targets = {0: 1, 1: 2, 3: 4, 5: 6, 6: 7}
    for i, j in targets.items():
        damage = [{"mode": f"m{j}", "probability": float(rng.uniform(0.1, 0.6))}]
        modes[f"m{i}"] = modes[f"m{i}"].model_copy(update={"damages": mode(damages=damage).damages})
    age = {"odometer": f"{rng.uniform(40_000, 300_000):.0f} km", "years": 15, "usual": {"sealed": 1.0}}
    case = trip(modes, [vehicle(age={**age, "history_known": bool(seed % 2)})])
    beliefs = {("wagon", "m1"): [float(rng.uniform(0.05, 0.9))] * modes["m1"].positions}
    return case, beliefs


def simulate(case: Trip, found: Risks, rng: np.random.Generator) -> dict[str, np.ndarray]:
    """Failures of each weak point by run, shape (runs,): own failures leg by leg, then damage until nothing more breaks."""
    keys = [m for _, m in found.by_key]
    broken = {m: np.zeros((RUNS, len(found.by_key[("wagon", m)].hazard.positions)), bool) for m in keys}
    count = {m: np.zeros(RUNS) for m in keys}
    factor, worn = {}, {}
    for m in keys:
        risk = found.by_key[("wagon", m)]
        factor[m] = rng.gamma(risk.hazard.shape_a, 1 / risk.hazard.rate_b, RUNS)
        worn[m] = rng.random((RUNS, len(risk.degraded))) < np.array(risk.degraded)
    for leg in range(found.legs):
        fresh = {m: np.zeros(RUNS) for m in keys}
        for m in keys:
            hazard = found.by_key[("wagon", m)].hazard
            for i, p in enumerate(hazard.positions):
                ends = np.where(worn[m][:, i, None], p.degraded, p.sound)
                mean = factor[m] * (ends[:, leg] - (ends[:, leg - 1] if leg else 0.0))
                if hazard.renews:
                    fails = ~broken[m][:, i] & (rng.random(RUNS) < -np.expm1(-mean))
                    broken[m][:, i] |= fails
                    fresh[m] += fails
                else:
                    fresh[m] += rng.poisson(mean)
        for m in keys:
            count[m] += fresh[m]
        while any(f.any() for f in fresh.values()):
            fresh = _damage(case, found, keys, fresh, broken, count, rng)
    return count


def _damage(case, found, keys, fresh, broken, count, rng):  # type: ignore[no-untyped-def]
    following = {m: np.zeros(RUNS) for m in keys}
    for _, source, target, probability in found.damage_edges:
        hits = rng.binomial(fresh[source].astype(int), probability)
        hazard = found.by_key[("wagon", target)].hazard
        if not hazard.renews:
            following[target] += hits
            continue
        for _ in range(int(hits.max())):
            struck = hits > 0
            hits = hits - struck
            where = rng.integers(0, len(hazard.positions), RUNS)
            fails = struck & ~broken[target][np.arange(RUNS), where]
            broken[target][np.arange(RUNS)[fails], where[fails]] = True
            following[target] += fails
    for m in keys:
        count[m] += following[m]
    return following


@pytest.mark.parametrize("seed", range(10))
def test_analytic_means_lie_within_four_standard_errors(seed: int) -> None:
    """Expected failures of every weak point of a generated vehicle.

    The chance of at least one is held to 4 standard errors too, plus 4 % where damage strikes one of several positions: the
    analytic form lets it strike each on its own.
    """
    case, beliefs = generated(seed)
    found = risks(case, hazards(case, exposure(), loads()), beliefs)
    counts = simulate(case, found, np.random.default_rng(1000 + seed))
    for (_, m), risk in found.by_key.items():
        error = max(counts[m].std() / np.sqrt(RUNS), 1e-5)
        assert abs(counts[m].mean() - risk.expected.value) < 4 * error, m
        once = (counts[m] > 0).mean()
        error = max(np.sqrt(once * (1 - once) / RUNS), 1e-5)
        struck = any(target == m for _, _, target, _ in found.damage_edges) and len(risk.degraded) > 1
        assert abs(once - risk.chance.value) < 4 * error + (0.04 * once if struck else 0.0), m
