"""The pull that frees a stuck vehicle: rolling, slope, mire and damage, low and high since sources disagree."""

from __future__ import annotations

from collections.abc import Mapping
from math import cos, radians, sin

from fieldkit.errors import nearest_name
from fieldkit.recovery.figures import RecoveryFigures, Spread, recovery_figures
from fieldkit.recovery.result import Pull
from fieldkit.specs.library import Surface

STEEPEST_DEG = 45.0


def recovery_pull(
    gross_kg: float,
    surface: Surface,
    slope_deg: float = 0.0,
    depth: str = "none",
    damage: str = "none",
    figures: RecoveryFigures | None = None,
) -> Pull:
    """Pull that moves a stuck vehicle, by its parts.

    pull = W * (rolling * cos(slope) + sin(slope) + mire + damage), each with a low and a high figure except the slope, which is
    the true sine. The high rolling figure is the higher of the surface's and of what starts a standing vehicle.

    Parameters
    ----------
    gross_kg : float
        Laden mass W [kg], above 0.
    surface : Surface
        Gives the rolling resistance.
    slope_deg : float
        In the direction of the pull, uphill positive [degrees], -45 to 45.
    depth : str
        ``none``, ``rim``, ``axle`` or ``sills`` (the keys of [mire]).
    damage : str
        ``none``, ``one-wheel-locked`` ... (the keys of [damage]).

    Returns
    -------
    Pull
        [kgf]; parts in the order rolling, slope, mire, damage. Never below 0 in sum.

    Raises
    ------
    ValueError
        If the mass is not above 0, the slope beyond 45 degrees, or the depth or damage unknown (names the nearest).

    Notes
    -----
    No help from driven wheels is counted. The rule "degrees / 60" of recovery crews is up to 4.5 % too low below 30 degrees and is
    not used.

    Examples
    --------
    >>> from fieldkit.specs.library import Surface
    >>> sand = Surface.model_construct(id="sand", rolling_low=0.1, rolling_high=0.3)
    >>> pull = recovery_pull(3000, sand, slope_deg=30, depth="none")
    >>> round(pull.parts[1][1]), round(pull.low_kgf)
    (1500, 1760)

    References
    ----------
    .. [1] US Army lesson 63H34F01 supplement 1b (after FM 9-43-2): load resistance by a mire factor on vehicle and cargo.
    """
    figures = figures or recovery_figures()
    if gross_kg <= 0:
        raise ValueError(f"mass {gross_kg:g} kg must be above 0")
    if not -STEEPEST_DEG <= slope_deg <= STEEPEST_DEG:
        raise ValueError(f"slope {slope_deg:g} degrees is beyond -45 to 45")
    mire, harm = _known(figures.mire, depth, "depth"), _known(figures.damage, damage, "damage")
    level, up = cos(radians(slope_deg)), sin(radians(slope_deg))
    high = max(surface.rolling_high, figures.to_move.get(surface.id, 0.0))
    parts = (
        ("rolling", gross_kg * surface.rolling_low * level, gross_kg * high * level),
        ("slope", gross_kg * up, gross_kg * up),
        ("mire", gross_kg * mire.low, gross_kg * mire.high),
        ("damage", gross_kg * harm.low, gross_kg * harm.high),
    )
    return Pull(max(0.0, sum(p[1] for p in parts)), max(0.0, sum(p[2] for p in parts)), parts)


def _known(table: Mapping[str, Spread], key: str, what: str) -> Spread:
    if key not in table:
        near = nearest_name(key, table)
        hint = f"; did you mean '{near}'?" if near else ""
        raise ValueError(f"unknown {what} '{key}'; one of: {', '.join(table)}{hint}")
    return table[key]
