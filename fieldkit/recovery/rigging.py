"""Statics of lines, blocks, bridles, shackles and drums."""

from __future__ import annotations

from itertools import pairwise
from math import ceil, cos, radians, sin

from fieldkit.recovery.figures import RecoveryFigures, recovery_figures


def least_lines(pull_kgf: float, winch_kgf: float) -> int:
    """Parts of line to begin with: pull over winch capacity, rounded up, at least 1.

    References
    ----------
    .. [1] US Army lesson 63H34F01 supplement 1b, rigging formula block: MA = LR / WC rounded up.

    Examples
    --------
    >>> least_lines(40_000, 25_000)
    2
    """
    if winch_kgf <= 0:
        raise ValueError(f"winch capacity {winch_kgf:g} must be above 0")
    return max(1, ceil(round(pull_kgf / winch_kgf, 9)))


def sheaves_of(lines: int) -> int:
    """Sheaves that a rig of so many parts of line turns round: one less.

    Examples
    --------
    >>> sheaves_of(3)
    2
    """
    return lines - 1


def fall_line(
    pull_kgf: float, lines: int, sheave_loss: float | None = None, figures: RecoveryFigures | None = None
) -> tuple[float, float]:
    """Total pull with the sheaves' resistance, and the force in the line that the winch pulls.

    total = pull * (1 + loss * sheaves); fall line = total / lines.

    Parameters
    ----------
    pull_kgf : float
        Pull needed, before the rig's own resistance [kgf].
    lines : int
        Parts of line, 1 or more.
    sheave_loss : float or None
        Share of the pull lost at each sheave [-]; the figures' (10 %) when None.

    Returns
    -------
    (float, float)
        Total and fall-line force [kgf].

    References
    ----------
    .. [1] US Army lesson 63H34F01 supplement 1b: tackle resistance 10 % of the load resistance for each sheave.
    .. [2] NAVEDTRA builder training manual, mechanical advantage: about 10 % of the load for each sheave.

    Examples
    --------
    >>> [round(f) for f in fall_line(40_000, 2)]
    [44000, 22000]
    """
    if lines < 1:
        raise ValueError(f"{lines} parts of line; at least 1")
    loss = (figures or recovery_figures()).rigging.sheave_loss if sheave_loss is None else sheave_loss
    total = pull_kgf * (1 + loss * sheaves_of(lines))
    return total, total / lines


def block_load(line_kgf: float, included_deg: float = 0.0) -> float:
    """Load on a snatch block: line pull * 2 cos(included angle / 2) [kgf].

    Parameters
    ----------
    line_kgf : float
        Force in the line [kgf].
    included_deg : float
        Angle between the two parts of the line [degrees], 0 (doubled back) to 180 (straight on).

    Raises
    ------
    ValueError
        If the angle is not 0 to 180.

    Examples
    --------
    >>> round(block_load(1000, 50)), round(block_load(1000, 120))
    (1813, 1000)
    """
    if not 0 <= included_deg <= 180:
        raise ValueError(f"included angle {included_deg:g} degrees is not 0 to 180")
    return line_kgf * 2 * cos(radians(included_deg / 2))


def bridle_leg(load_kgf: float, included_deg: float, figures: RecoveryFigures | None = None) -> float:
    """Force in each leg of an even two-leg bridle: load / (2 cos(included angle / 2)) [kgf].

    Raises
    ------
    ValueError
        If the legs stand wider than 120 degrees: each then carries more than the whole load, and no shackle its full rating.

    Examples
    --------
    >>> round(bridle_leg(100, 60), 1), round(bridle_leg(100, 120), 1)
    (57.7, 100.0)
    """
    most = (figures or recovery_figures()).rigging.bridle_most_deg
    if not 0 <= included_deg <= most:
        raise ValueError(f"bridle of {included_deg:g} degrees is not 0 to {most:g}: lengthen it")
    return load_kgf / (2 * cos(radians(included_deg / 2)))


def sling_factor(horizontal_deg: float, figures: RecoveryFigures | None = None) -> float:
    """Tension in a sling leg over its share of the load [-]: 1 / sin(angle from the horizontal).

    Raises
    ------
    ValueError
        Below 30 degrees from the horizontal (ASME B30.9, in a restatement), or above 90.

    Examples
    --------
    >>> round(sling_factor(45), 3)
    1.414
    """
    least = (figures or recovery_figures()).rigging.sling_least_deg
    if not least <= horizontal_deg <= 90:
        raise ValueError(f"sling at {horizontal_deg:g} degrees from the horizontal is not {least:g} to 90")
    return 1 / sin(radians(horizontal_deg))


def shackle_share(off_line_deg: float, figures: RecoveryFigures | None = None) -> float:
    """Share of a shackle's working load left when it is pulled off its line [-]: 1, 0.7 or 0.5, never in between.

    Raises
    ------
    ValueError
        Beyond 90 degrees: turn the shackle.

    Examples
    --------
    >>> shackle_share(0), shackle_share(45), shackle_share(90)
    (1.0, 0.7, 0.5)
    """
    bands = (figures or recovery_figures()).rigging.shackle_bands
    for most, share in bands:
        if 0 <= off_line_deg <= most:
            return share
    raise ValueError(f"shackle {off_line_deg:g} degrees off its line is not 0 to {bands[-1][0]:g}")


