"""How much to work out about the kit."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class KitOptions:
    """How much to work out.

    Attributes
    ----------
    quick : bool
        A 10 kg curve, no redraws, no failure patterns; the curve with its bounds, not searched to the end.
    redraws : int
        Of the estimates, for how firm each item is; 0 or more.
    curve_step_kg : float
        Step of the curve [kg], above 0.
    pattern_threshold : float or None
        Trial runs that differ from the program by more than this share call for failure patterns; None: the library's figure.
    foresight : bool
        Whether to work out what no kit gets below, were every trip's failures known before stock is given out; not with ``quick``.
    seed : int
        Of redraws and patterns.
    """

    quick: bool = False
    redraws: int = 30
    curve_step_kg: float = 1.0
    pattern_threshold: float | None = None
    foresight: bool = False
    seed: int = 0

    @property
    def step_kg(self) -> float:
        """Step of the curve [kg]."""
        return max(10.0, self.curve_step_kg) if self.quick else self.curve_step_kg
