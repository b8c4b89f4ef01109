"""Speed of the chances, by hand: ``python tests/benchmarks/likelihood.py [vehicles]``. Writes a table; asserts nothing.

1. positions of every weak point of 1,000 vehicles over 12 legs as arrays, against a plain loop over the same numbers
   (the loop is run on a sample and scaled up; both give the same figures, and the largest difference is printed);
2. ``hazards`` and ``risks`` whole, per vehicle, which also build results and stories.
"""

from __future__ import annotations

import math
import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent))
from small_case import exposure, leg, loads, trip, vehicle

from fieldkit.likelihood import hazards, risks
from fieldkit.likelihood.counts import count_positions
from fieldkit.likelihood.delay import means
from fieldkit.likelihood.result import Wear
from fieldkit.specs.read_library import load_library

LEGS = 12


def shipped_wears(vehicles: int) -> tuple[list[Wear], int]:
    """Positions of every wearing weak point of the shipped library, on vehicles of mixed ages; and how many weak points."""
    rng = np.random.default_rng(1)
    library = load_library()
    modes = [m for m in library.failure_modes.values() if m.clock == "km"]
    ends = np.cumsum(np.full(LEGS, 80.0))
    wears = []
    for age in rng.uniform(10_000, 300_000, vehicles):
        for mode in modes:
            warning = mode.warning_km if mode.sudden < 1 else None
            wear = Wear(
                mode.life_km or 1.0, mode.shape, warning, 1 - mode.sudden, "known", float(age), 0.0, 4 * ends, ends
            )
            wears += [wear] * mode.positions
    return wears, len(modes)


def by_arrays(wears: list[Wear]) -> tuple[np.ndarray, np.ndarray]:
    """Means, and the chance of each position's failure by leg at p0, k = 2."""
    found = means(wears)
    counted = count_positions(
        found.sound[:, None],
        found.degraded[:, None],
        found.prior[:, None],
        0 * found.sound[:, None],
        True,
        (2.0, 2.0),
        1,
    )
    return found.own, counted.mean


def by_loop(wears: list[Wear]) -> list[list[float]]:
    """The same chances with plain numbers, position by position and leg by leg."""
    out = []
    for w in wears:
        slope = w.shape / w.life * (w.age / w.life) ** (w.shape - 1)
        p0 = min(w.warned * (w.warning or 0.0) * slope, 0.9)
        row, worst, best = [], 0.0, 0.0
        for duty in w.duty.tolist():
            own = ((w.age + duty) / w.life) ** w.shape - (w.age / w.life) ** w.shape
            chance = -math.expm1(-own)
            bad = good = chance
            if w.warning and w.warned > 0:
                bad = max(-math.expm1(-duty / w.warning), chance)
                bad = min(bad, chance / p0) if p0 > 0 else bad
                good = (chance - p0 * bad) / (1 - p0)
            worst = max(worst, min(-math.log1p(-min(bad, 1 - 1e-16)), 50.0))
            best = max(best, min(-math.log1p(-max(good, 0.0)), 50.0))
            row.append(p0 * (1 - (1 + worst / 2) ** -2) + (1 - p0) * (1 - (1 + best / 2) ** -2))
        out.append(row)
    return out


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    wears, modes = shipped_wears(count)
    start = time.perf_counter()
    _, chance = by_arrays(wears)
    arrays = time.perf_counter() - start
    sample = wears[:: max(1, len(wears) // 5000)]
    start = time.perf_counter()
    plain = by_loop(sample)
    loop = (time.perf_counter() - start) * len(wears) / len(sample)
    off = np.abs(np.array(plain) - chance[:: max(1, len(wears) // 5000)]).max()
    print(
        f"| {count} vehicles x {LEGS} legs x {modes} weak points ({len(wears)} positions) | s | ratio |\n|---|---|---|"
    )
    print(f"| arrays | {arrays:.2f} | 1 |\n| plain loop (from a sample) | {loop:.2f} | {loop / arrays:.1f} |")
    print(f"\nLargest difference: {off:.1e}\n")

    library = load_library()
    vehicles = [replace_build(vehicle(f"v{i}"), library) for i in range(min(count, 100))]
    case = trip(library, vehicles)
    road = exposure([leg(i, 80.0, "sealed", 80.0 * i) for i in range(LEGS)])
    weighed = loads(*[v.id for v in vehicles])
    start = time.perf_counter()
    found = hazards(case, road, weighed)
    middle = time.perf_counter()
    known = risks(case, found)
    end = time.perf_counter()
    n = len(vehicles)
    print(f"| whole functions, {n} vehicles, {len(known.by_key) // n} weak points each | ms per vehicle |\n|---|---|")
    print(f"| hazards | {1000 * (middle - start) / n:.1f} |\n| risks | {1000 * (end - middle) / n:.1f} |")


def replace_build(one, library):  # type: ignore[no-untyped-def]
    return replace(one, archetype=library.archetypes["live-axle-wagon-mechanical-diesel"])


if __name__ == "__main__":
    main()
