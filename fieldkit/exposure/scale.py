"""A published remoteness scale: road distance to the nearest centre of five sizes, over the mean, capped and added."""

from __future__ import annotations

from collections.abc import Sequence

from fieldkit.exposure.settings import ScaleFigures


def remoteness_score(distances_km: Sequence[float], means_km: Sequence[float], figures: ScaleFigures) -> float:
    """ARIA+ score of a place: the sum of five ratios, each capped at 3 [1]_.

    Parameters
    ----------
    distances_km : sequence of 5 floats
        Road distance to the nearest centre of each size [km], 0 or more; infinity counts as the cap.
    means_km : sequence of 5 floats
        National mean of that distance [km], above 0.
    figures : ScaleFigures

    Returns
    -------
    float
        0 (a large city) to 15.

    Raises
    ------
    ValueError
        If the two do not have equal lengths.

    Examples
    --------
    >>> from fieldkit.exposure.settings import remoteness_figures
    >>> scale = remoteness_figures().scale
    >>> remoteness_score([100, 200, 400, 50, 500], [100, 100, 100, 100, 100], scale)
    9.5
    >>> remoteness_class(9.5, scale)
    'remote'

    References
    ----------
    .. [1] ARIA+: University of Adelaide, "About ARIA+"; Australian health department, ARIA Review Report 2011, section 2.3.
    """
    pairs = zip(distances_km, means_km, strict=True)
    return float(sum(min(distance / mean, figures.most) for distance, mean in pairs))


def remoteness_class(score: float, figures: ScaleFigures) -> str:
    """The class of a score; upper bounds are included (AIHW 2004, remoteness areas RA1 to RA5).

    Examples
    --------
    >>> from fieldkit.exposure.settings import remoteness_figures
    >>> remoteness_class(2.4, remoteness_figures().scale)
    'inner regional'
    """
    return next((name for bound, name in figures.classes if score <= bound), figures.classes[-1][1])
