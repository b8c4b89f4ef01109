"""How much of a plan to compute."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class PlanOptions:
    """``quick``: a 10 kg curve, no redraws, 10,000 trial runs, not what moves a total; the pages say so.

    ``foresight``: also what no kit gets below, were every trip's failures known before stock is given out; not with ``quick``.
    """

    quick: bool = False
    seed: int = 0
    foresight: bool = False

    @property
    def trials(self) -> int:
        return 10_000 if self.quick else 100_000
