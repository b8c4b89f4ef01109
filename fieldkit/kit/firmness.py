"""How firm the choice is: the kit chosen again as if the estimates had come out differently, many times."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fieldkit.kit.counts import SURE, Counted, Member, count_class_at, shared_worth
from fieldkit.kit.demand import MOST_COUNTS, benefits
from fieldkit.kit.problem import Problem
from fieldkit.kit.program import Ints
from fieldkit.kit.search import Search
from fieldkit.likelihood.settings import Evidence

Floats = NDArray[np.float64]
Key = tuple[str, str]

#: The solver's work on one redraw's kit; it is good, not proven: an item of the margin may be in or out.
LOOK = 0.02


def redrawn_kits(
    problem: Problem, rows: Search, members: Mapping[Key, Member], evidence: Evidence, redraws: int, seed: int
) -> list[Ints]:
    """Packs (items,) of the kit for each redraw of the estimates.

    A redraw takes every factor once: each weak point's own, each vehicle's, the trip's and the common causes'. Chances of
    wear, hours and the repairs' own chances stay, and so do the repairs that the problem tells apart.

    Parameters
    ----------
    problem : Problem
        Its program is solved again with what every repair saves then.
    rows : Search
        Of that program: each redraw takes over what is built there.
    members : (vehicle, weak point) -> what its counts are worked out from.
    redraws : int
    seed : int
        Same seed, same redraws.
    """
    if redraws < 1:
        return []
    factors = redrawn_factors(members, evidence, redraws, seed)
    counted = [
        count_class_at([members[k] for k in d.members], [factors[k] for k in d.members], MOST_COUNTS)
        for d in problem.demands
    ]
    return [_kit(problem, rows, [c[n] for c in counted]) for n in range(redraws)]


def redrawn_factors(members: Mapping[Key, Member], evidence: Evidence, redraws: int, seed: int) -> dict[Key, Floats]:
    """What multiplies each weak point's means in each redraw, (redraws,)."""
    draw = np.random.default_rng([seed, 30])
    groups = sorted({g for m in members.values() for g in m.groups})
    worths = shared_worth(evidence, sorted({m.vehicle for m in members.values()}), groups)
    shared = {n: np.ones(redraws) if k >= SURE else draw.gamma(k, 1.0 / k, redraws) for n, k in worths.items()}
    found = {}
    for key in sorted(members):
        member = members[key]
        a, b = member.shape_a, member.rate_b
        own = np.ones(redraws) if np.isinf(a) else draw.gamma(a, 1.0 / b, redraws)
        found[key] = own * shared[f"vehicle {member.vehicle}"] * shared["trip"]
        for group in member.groups:
            found[key] = found[key] * shared[f"cause {group}"]
    return found


def _kit(problem: Problem, rows: Search, counted: Sequence[Counted]) -> Ints:
    saved = [benefits(demand, count) for demand, count in zip(problem.demands, counted, strict=True)]
    gained = np.rint([1000.0 * saved[c][k - 1, n] for c, k, n in problem.columns]).astype(np.int64)
    redrawn = Search(replace(problem.program, benefit=gained), rounds=0, like=rows)
    near = redrawn.near(effort=LOOK)
    return problem.program.least if near is None else redrawn.packs(near)


def share_in(kits: Sequence[Ints], packs: Ints, needed: Ints) -> Ints:
    """In how many of the kits each chosen item is in beyond what must be carried, (items,)."""
    extra = np.array(kits) > needed
    return np.asarray(np.where(packs > needed, extra.sum(axis=0), 0))
