"""How much to work out about the kit."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class KitOptions:
    """``quick``: a 10 kg curve, and a kit that is proven within a stated share only. ``curve_step_kg`` [kg]; ``seed`` of redraws."""

    quick: bool = False
    curve_step_kg: float = 5.0
    seed: int = 0

    @property
    def step_kg(self) -> float:
        """Step of the curve [kg]."""
        return 10.0 if self.quick else self.curve_step_kg
