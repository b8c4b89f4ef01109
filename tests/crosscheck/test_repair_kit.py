"""Cross-checks of the kit program: enumerated repair-kit cases, Poisson identities, brute force, a second solver.

The rows K1 to K4 and the expected-backorder identities are our own derivation by full enumeration (the literature's
formulation, Smith, Chambers and Shlifer 1980, from memory): cross-checks, not published values.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from itertools import combinations, product
from math import exp, log
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array, vstack
from scipy.stats import poisson

from fieldkit.kit import Column, Program, Solution, make_program, solve
from fieldkit.kit.counts import SHARED_NODES, Member, Shared, count_class

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))
from kit_instances import kit_instance, small_program


# ---------------------------------------------------------------------- enumerated repair-kit cases
def _job_cost(kept: tuple[int, ...], chance: list[float], hold: list[float], loss: float) -> float:
    """Holding cost of what is kept, and the loss when any needed part is missing."""
    complete = np.prod([1 - p for i, p in enumerate(chance) if i not in kept])
    return sum(hold[i] for i in kept) + loss * float(1 - complete)


def test_cost_form_is_met_by_pricing_completion() -> None:
    """K1: p .3 .2 .1 .05, H 4 1 3 1, L 20: optimum {1, 2} costs 7.90. Job completion is a product, so the kit program is
    asked with one column per set of parts kept (the job's own chain), holding cost as the money it must earn."""
    chance, hold, loss = [0.3, 0.2, 0.1, 0.05], [4.0, 1.0, 3.0, 1.0], 20.0
    sets = [s for r in range(5) for s in combinations(range(4), r)]
    costs = {s: _job_cost(s, chance, hold, loss) for s in sets}
    assert costs[(0, 1)] == pytest.approx(7.90, abs=1e-9) == min(costs.values())
    assert sorted(costs.values())[1] == pytest.approx(8.00, abs=1e-9)
    assert costs[()] == pytest.approx(10.424, abs=1e-9)
    best = {}
    for money in range(10):
        columns = [Column(0, round(1e6 * _saved(s, chance, loss)), dict.fromkeys(s, 1)) for s in sets if s]
        found = solve(
            make_program([f"part-{i}" for i in range(4)], [0] * 4, ["hold"], [[4, 1, 3, 1]], [money], columns)
        )
        best[tuple(np.flatnonzero(found.packs).tolist())] = found.objective / 1e6 - float(np.dot(hold, found.packs))
    assert max(best, key=lambda kept: best[kept]) == (0, 1)
    assert 10.424 - max(best.values()) == pytest.approx(7.90, abs=1e-6)


def _saved(kept: tuple[int, ...], chance: list[float], loss: float) -> float:
    return _job_cost((), chance, [0.0] * len(chance), loss) - _job_cost(kept, chance, [0.0] * len(chance), loss)


def test_density_greedy_is_beaten_under_a_weight_limit() -> None:
    """K2: weight limit 8, p .3 .2 .2, w 5 4 4: optimum {2, 3} completes .70; by chance per weight {1} is taken, .64."""
    worth = [round(-1e6 * log(1 - p)) for p in (0.3, 0.2, 0.2)]
    columns = [Column(i, w, {i: 1}) for i, w in enumerate(worth)]
    found = solve(make_program(["a", "b", "c"], [0] * 3, ["weight"], [[5, 4, 4]], [8], columns))
    assert found.packs.tolist() == [0, 1, 1]
    assert exp(found.objective / 1e6) * 0.7 * 0.8 * 0.8 == pytest.approx(0.70, abs=1e-6)
    assert 0.3 / 5 > 0.2 / 4 and pytest.approx(0.64, abs=1e-12) == 0.8 * 0.8


def test_poisson_spares_under_a_weight_limit() -> None:
    """K3: needs 1.0 .5 .2, weights 2 1 3, limit 6: stock (2, 2, 0) leaves .319965 expected back-orders."""
    means, weights, limit = [1.0, 0.5, 0.2], [2, 1, 3], 6
    columns = [
        Column(6 * i + k, round(1e6 * float(poisson.sf(k, m))), {}, {i: 1000})
        for i, m in enumerate(means)
        for k in range(6)
    ]
    found = solve(make_program(["a", "b", "c"], [1000] * 3, ["weight"], [weights], [limit], columns))
    assert found.packs.tolist() == [2, 2, 0]
    assert sum(means) - found.objective / 1e6 == pytest.approx(0.319965, abs=2e-6)
    covered = float(np.prod([poisson.cdf(s, m) for s, m in zip((2, 2, 0), means, strict=True)]))
    assert covered == pytest.approx(0.742152, abs=1e-6)


def test_without_a_weight_limit_some_optimum_is_a_prefix_by_chance_per_cost() -> None:
    """K4: the cost form's optimum is a prefix of the parts sorted by f(p)/H, f = -ln(1-p); 300 drawn cases, enumerated."""
    draw = np.random.default_rng(4)
    for _ in range(300):
        n = int(draw.integers(2, 6))
        chance, hold, loss = draw.uniform(0.01, 0.6, n).tolist(), draw.uniform(0.2, 6, n).tolist(), draw.uniform(1, 40)
        order = sorted(range(n), key=lambda i: log(1 - chance[i]) / hold[i])
        prefixes = [_job_cost(tuple(order[:k]), chance, hold, loss) for k in range(n + 1)]
        sets = (s for r in range(n + 1) for s in combinations(range(n), r))
        assert min(prefixes) == pytest.approx(min(_job_cost(s, chance, hold, loss) for s in sets), abs=1e-9)


@pytest.mark.parametrize("mean", [0.5, 1.0, 2.0, 3.0])
def test_back_order_identities(mean: float) -> None:
    """EBO(0) = mean, EBO(s-1) - EBO(s) = P(N >= s): what the k-th spare saves is the chance of the k-th failure.

    Rows P6 and P7 (own derivation): EBO at mean 1: 1 .3679 .1036 .0233; at mean 2: 2 1.1353 .5413 .2180.
    """
    member = Member(
        "v", "m", (), np.array([[mean]]), np.array([[mean]]), np.zeros((1, 1)), np.zeros(1), False, np.inf, np.inf
    )
    sure = Shared({"vehicle v": np.ones(SHARED_NODES), "trip": np.ones(SHARED_NODES)})
    weights = count_class([member], sure, 20).weights[:, 0]
    assert weights == pytest.approx(poisson.sf(np.arange(20), mean), abs=1e-9)
    left = mean - np.concatenate([[0.0], np.cumsum(weights)])
    printed = {
        0.5: [0.5, 0.1065, 0.0163, 0.0019],
        1.0: [1, 0.3679, 0.1036, 0.0233],
        2.0: [2, 1.1353, 0.5413, 0.2180],
        3.0: [3, 2.0498, 1.2489, 0.6721],
    }
    assert left[:4] == pytest.approx(printed[mean], abs=5e-5)
    assert (np.diff(left) < 1e-12).all() and (np.diff(left, 2) > -1e-12).all()


# ------------------------------------------------------------------------------------- brute force
def brute_force(program: Program) -> int:
    """The best objective by trying every set of packs and works and every assignment of repairs."""
    tools: list[dict[int, int]] = [{} for _ in program.benefit]
    stock: list[dict[int, int]] = [{} for _ in program.benefit]
    for entries, table in ((program.tools, tools), (program.stock, stock)):
        for c, i, n in zip(entries.column.tolist(), entries.item.tolist(), entries.amount.tolist(), strict=True):
            table[c][i] = n
    return max(
        base + _best_repairs(program, tools, stock, packs, state)
        for packs in _packs(program)
        for base, state in _works(program, packs)
    )


def _packs(program: Program) -> Iterator[tuple[int, ...]]:
    ranges = [range(a, b + 1) for a, b in zip(program.least.tolist(), program.most.tolist(), strict=True)]
    for packs in product(*ranges):
        if not any(all(packs[i] >= n for i, n in cut) for cut in program.cuts):
            yield packs


def _works(program: Program, packs: tuple[int, ...]) -> Iterator[tuple[int, set[int]]]:
    paid = [max(0, x - o) for x, o in zip(packs, program.owned.tolist(), strict=True)]
    for done in product((0, 1), repeat=len(program.works)):
        groups = [w.group for w, d in zip(program.works, done, strict=True) if d]
        taken = [sum(int(a) * x for a, x in zip(row, packs, strict=True)) for row in program.weights]
        taken[program.money] = sum(int(a) * x for a, x in zip(program.weights[program.money], paid, strict=True))
        for w, d in zip(program.works, done, strict=True):
            taken = [t + d * n for t, n in zip(taken, w.takes, strict=True)]
        if len(set(groups)) < len(groups) or any(t > limit for t, limit in zip(taken, program.limits, strict=True)):
            continue
        state = {
            s for s, x in enumerate(program.states) if all(done[w] for w in x.on) and not any(done[w] for w in x.off)
        }
        yield sum(program.states[s].benefit for s in state), state


def _best_repairs(
    program: Program, tools: list[dict[int, int]], stock: list[dict[int, int]], packs: tuple[int, ...], state: set[int]
) -> int:
    supply = [x + sum(packs[o] for o in program.stand_ins[i]) for i, x in enumerate(packs)]
    by_slot: dict[int, list[int]] = {}
    for j, slot in enumerate(program.slot.tolist()):
        in_force = program.slot_state[slot] < 0 or int(program.slot_state[slot]) in state
        if in_force and all(supply[i] >= n for i, n in tools[j].items()):
            by_slot.setdefault(slot, []).append(j)
    best = 0
    for pick in product(*[[None, *columns] for columns in by_slot.values()]):
        chosen = [j for j in pick if j is not None]
        used: dict[int, int] = {}
        for j in chosen:
            for i, n in stock[j].items():
                used[i] = used.get(i, 0) + n
        if _stock_lasts(program, packs, used) and all(_there(program, packs, i) for j in chosen for i in stock[j]):
            best = max(best, sum(int(program.benefit[j]) for j in chosen))
    return best


def _there(program: Program, packs: tuple[int, ...], item: int) -> bool:
    return packs[item] + sum(packs[o] for o in program.stand_ins[item]) > 0


def _stock_lasts(program: Program, packs: tuple[int, ...], used: dict[int, int]) -> bool:
    """Own stock first, the rest from stand-ins; small programs never have two borrowers of one stand-in."""
    left = {i: packs[i] * int(program.pack[i]) - n for i, n in used.items()}
    for i in [i for i, n in left.items() if n < 0]:
        for other in program.stand_ins[i]:
            there = left.get(other, packs[other] * int(program.pack[other]))
            lent = max(0, min(there, -left[i]))
            left[i] += lent
            left[other] = there - lent
    return all(n >= 0 for n in left.values())


@pytest.mark.parametrize("seed", range(200))
def test_kit_equals_brute_force(seed: int) -> None:
    """200 generated programs with stand-ins, owned and must-carry packs, works and cuts: the same optimum as trying everything."""
    program = small_program(seed)
    found = solve(program)
    assert found.objective == found.bound == brute_force(program)


# ------------------------------------------------------------------------------------ second solver
def plain_program(program: Program) -> tuple[np.ndarray, LinearConstraint, Bounds]:
    """The program as anybody would write it: every repair at most each of its tools, stock rows, slots, limits."""
    items, columns = len(program.items), len(program.benefit)
    size = items + columns
    tools, stock = program.tools, program.stock
    rows = [coo_array(np.hstack([program.weights, np.zeros((len(program.limits), columns), int)]))]
    high = [program.limits.astype(float)]
    n = len(tools.column)
    index = np.concatenate([np.arange(n), np.arange(n)]), np.concatenate([items + tools.column, tools.item])
    rows.append(coo_array((np.concatenate([tools.amount, -np.ones(n)]), index), shape=(n, size)))
    used = np.unique(stock.item)
    index = (
        np.concatenate([np.searchsorted(used, stock.item), np.arange(len(used))]),
        np.concatenate([items + stock.column, used]),
    )
    rows.append(coo_array((np.concatenate([stock.amount, -program.pack[used]]), index), shape=(len(used), size)))
    slots = int(program.slot.max()) + 1
    rows.append(coo_array((np.ones(columns), (program.slot, items + np.arange(columns))), shape=(slots, size)))
    high += [np.zeros(n), np.zeros(len(used)), np.ones(slots)]
    table = vstack(rows, format="csr")
    cost = np.concatenate([np.zeros(items), -program.benefit.astype(float)])
    limits = LinearConstraint(table, -np.inf, np.concatenate(high))
    return cost, limits, Bounds(0, np.concatenate([program.most, np.ones(columns)]))


def second_solver(program: Program) -> float:
    """The optimum of the plain program by scipy's solver, gap 0."""
    cost, rows, bounds = plain_program(program)
    found = milp(cost, constraints=rows, bounds=bounds, integrality=np.ones(len(cost)), options={"mip_rel_gap": 0.0})
    assert found.status == 0
    return -float(found.fun)


@pytest.mark.parametrize("seed", range(50))
def test_second_solver_agrees_on_the_plain_program(seed: int) -> None:
    """50 generated instances of 24 items, 12 weak points and 24 repairs, three limits."""
    program = kit_instance(24, 12, 24, seed)
    found: Solution = solve(program, ties=False)
    assert found.objective == round(second_solver(program))
    assert found.optimal
