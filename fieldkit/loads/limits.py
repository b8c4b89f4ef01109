"""A vehicle's limits: each is a sum over its masses, so margins and the ways back read the same rows."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import fsum

from fieldkit.loads.fitted_tyres import FittedTyre
from fieldkit.loads.moments import front_share, wheel_share
from fieldkit.loads.result import Margin, MassEntry
from fieldkit.loads.tickets import WHEELS
from fieldkit.specs.library import Place
from fieldkit.specs.trip import Vehicle


@dataclass(frozen=True)
class Limit:
    """``fixed_kg + sum(mass * share(mass)) <= limit_kg``; ``share`` gives kilograms per kilogram of an entry.

    ``most_kg`` is what the limit would be at best without changing a part: a tyre pumped up to its marked pressure.
    """

    id: str
    words: str
    limit_kg: float
    share: Callable[[MassEntry], float]
    fixed_kg: float = 0.0
    most_kg: float | None = None

    def actual_kg(self, entries: Sequence[MassEntry]) -> float:
        """What the masses put on this limit [kg]."""
        return self.fixed_kg + fsum(e.mass_kg * self.share(e) for e in entries)

    def margin(self, entries: Sequence[MassEntry]) -> Margin:
        """The limit against these masses."""
        return Margin(self.id, self.words, self.limit_kg, self.actual_kg(entries))

    def at_best(self) -> Limit:
        """The same limit with what costs nothing already done."""
        return self if self.most_kg is None else replace(self, limit_kg=max(self.limit_kg, self.most_kg))


def limits_of(vehicle: Vehicle, tyre: FittedTyre) -> tuple[Limit, ...]:
    """Every limit of a vehicle: gross, axles, tyres, roof and rack, places, trailer and combination.

    The roof has two: the maker's limit counts the rack itself, the rack's rating what lies on it; whichever is the
    tighter binds.
    """
    return (
        *_axles(vehicle),
        *_tyres(vehicle, tyre),
        *_roof(vehicle),
        *_places(vehicle),
        *_trailer(vehicle),
    )


def is_trailer(vehicle: Vehicle) -> bool:
    """Whether the vehicle is itself a trailer: its front mass is then its ball load."""
    return "trailer" in vehicle.archetype.features


def _axles(vehicle: Vehicle) -> list[Limit]:
    masses, length = vehicle.archetype.masses, vehicle.archetype.wheelbase_m
    front = "ball load at the coupling" if is_trailer(vehicle) else "front axle"
    rear = "axle" if is_trailer(vehicle) else "rear axle"
    return [
        Limit("gross", "gross vehicle mass", masses.gross_limit_kg, lambda e: 1.0),
        Limit("front-axle", front, masses.front_limit_kg, lambda e: front_share(e.x_m, length)),
        Limit("rear-axle", rear, masses.rear_limit_kg, lambda e: 1.0 - front_share(e.x_m, length)),
    ]


def _tyres(vehicle: Vehicle, tyre: FittedTyre) -> list[Limit]:
    length, track = vehicle.archetype.wheelbase_m, vehicle.archetype.track_m
    found = []
    for i, wheel in enumerate(WHEELS):
        front, left = i < 2, i % 2 == 0
        if front and is_trailer(vehicle):
            continue
        pressure = tyre.front_kpa if front else tyre.rear_kpa
        words = f"{wheel} tyre" + (f" at {pressure:.0f} kPa" if pressure else "")
        found.append(
            Limit(
                f"tyre-{wheel.replace(' ', '-')}",
                words,
                tyre.rating.carries_kg(pressure),
                _on_wheel(length, track, front, left),
                most_kg=tyre.rating.index_kg,
            )
        )
    return found


def _on_wheel(length_m: float, track_m: float, front: bool, left: bool) -> Callable[[MassEntry], float]:
    return lambda e: wheel_share(e, length_m, track_m, front, left)


# ------------------------------------------------------------------------------------------ roof
def rack_of(vehicle: Vehicle) -> tuple[str, str, float | None] | None:
    """The fitted roof rack: id, name and rating [kg] or None; None without one."""
    for fitted, part in vehicle.modifications:
        if "roof-rack" in part.adds or fitted.id == "roof-rack":
            return fitted.id, part.name, part.rated_kg
    return None


def _roof(vehicle: Vehicle) -> list[Limit]:
    found = [
        Limit(
            "roof-maker",
            "roof, the maker's limit with the rack counted",
            vehicle.archetype.masses.roof_limit_kg,
            lambda e: float(e.on_roof),
        )
    ]
    rack = rack_of(vehicle)
    if rack and rack[2] is not None:
        key = rack[0]
        found.append(
            Limit(
                "roof-rack",
                "roof, the rack's rating for what lies on it",
                rack[2],
                lambda e: float(e.on_roof and not (e.kind == "part" and e.item == key)),
            )
        )
    return found


# ---------------------------------------------------------------------------------------- places
def is_stowage(vehicle: Vehicle, key: str, place: Place) -> bool:
    """Whether kit and loads may go there: not a seat, and not a place of 0 L, which holds fitted parts or people."""
    return key not in vehicle.archetype.seat_rows and place.volume_l != 0


def _places(vehicle: Vehicle) -> list[Limit]:
    """Places' own limits: for stowage what is put there, for other places the fitted parts too."""
    return [
        Limit(f"place-{key}", place.name, place.limit_kg, _in_place(key, not is_stowage(vehicle, key, place)))
        for key, place in vehicle.places.items()
        if place.limit_kg is not None
    ]


