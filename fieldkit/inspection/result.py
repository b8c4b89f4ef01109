"""What findings say: beliefs about each position, and each vehicle's state."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Literal

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


@dataclass(frozen=True)
class Reason:
    """Why a state is not better: what, which evidence, what would mend it, who may lift it."""

    text: str
    state: State
    mode: str | None = None
    mend: str = ""
    lifted_by: Literal["driver", "workshop", "nobody"] = "driver"
    evidence: str = ""
    hours: float | None = None


@dataclass(frozen=True)
class Readiness:
    """A vehicle's state as found and after the chosen work, with every reason."""

    vehicle: str
    as_found: State
    after_work: State
    reasons: tuple[Reason, ...]
    limits: tuple[str, ...]
    evidence: str


@dataclass(frozen=True)
class LookValue:
    """Value of one inspection [h saved] and per minute."""

    vehicle: str
    mode: str
    hours: float
    per_minute: float
