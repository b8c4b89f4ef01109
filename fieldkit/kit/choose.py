"""The kit's main path: a trip with its risks in, the proven kit with everything that explains it out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fieldkit.exposure.result import Exposure
from fieldkit.kit.counts import Member, Shared
from fieldkit.kit.problem import Problem
from fieldkit.kit.result import Worth
from fieldkit.kit.settings import KitSettings
from fieldkit.likelihood.result import Risks
from fieldkit.loads.result import Loads
from fieldkit.specs.trip import Trip

Key = tuple[str, str]


@dataclass(frozen=True)
class KitOptions:
    """How much to work out about the kit.

    ``quick``: a 10 kg curve, no redraws, no failure patterns. ``redraws``: of the estimates, for how firm each item is.
    ``pattern_threshold``: trial runs further than this share from the program call for failure patterns; None: the library's own figure.
    """

    quick: bool = False
    redraws: int = 30
    curve_step_kg: float = 1.0
    pattern_threshold: float | None = None
    seed: int = 0

    @property
    def step_kg(self) -> float:
        return 10.0 if self.quick else self.curve_step_kg


@dataclass(frozen=True)
class Case:
    """A trip as the kit's parts see it, work before leaving done.

    ``uncovered``: weak points that no repair answers, with the hours expected to be lost to them [h].
    """

    trip: Trip
    exposure: Exposure
    loads: Loads
    settings: KitSettings
    risks: Risks
    worths: Mapping[Key, Worth]
    members: Mapping[Key, Member]
    shared: Shared
    problem: Problem
    uncovered: Mapping[Key, float]
