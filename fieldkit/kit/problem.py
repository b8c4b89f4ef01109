"""A trip as a program: classes counted, chains valued, items weighed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from fieldkit.kit.budget import RESOURCES, Budget
from fieldkit.kit.catalogue import Catalogue
from fieldkit.kit.counts import Counted, Member, Shared, count_class
from fieldkit.kit.demand import MOST_COUNTS, Demand, benefits, lost_without
from fieldkit.kit.program import UNITS, Column, Program, State, Work, make_program

Key = tuple[str, str]
#: What a column of a program stands for: (class index, count from 1, chain index).
Origin = tuple[int, int, int]


@dataclass(frozen=True)
class Problem:
    """The plain program of a trip with the work before leaving settled.

    ``columns``: what each column of the program stands for. ``lost``: hours lost with no repair at all, weak points without any
    repair included [h].
    """

    demands: tuple[Demand, ...]
    counted: tuple[Counted, ...]
    catalogue: Catalogue
    budget: Budget
    program: Program
    columns: tuple[Origin, ...]
    lost: float


def make_problem(
    demands: Sequence[Demand],
    members: Mapping[Key, Member],
    shared: Shared,
    catalogue: Catalogue,
    budget: Budget,
    lost_uncovered: float,
) -> Problem:
    """Count every class, value every chain, and set the program up.

    Parameters
    ----------
    members : (vehicle, weak point) -> what its counts are worked out from.
    lost_uncovered : float
        Hours lost to weak points that no repair answers [h].
    """
    counted = tuple(count_class([members[k] for k in d.members], shared, MOST_COUNTS) for d in demands)
    columns, origins = class_columns(demands, counted)
    lost = lost_uncovered + sum(lost_without(d, c) for d, c in zip(demands, counted, strict=True))
    program = kit_program(columns, catalogue, budget)
    return Problem(tuple(demands), counted, catalogue, budget, program, origins, lost)


def class_columns(demands: Sequence[Demand], counted: Sequence[Counted]) -> tuple[list[Column], tuple[Origin, ...]]:
    """Columns of all classes, one slot per class and count, and what each column stands for."""
    columns: list[Column] = []
    origins: list[Origin] = []
    slot = 0
    for c, (demand, count) in enumerate(zip(demands, counted, strict=True)):
        gained = np.rint(benefits(demand, count) * 1000.0).astype(np.int64)
        needs = [demand.chain_needs(n) for n in range(len(demand.chains))]
        for k, n in zip(*(x.tolist() for x in np.nonzero(gained > 0)), strict=True):
            columns.append(Column(slot + k, int(gained[k, n]), needs[n].tools, needs[n].stock))
            origins.append((c, k + 1, n))
        slot += len(gained)
    return columns, tuple(origins)


def kit_program(
    columns: Sequence[Column],
    catalogue: Catalogue,
    budget: Budget,
    *,
    works: Sequence[Work] = (),
    states: Sequence[State] = (),
    slot_state: Mapping[int, int] | None = None,
    slot_pool: Mapping[int, int] | None = None,
    required: Sequence[Sequence[int]] = (),
    extra: Sequence[tuple[str, int]] = (),
) -> Program:
    """Columns under a trip's limits; what must be carried is there and weighs nothing against the kit.

    ``extra``: further limits (name, whole units) that only works use.
    """
    entries = catalogue.entries
    refused = np.array([e.item in catalogue.refused and e.needed == 0 for e in entries], bool)
    zeros = np.zeros((len(extra), len(entries)), np.int64)
    return make_program(
        [e.name for e in entries],
        _packs(columns, catalogue),
        [*RESOURCES, *(name for name, _ in extra)],
        np.concatenate([budget.weights, zeros]),
        np.concatenate([budget.with_must(), np.array([limit for _, limit in extra], np.int64)]),
        columns,
        most=np.where(refused, 0, 10**6),
        least=budget.needed,
        owned=budget.free,
        money=RESOURCES.index("money"),
        stand_ins=catalogue.stand_ins,
        works=works,
        states=states,
        slot_state=slot_state,
        slot_pool=slot_pool,
        required=required,
    )


def _packs(columns: Sequence[Column], catalogue: Catalogue) -> list[int]:
    """Units in a pack of everything that is used up, or stands in for what is."""
    used = {i for c in columns for i in c.stock}
    used |= {other for i in used for other in catalogue.stand_ins.get(i, ())}
    return [UNITS if i in used else 0 for i in range(len(catalogue.entries))]
