"""Axle and wheel loads by moments: every mass with its place."""

from __future__ import annotations

from collections.abc import Iterable
from math import atan2, degrees, fsum

from fieldkit.loads.result import AxleLoads, MassEntry


def front_share(x_m: float, wheelbase_m: float) -> float:
    """Share of a mass that the front axle carries [-]; x ahead of the rear axle [m].

    Moments about the rear axle: front = m * x / L. Below 0 behind the rear axle (it lifts the front), above 1 ahead of the front one.

    References
    ----------
    .. [1] A truck body-builder manual, appendix B (title withheld, it carries a brand): rear = m * (L - x) / L.

    Examples
    --------
    >>> front_share(-0.5, 2.85)
    -0.175438
    """
    return x_m / wheelbase_m


def left_share(y_m: float, track_m: float) -> float:
    """Share of an axle's load on its left wheel [-]; y left of the centre line [m].

    Examples
    --------
    >>> left_share(0.75, 1.5), left_share(0, 1.5)
    (1.0, 0.5)
    """
    return 0.5 + y_m / track_m


def axle_loads(entries: Iterable[MassEntry], wheelbase_m: float, track_m: float) -> AxleLoads:
    """Gross, axle and wheel loads of a set of masses, by moments about the rear axle.

    Parameters
    ----------
    entries : iterable of MassEntry
        Masses [kg] with x ahead of the rear axle, y left of the centre line, z above ground [m]. Negative masses (parts taken
        away, weighbridge differences) are allowed.
    wheelbase_m, track_m : float
        Distance between the axles and between the wheels of one axle [m], above 0.

    Returns
    -------
    AxleLoads
        [kg]; front and rear add to gross, the four wheels too. ``combination_kg`` is None: only the caller knows the trailer.

    Raises
    ------
    ValueError
        If the wheelbase or the track is not above 0.

    Notes
    -----
    Statics of a level, rigid vehicle with two axles. How springs and the chassis' twist share a sideways moment between the axles is
    unknown: each mass is shared sideways in the same proportion on both. The tipping angle is atan((track / 2 - |y|) / height), for a
    rigid body on firm ground.

    Examples
    --------
    >>> build = MassEntry("build", 2000, 1.25, 0.0, 0.8)
    >>> behind = MassEntry("cans", 100, -0.5, 0.0, 1.0)
    >>> loads = axle_loads([build, behind], wheelbase_m=2.5, track_m=1.5)
    >>> loads.gross_kg, loads.front_kg, loads.rear_kg
    (2100.0, 980.0, 1120.0)
    """
    if wheelbase_m <= 0 or track_m <= 0:
        raise ValueError(f"wheelbase {wheelbase_m:g} m and track {track_m:g} m must be above 0")
    found = list(entries)
    gross = fsum(e.mass_kg for e in found)
    front = fsum(e.mass_kg * front_share(e.x_m, wheelbase_m) for e in found)
    height = fsum(e.mass_kg * e.z_m for e in found) / gross if gross > 0 else 0.0
    side = fsum(e.mass_kg * e.y_m for e in found) / gross if gross > 0 else 0.0
    return AxleLoads(
        gross_kg=gross,
        front_kg=front,
        rear_kg=gross - front,
        wheels_kg=_wheels(found, wheelbase_m, track_m),
        roof_kg=fsum(e.mass_kg for e in found if e.on_roof),
        ball_kg=fsum(e.mass_kg for e in found if e.kind == "ball"),
        combination_kg=None,
        centre_height_m=height,
        static_roll_deg=_tipping_deg(track_m, side, height),
    )


def _wheels(entries: list[MassEntry], wheelbase_m: float, track_m: float) -> tuple[float, float, float, float]:
    front_left = fsum(_on(e, wheelbase_m, track_m, True, True) for e in entries)
    front_right = fsum(_on(e, wheelbase_m, track_m, True, False) for e in entries)
    rear_left = fsum(_on(e, wheelbase_m, track_m, False, True) for e in entries)
    rear_right = fsum(_on(e, wheelbase_m, track_m, False, False) for e in entries)
    return front_left, front_right, rear_left, rear_right


def _on(entry: MassEntry, wheelbase_m: float, track_m: float, front: bool, left: bool) -> float:
    return entry.mass_kg * wheel_share(entry, wheelbase_m, track_m, front, left)


def wheel_share(entry: MassEntry, wheelbase_m: float, track_m: float, front: bool, left: bool) -> float:
    """Share of a mass that one wheel carries [-]; the four shares add to 1."""
    ahead, across = front_share(entry.x_m, wheelbase_m), left_share(entry.y_m, track_m)
    return (ahead if front else 1 - ahead) * (across if left else 1 - across)


def _tipping_deg(track_m: float, side_m: float, height_m: float) -> float:
    arm = max(track_m / 2 - abs(side_m), 0.0)
    return degrees(atan2(arm, height_m)) if height_m > 0 else 90.0
