"""What findings say: beliefs about each position, and each vehicle's state."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from fieldkit.likelihood.result import ModeHazard
from fieldkit.specs.library import WorkshopOption

State = Literal["fit", "fit-with-limits", "repair-first", "off-the-road"]
#: From best to worst.
STATES: tuple[State, ...] = ("fit", "fit-with-limits", "repair-first", "off-the-road")


@dataclass(frozen=True)
class Belief:
    """One position of a weak point: probability of being degraded, and the finding it rests on."""

    degraded: float
    finding: str
    date: str = ""
    inspector: str = ""
    note: str = ""


@dataclass(frozen=True)
class Beliefs:
    """Index: (vehicle id, mode id) -> one Belief per position."""

    by_key: dict[tuple[str, str], tuple[Belief, ...]] = field(default_factory=dict)
    conflicts: tuple[str, ...] = ()

    @property
    def degraded(self) -> dict[tuple[str, str], tuple[float, ...]]:
        """(vehicle, weak point) -> probability per position, as ``likelihood.risks`` takes it."""
        return {key: tuple(b.degraded for b in found) for key, found in self.by_key.items()}


@dataclass(frozen=True)
class Reason:
    """Why a state is not better: what, which evidence, what would mend it, who may lift it.

    ``hours`` of the work that mends it [h]; ``cleared``: the chosen work clears it; ``only_after``: it comes with the chosen work.
    """

    text: str
    state: State
    mode: str | None = None
    mend: str = ""
    lifted_by: Literal["driver", "workshop", "nobody"] = "driver"
    evidence: str = ""
    hours: float | None = None
    cleared: bool = False
    only_after: bool = False


@dataclass(frozen=True)
class Readiness:
    """A vehicle's state as found and after the chosen work, with every reason, the worst first.

    ``limits``: what the driver must keep to after the chosen work. ``evidence``: weighed when, looked at by whom and when.
    ``first``: what to do to be fit, in a sentence ("Fix these two, 3 h, then fit with limits.").
    """

    vehicle: str
    as_found: State
    after_work: State
    reasons: tuple[Reason, ...]
    limits: tuple[str, ...]
    evidence: str
    first: str = ""


@dataclass(frozen=True)
class WorkOption:
    """One workshop option of one weak point, and what it would leave: the hazards of every weak point it changes.

    ``after``: weak point -> its hazard after the work (its own and others it renews with fresh parts; neighbours under more or
    less stress; parts taken away at 0). ``degraded``: weak point -> probability per position after the work. ``gone``: weak points
    whose part the work takes away.
    """

    vehicle: str
    mode: str
    option: WorkshopOption
    after: Mapping[str, ModeHazard]
    degraded: Mapping[str, tuple[float, ...]]
    gone: tuple[str, ...] = ()


@dataclass(frozen=True)
class LookValue:
    """Value of one inspection [h saved] and per minute; a lower bound, kit held fixed, only that weak point's work reacting."""

    vehicle: str
    mode: str
    hours: float
    per_minute: float