def plain_shackle_kgf(pin_mm: float) -> float:
    """What a shackle of plain steel carries by the diameter of its bow's steel [kgf]: 0.417 t for each square centimetre of diameter.

    Only to see whether a mark is believable. A shackle without a mark never goes into a rig: sources disagree on what breaking
    strength a mark stands for, so nothing is reckoned back from a size.

    References
    ----------
    .. [1] US Navy steelworker manual: SWL [t] = 0.417 D^2, D in cm; SWL [short tons] = 3 D^2, D in inches.

    Examples
    --------
    >>> round(plain_shackle_kgf(15.9))
    1054
    """
    return 417.0 * (pin_mm / 10) ** 2


def sling_rating(one_leg_kgf: float, hitch: str, figures: RecoveryFigures | None = None) -> float:
    """Rating of a sling by how it is laid [kgf]: one leg's rating times the multiplier of the hitch.

    Parameters
    ----------
    hitch : str
        ``single``, ``choke``, ``basket``, ``two-to-90``, ``two-to-120`` (included angle, degrees) or ``three-or-four``.

    Raises
    ------
    ValueError
        If there is no such hitch.

    References
    ----------
    .. [1] Factors of a UK lifting association (seen in a restatement).

    Examples
    --------
    >>> sling_rating(4000, "basket")
    8000.0
    """
    legs = (figures or recovery_figures()).legs
    if hitch not in legs:
        raise ValueError(f"unknown hitch '{hitch}'; one of: {', '.join(legs)}")
    return one_leg_kgf * legs[hitch]


def bend_loss(sheave_over_rope: float, figures: RecoveryFigures | None = None) -> float:
    """Share of a wire rope's strength lost round a sheave [-], by sheave over rope diameter; straight between the points.

    Raises
    ------
    ValueError
        Below that ratio: no figure is known.

    Examples
    --------
    >>> bend_loss(8), round(bend_loss(9), 3)
    (0.17, 0.155)
    """
    table = (figures or recovery_figures()).rigging.bend_loss
    if sheave_over_rope < table[0][0]:
        raise ValueError(
            f"a sheave of {sheave_over_rope:g} rope diameters is smaller than any figure ({table[0][0]:g})"
        )
    for (low, loss), (high, next_loss) in pairwise(table):
        if sheave_over_rope <= high:
            return loss + (sheave_over_rope - low) / (high - low) * (next_loss - loss)
    return table[-1][1]


def winch_pull_by_layer(rated_kgf: float, layer: int, figures: RecoveryFigures | None = None) -> float:
    """What a winch pulls with its rope on a layer of the drum [kgf]; layer 1 lies on the drum itself.

    Common practice, no source: 10 to 12 % less for each layer.

    Raises
    ------
    ValueError
        If the layer is not in the table.

    Examples
    --------
    >>> round(winch_pull_by_layer(4300, 1)), round(winch_pull_by_layer(4300, 3))
    (4300, 3311)
    """
    factors = (figures or recovery_figures()).winch.layer_factors
    if not 1 <= layer <= len(factors):
        raise ValueError(f"layer {layer} is not 1 to {len(factors)}")
    return rated_kgf * factors[layer - 1]


def strap_range_kg(lighter_gvm_kg: float, figures: RecoveryFigures | None = None) -> tuple[float, float]:
    """Breaking strengths that suit: 2 to 3 times the gross vehicle mass of the lighter of the two vehicles [kg].

    Examples
    --------
    >>> strap_range_kg(3000)
    (6000.0, 9000.0)
    """
    straps = (figures or recovery_figures()).straps
    return straps.low * lighter_gvm_kg, straps.high * lighter_gvm_kg


def strap_accepts(mbs_kg: float, lighter_gvm_kg: float, figures: RecoveryFigures | None = None) -> bool:
    """Whether a recovery strap's breaking strength suits the lighter vehicle, both ends included.

    Parameters
    ----------
    mbs_kg : float
        Minimum breaking strength marked on the strap [kg].
    lighter_gvm_kg : float
        Gross vehicle mass of the lighter of the two vehicles [kg].

    References
    ----------
    .. [1] Australia, Consumer Goods (Motor Vehicle Recovery Straps) Safety Standard 2017, as summarised by the product-safety
       regulator.

    Examples
    --------
    >>> strap_accepts(6000, 3000), strap_accepts(5999, 3000), strap_accepts(9001, 3000)
    (True, False, False)
    """
    low, high = strap_range_kg(lighter_gvm_kg, figures)
    return low <= mbs_kg <= high


def exclusion_m(line_out_m: float, figures: RecoveryFigures | None = None) -> float:
    """Radius that everybody keeps from a loaded line [m]: one and a half times what is out (common practice, no source).

    Examples
    --------
    >>> exclusion_m(20)
    30.0
    """
    return line_out_m * (figures or recovery_figures()).rigging.zone_lines
