"""Invented kit programs of any size for benchmarks and cross-checks; same seed, same instance.

Nothing here is trade knowledge: sizes, masses and rates are drawn so that tools are shared, some supplies
serve several repairs, and three limits bind in turn.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fieldkit.kit.program import UNITS, Column, Program, State, Work, make_program


def kit_instance(
    items: int,
    modes: int,
    procedures: int,
    seed: int,
    fill: float = 0.3,
    weight_only: bool = False,
    chained: bool = True,
) -> Program:
    """A kit program with ``items`` items, ``modes`` weak points and ``procedures`` field repairs.

    ``fill`` is the weight limit as a share of what one pack of everything weighs. ``chained``: up to three failures of each weak
    point, and a second repair where the first may not hold; otherwise one failure and one repair, which is far easier.
    """
    draw = np.random.default_rng(seed)
    tools = int(0.4 * items)
    mass = np.maximum(20, np.exp(draw.normal(np.log(900), 1.1, items)).astype(np.int64))
    volume = np.maximum(20, (mass * draw.uniform(0.6, 2.5, items)).astype(np.int64))
    price = np.maximum(100, np.exp(draw.normal(np.log(3000), 0.9, items)).astype(np.int64))
    uses = _procedures(draw, items, tools, modes, procedures)
    columns = _columns(draw, modes, uses, chained)
    share = np.array([fill, fill * 1.15, fill * 1.25])
    weights = np.stack([mass, volume, price])
    limits = (share * weights.sum(axis=1)).astype(np.int64)
    if weight_only:
        weights, limits = weights[:1], limits[:1]
    pack = np.where(np.arange(items) < tools, 0, 1000)
    return make_program(
        items=[f"item-{i:04d}" for i in range(items)],
        pack=pack,
        resources=["mass", "volume", "money"][: len(limits)],
        weights=weights,
        limits=limits,
        columns=columns,
    )


def _procedures(draw: np.random.Generator, items: int, tools: int, modes: int, procedures: int) -> list[tuple]:
    popular = 1 / np.arange(1, tools + 1) ** 0.8
    popular /= popular.sum()
    found = []
    for p in range(procedures):
        served = {p % modes} | ({int(draw.integers(modes))} if draw.random() < 0.25 else set())
        needs = sorted(draw.choice(tools, size=min(tools, int(draw.integers(1, 5))), replace=False, p=popular))
        stock = {}
        for i in draw.choice(np.arange(tools, items), size=int(draw.integers(0, 3)), replace=False):
            stock[int(i)] = 1000 if draw.random() < 0.6 else int(draw.choice([100, 200, 250, 500]))
        found.append(
            (
                served,
                [int(t) for t in needs],
                stock,
                draw.uniform(0.3, 5),
                draw.uniform(0.5, 0.97),
                draw.uniform(0, 0.3),
            )
        )
    return found


def _columns(draw: np.random.Generator, modes: int, procedures: list[tuple], chained: bool) -> list[Column]:
    mean = np.exp(draw.uniform(np.log(0.005), np.log(0.9), modes))
    loss = draw.uniform(2, 110, modes)
    columns, slot = [], 0
    for m in range(modes):
        ways = [p for p in procedures if m in p[0]]
        chains = [(a,) for a in ways] + [(a, b) for a in ways for b in ways if a is not b and chained]
        chance = 1 - np.exp(-mean[m])
        for k in range(1, 4 if chained else 2):
            for chain in chains:
                saved = _saved(chain, loss[m])
                if (benefit := round(1000 * chance * saved)) > 0:
                    columns.append(_column(slot, benefit, chain))
            slot += 1
            chance = max(0.0, chance - np.exp(-mean[m]) * mean[m] ** k / [1, 2, 6][k - 1])
    return columns


def _saved(chain: tuple, loss: float) -> float:
    left = loss
    for _, _, _, hours, holds, after in reversed(chain):
        left = hours + holds * after * loss * 0.3 + (1 - holds) * left
    return loss - left


def _column(slot: int, benefit: int, chain: tuple) -> Column:
    tools = {t: 1 for p in chain for t in p[1]}
    stock: dict[int, int] = {}
    for p in chain:
        for i, units in p[2].items():
            stock[i] = stock.get(i, 0) + units
    return Column(slot, benefit, tools, stock)


def small_program(seed: int) -> Program:
    """A program small enough to enumerate: stand-ins, owned packs, packs that must be there, works with versions, cuts."""
    draw = np.random.default_rng(seed)
    items = int(draw.integers(3, 6))
    tools = int(draw.integers(1, items))
    pack = [0] * tools + [UNITS] * (items - tools)
    weights = np.stack([draw.integers(1, 9, items), draw.integers(1, 9, items)])
    works, states, slot_state, slots = _small_works(draw)
    columns = [_small_column(draw, s, items, tools) for s in range(slots) for _ in range(int(draw.integers(1, 4)))]
    owned = draw.integers(0, 2, items)
    least = (draw.random(items) < 0.15).astype(np.int64)
    stand_ins = {0: (items - 1,)} if draw.random() < 0.3 and tools == items else {}
    if draw.random() < 0.4 and items - tools > 1:
        stand_ins[items - 1] = (items - 2,)
    if draw.random() < 0.3 and tools > 1:
        stand_ins[0] = (1,)
    program = make_program(
        [f"item-{i}" for i in range(items)],
        pack,
        ["mass", "money"],
        weights,
        (weights.sum(axis=1) * draw.uniform(0.3, 1.1, 2)).astype(np.int64) + weights @ least,
        columns,
        most=np.full(items, 2),
        least=least,
        owned=np.maximum(owned, least),
        money=1,
        stand_ins=stand_ins,
        works=works,
        states=states,
        slot_state=slot_state,
    )
    if draw.random() < 0.3:
        pair = draw.choice(items, 2, replace=False)
        cut = tuple((int(i), int(program.least[i]) + 1) for i in pair if program.most[i] > program.least[i])
        program = replace(program, cuts=(cut,)) if cut else program
    return program


def _small_works(draw: np.random.Generator) -> tuple[list[Work], list[State], dict[int, int], int]:
    """Half of the programs have two works that each put one class into another version."""
    slots = int(draw.integers(2, 5))
    if draw.random() < 0.5:
        return [], [], {}, slots
    works = [Work(f"work-{w}", (0, int(draw.integers(1, 6))), int(draw.integers(2)) * w) for w in range(2)]
    states = [
        State(0, 0, (), (0, 1)),
        State(0, int(draw.integers(1, 40)), (0,), (1,)),
        State(0, int(draw.integers(1, 40)), (1,), (0,)),
        State(0, int(draw.integers(1, 60)), (0, 1), ()),
    ]
    return works, states, {s: s for s in range(min(slots, 4))}, slots


def _small_column(draw: np.random.Generator, slot: int, items: int, tools: int) -> Column:
    need = {int(i): int(draw.integers(1, 3)) for i in range(tools) if draw.random() < 0.4}
    stock = {int(i): int(draw.choice([250, 500, 600, 1000, 1500])) for i in range(tools, items) if draw.random() < 0.4}
    return Column(slot, int(draw.integers(1, 50)), need, stock)