def _in_place(key: str, with_parts: bool) -> Callable[[MassEntry], float]:
    return lambda e: float(e.place == key and e.kind != "person" and (with_parts or e.kind != "part"))


# --------------------------------------------------------------------------------------- trailer
def trailer_axle_kg(vehicle: Vehicle) -> float:
    """What the trailer's own axle carries: its mass less the ball load [kg]; 0 without a trailer."""
    trailer = vehicle.spec.trailer
    return trailer.mass_kg - trailer.ball_load_kg if trailer else 0.0


def _trailer(vehicle: Vehicle) -> list[Limit]:
    trailer, masses = vehicle.spec.trailer, vehicle.archetype.masses
    if trailer is None:
        return []
    found = []
    if masses.ball_load_limit_kg is not None:
        found.append(
            Limit("ball", "ball load on the tow bar", masses.ball_load_limit_kg, lambda e: float(e.kind == "ball"))
        )
    towed = [kg for kg in (masses.tow_limit_kg, _tow_bar_kg(vehicle)) if kg is not None]
    if towed:
        found.append(Limit("trailer", "trailer mass", min(towed), lambda e: 0.0, trailer.mass_kg))
    if masses.combination_limit_kg is not None:
        words, own = "gross combination mass", trailer_axle_kg(vehicle)
        found.append(Limit("combination", words, masses.combination_limit_kg, lambda e: 1.0, own))
    return found


def _tow_bar_kg(vehicle: Vehicle) -> float | None:
    rated = [p.rated_kg for _, p in vehicle.modifications if "tow-bar" in p.adds and p.rated_kg is not None]
    return min(rated, default=None)


# --------------------------------------------------------------------------------------- margins
def margins_of(limits: Sequence[Limit], entries: Sequence[MassEntry]) -> tuple[Margin, ...]:
    """The limits against these masses: of the two for the roof the tighter, called ``roof``; empty places are left out."""
    found = [limit.margin(entries) for limit in limits]
    roof = min((m for m in found if m.limit.startswith("roof-")), key=lambda m: (m.left_kg, m.limit))
    kept = []
    for margin in found:
        if margin.limit.startswith("roof-"):
            shown = margin is roof and (margin.limit_kg > 0 or margin.actual_kg > 0)
            kept += [replace(margin, limit="roof")] if shown else []
        elif not margin.limit.startswith("place-") or margin.actual_kg > 0:
            kept.append(margin)
    return tuple(kept)
