"""Speed of the kit's search against the plain program in the general solver: ``python tests/benchmarks/kit.py [part ...]``.

Parts: ``one`` (one kit, 20 instances), ``large`` (two larger sizes), ``budgets`` (40 proven budgets), ``trips`` (patterns, trial runs, convoy).
By hand; writes a Markdown table and asserts nothing but equal optima. Times are processor time of this process. The plain
program (every repair at most each of its tools, one row a stock, one a slot, one a limit) goes to scipy's HiGHS with gap 0.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from statistics import mean, median
from typing import Any

import numpy as np

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE), str(HERE.parent / "crosscheck")]

from kit_instances import kit_instance  # noqa: E402
from test_repair_kit import second_solver  # noqa: E402

from fieldkit.garbage import look_seldom  # noqa: E402
from fieldkit.kit import solve  # noqa: E402
from fieldkit.kit.curve import trace  # noqa: E402
from fieldkit.kit.program import Program  # noqa: E402
from fieldkit.kit.search import Search  # noqa: E402

BUDGETS = 40


def timed(work: Callable[[], Any]) -> tuple[float, Any]:
    """Processor time [s] and the answer."""
    start = time.process_time()
    answer = work()
    return time.process_time() - start, answer


def row(what: str, ours: float, plain: float | None = None, goal: str = "") -> None:
    ratio = f"{plain / ours:.2f}" if plain else ""
    print(f"| {what} | {ours:.3f} | {'' if plain is None else f'{plain:.3f}'} | {ratio} | {goal} |", flush=True)


def kind(chained: bool) -> str:
    return "three failures, chains" if chained else "one failure, one repair"


def one_kit(chained: bool, count: int = 20) -> None:
    """120 items, 60 weak points, 120 repairs: proven."""
    ours, plain = [], []
    for seed in range(count):
        program = kit_instance(120, 60, 120, seed, chained=chained)
        took, found = timed(lambda p=program: solve(p, ties=False))
        took_plain, value = timed(lambda p=program: second_solver(p))
        assert found.objective == round(value) and found.optimal
        ours.append(took)
        plain.append(took_plain)
    name = f"one kit, 120 x 60 x 120, {kind(chained)}"
    row(f"{name}, mean of {count}", mean(ours), mean(plain), "1.3 on the mean")
    row(f"{name}, median of {count}", median(ours), median(plain), "no slower")


def large_kits(chained: bool) -> None:
    """Proven; of the smaller size also by the plain program. Chained, the larger one takes minutes and is one instance."""
    for size, count, goal in (((400, 250, 600), 8, "0.5 s"), ((2000, 1500, 4000), 1 if chained else 4, "5 s")):
        built, took, plain = [], [], []
        for seed in range(1, count + 1):
            program = kit_instance(*size, seed, chained=chained)
            built.append(timed(lambda p=program: Search(p))[0])
            spent, found = timed(lambda p=program: solve(p, ties=False))
            assert found.optimal
            took.append(spent)
            if size[0] < 1000 and not chained:
                spent, value = timed(lambda p=program: second_solver(p))
                assert found.objective == round(value)
                plain.append(spent)
        name = f"one kit, {size[0]} x {size[1]} x {size[2]}, {kind(chained)}"
        row(f"{name}, mean of {count}", mean(took), mean(plain) if plain else None, goal)
        row(f"building it, share {median(built) / median(took):.1%}", median(built), None, "5 %")


def budgets(weight_only: bool, chained: bool) -> None:
    """Forty proven budgets against as many solves of the plain program, each from nothing."""
    took, cold = 0.0, 0.0
    for seed in range(3, 4 if chained else 6):
        program = kit_instance(120, 60, 120, seed, weight_only=weight_only, chained=chained)
        full = int(program.limits[0])
        wanted = [full * n // BUDGETS for n in range(1, BUDGETS + 1)]
        spent, points = timed(lambda p=program, w=wanted: trace(Search(p), w))
        spent_plain, values = timed(lambda p=program, w=wanted: [second_solver(within(p, b)) for b in w])
        assert [p.objective for p in points] == [round(v) for v in values]
        took, cold = took + spent, cold + spent_plain
    name = "weight alone binds" if weight_only else "three limits"
    count = 1 if chained else 3
    row(
        f"{BUDGETS} proven budgets, {name}, {kind(chained)}, mean of {count}",
        took / count,
        cold / count,
        "2.5" if weight_only else "5",
    )


def within(program: Program, budget: int) -> Program:
    return replace(program, limits=program.limited(0, budget))


def trips() -> None:
    """Trial runs and patterns of the example convoy."""
    from fieldkit.kit.policy import STRANDED
    from fieldkit.plan import PlanOptions, make_plan
    from fieldkit.report import example_folder
    from fieldkit.specs.read_trip import load_trip
    from fieldkit.trials import World

    took, plan = timed(lambda: make_plan(load_trip(example_folder(False)), PlanOptions(quick=True)))
    row("plan of the example convoy, quick", took, None, "5 s with its pages")
    world = World(plan.trip, plan.exposure, plan.risks, plan.kit)
    runs = 100_000
    drew, events = timed(lambda: world.draw(runs, 0, cascade=True))
    played, outcome = timed(lambda: world.practice.play(events, runs, 0, "full"))
    row(f"{runs:,} trial runs: {runs / (drew + played):,.0f} trips/s", drew + played, None, "10x a plain loop")
    patterned(plan.trip)
    few = 2_000
    loop, lost = timed(lambda: plain_loop(world, few))
    row(
        f"{few:,} trips in a plain loop: {few / loop:,.0f} trips/s",
        (drew + played) / runs * few,
        loop,
        "10, stretch 30",
    )
    print(
        f"\nShares of runs that wait for help: {np.mean(outcome.end == STRANDED):.4f} of failures; loop drew {lost:.2f} failures a trip."
    )


def patterned(trip: Any, runs: int = 100_000) -> None:
    """The program over failure patterns of so many drawn trips: set up and proven; drawing them is timed with the trial runs."""
    from fieldkit.kit import choosing, patterns
    from fieldkit.plan import PlanOptions, make_plan

    asked: list[Any] = []
    real = choosing.pattern_kit
    choosing.pattern_kit = lambda case, *rest: (asked.append(case), real(case, *rest))[1]
    make_plan(trip, PlanOptions())
    choosing.pattern_kit = real
    case = asked[0]
    events = patterns.draw_events(list(case.members.values()), patterns._factors(case), runs, 1, patterns._edges(case))
    took, program = timed(lambda: patterns.pattern_program(case, events, runs))
    spent, found = timed(lambda: patterns._best_found(Search(program)))
    assert found.short == 0
    items = len({i for tools in (program.tools, program.stock) for i in tools.item.tolist()})
    row(f"pattern program of {runs:,} trips, {items} things, set up {took:.2f} s", took + spent, None, "2 s")


def plain_loop(world: Any, trips: int) -> float:
    """Failures of each trip drawn one weak point after another, as anybody would write it first; returns failures a trip."""
    draw = np.random.default_rng(0)
    failures = 0
    names = sorted(world.worths)
    for _ in range(trips):
        shared = {
            name: draw.gamma(world.worths[name], 1 / world.worths[name]) if np.isfinite(world.worths[name]) else 1.0
            for name in names
        }
        for member in world.members:
            factor = draw.gamma(member.shape_a, 1 / member.rate_b) if np.isfinite(member.shape_a) else 1.0
            factor *= shared.get(f"vehicle {member.vehicle}", 1.0) * shared.get("trip", 1.0)
            for group in member.groups:
                factor *= shared.get(f"cause {group}", 1.0)
            for p in range(len(member.sound)):
                for leg_mean in np.diff(member.sound[p], prepend=0.0):
                    failures += draw.poisson(max(0.0, factor * leg_mean))
    return failures / trips


def convoy(count: int = 6) -> None:
    """The example convoy's vehicles repeated to six: pooled choice, proven, shared out over the vehicles; the plain program pooled alone."""
    import tempfile

    from pages import convoy as repeated
    from whole_program import second_optimum

    from fieldkit.kit import choosing

    asked: list[Any] = []
    real = choosing.best_packed
    choosing.best_packed = lambda case, problem, *rest: (asked.append((case, problem)), real(case, problem, *rest))[1]
    with tempfile.TemporaryDirectory() as made:
        took, plan = timed(lambda: repeated(Path(made) / "trip", count))
    choosing.best_packed = real
    row(f"plan of {count} vehicles, quick; gap {plan.kit.proof.gap:.2%}", took)
    case, problem = asked[0]
    near, found = timed(lambda: Search(problem.program).best(share=0.001))
    row(f"{count} vehicles, pooled, within {found.bound / found.objective - 1:.3%}", near, None, "0.1 % in 0.5 s")
    took, packed = timed(lambda: real(case, problem))
    plain, value = timed(lambda: second_optimum(problem.program, int(problem.program.limits[0])))
    assert packed.found.objective == packed.bound == value
    row(f"{count} vehicles, pooled and placed, proven", took, plain, "2")


def main(parts: list[str]) -> None:
    look_seldom()  # as every command does
    print("| what | ours [s] | plain [s] | times | goal |\n|---|---|---|---|---|")
    for chained in (False, True):
        if "one" in parts:
            one_kit(chained)
        if "budgets" in parts:
            budgets(weight_only=False, chained=chained)
            budgets(weight_only=True, chained=chained)
        if "large" in parts:
            large_kits(chained)
    if "trips" in parts:
        trips()
        convoy()


if __name__ == "__main__":
    main(sys.argv[1:] or ["one", "budgets", "large", "trips"])
