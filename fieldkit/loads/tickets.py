"""Weighbridge tickets: what they say beyond the sum of what is listed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from math import fsum

from fieldkit.errors import several
from fieldkit.loads.aboard import Aboard, kerb_centre, seated
from fieldkit.loads.figures import LoadFigures
from fieldkit.loads.moments import front_share, wheel_share
from fieldkit.loads.result import MassEntry
from fieldkit.specs.trip import Ticket, Vehicle

WHEELS = ("front left", "front right", "rear left", "rear right")


@dataclass(frozen=True)
class Anchor:
    """What the tickets add to the sums: masses at the axles (or wheels) for the fitted state and for departure.

    ``unexplained_kg`` is their total, None when never weighed; ``weighed`` says by what, empty when never weighed.
    """

    fitted: tuple[MassEntry, ...]
    departure: tuple[MassEntry, ...]
    unexplained_kg: float | None
    weighed: str
    cautions: tuple[str, ...]


def anchor(vehicle: Vehicle, masses: Aboard, figures: LoadFigures, departure: date) -> Anchor:
    """Sums anchored to the latest ``kerb`` ticket (build and parts) and the latest ``as-packed`` one (departure).

    A kerb ticket is compared with the build and the parts fitted by its date, with the fuel and the people it names; without
    fuel named, the tanks count as full. An as-packed ticket is compared with everything aboard at departure, without the kit.
    Differences become masses at the axles or wheels weighed, positive or negative, named ``unexplained``.
    """
    kerb, packed = (_latest(vehicle.spec.weighed, kind) for kind in ("kerb", "as-packed"))
    by_kerb = _differences(vehicle, kerb, _at_kerb(vehicle, masses, kerb, figures)) if kerb else ()
    sum_packed = (*_at_packed(vehicle, masses, packed, figures), *by_kerb) if packed else ()
    by_packed = _differences(vehicle, packed, sum_packed) if packed else ()
    found = [t for t in (kerb, packed) if t]
    if not found:
        return Anchor((), (), None, "", (figures.text["never_weighed"],))
    return Anchor(
        by_kerb,
        by_kerb + by_packed,
        fsum(e.mass_kg for e in by_kerb + by_packed),
        "; ".join(_words(t) for t in found),
        tuple(_cautions(vehicle, kerb, by_kerb, packed, by_packed, figures, departure)),
    )


def _latest(tickets: Sequence[Ticket], kind: str) -> Ticket | None:
    found = [t for t in tickets if t.loaded == kind]
    return max(found, key=lambda t: t.date) if found else None


def _words(ticket: Ticket) -> str:
    state = {"kerb": "empty", "as-packed": "as packed"}[ticket.loaded]
    how = "wheel by wheel" if _by_wheel(ticket) else "axle by axle" if len(_axles(ticket)) == 2 else "one axle only"
    return f"weighed {ticket.date}, {state}, {how}"


def _by_wheel(ticket: Ticket) -> list[float] | None:
    wheels = [ticket.front_left_kg, ticket.front_right_kg, ticket.rear_left_kg, ticket.rear_right_kg]
    found = [w for w in wheels if w is not None]
    return found if len(found) == len(WHEELS) else None


def _axles(ticket: Ticket) -> dict[str, float]:
    if wheels := _by_wheel(ticket):
        return {"front": wheels[0] + wheels[1], "rear": wheels[2] + wheels[3]}
    pairs = {"front": ticket.front_kg, "rear": ticket.rear_kg}
    return {axle: kilograms for axle, kilograms in pairs.items() if kilograms is not None}


# ---------------------------------------------------------------------- what was on the bridge
def _at_kerb(vehicle: Vehicle, masses: Aboard, ticket: Ticket, figures: LoadFigures) -> tuple[MassEntry, ...]:
    later = set(_later_parts(vehicle, ticket))
    parts = tuple(e for key, group in masses.parts if key not in later for e in group)
    return _with_fuel(masses.built + parts, vehicle, ticket) + tuple(seated(vehicle, ticket.people, figures))


def _at_packed(vehicle: Vehicle, masses: Aboard, ticket: Ticket, figures: LoadFigures) -> tuple[MassEntry, ...]:
    packed = masses.fitted + masses.water + masses.loads + masses.ball
    return _with_fuel(packed, vehicle, ticket) + tuple(seated(vehicle, ticket.people, figures))


def _later_parts(vehicle: Vehicle, ticket: Ticket) -> list[str]:
    """Parts fitted after the weighing, by their dates; a part without a date counts as fitted before."""
    return [fitted.id for fitted, _ in vehicle.modifications if fitted.date and fitted.date > ticket.date]


def _with_fuel(entries: tuple[MassEntry, ...], vehicle: Vehicle, ticket: Ticket) -> tuple[MassEntry, ...]:
    """The masses with the fuel that the ticket names, the same share in every tank."""
    full_l = vehicle.archetype.fuel_tank_l + sum(part.fuel_l for _, part in vehicle.modifications)
    if ticket.fuel_l is None or full_l <= 0:
        return entries
    share = min(ticket.fuel_l / full_l, 1.0)
    return tuple(replace(e, mass_kg=e.mass_kg * share) if e.kind == "fuel" else e for e in entries)


# ------------------------------------------------------------------------------------ differences
def _differences(vehicle: Vehicle, ticket: Ticket, sums: Sequence[MassEntry]) -> tuple[MassEntry, ...]:
    """Ticket less sum as masses standing on the axles, or on the wheels, that were weighed."""
    length, track = vehicle.archetype.wheelbase_m, vehicle.archetype.track_m
    z = kerb_centre(vehicle)[1]
    if wheels := _by_wheel(ticket):
        found = []
        for i, weighed in enumerate(wheels):
            front, left = i < 2, i % 2 == 0
            summed = fsum(e.mass_kg * wheel_share(e, length, track, front, left) for e in sums)
            y = track / 2 if left else -track / 2
            found.append(_unexplained(WHEELS[i], weighed - summed, length if front else 0.0, y, z))
        return tuple(found)
    axles = []
    for axle, weighed in _axles(ticket).items():
        front = axle == "front"
        shares = [front_share(e.x_m, length) for e in sums]
        summed = fsum(e.mass_kg * (s if front else 1 - s) for e, s in zip(sums, shares, strict=True))
        axles.append(_unexplained(f"{axle} axle", weighed - summed, length if front else 0.0, 0.0, z))
    return tuple(axles)


def _unexplained(where: str, kilograms: float, x: float, y: float, z: float) -> MassEntry:
    return MassEntry(f"unexplained, {where}", kilograms, x, y, z, kind="unexplained")


# --------------------------------------------------------------------------------------- cautions
def _cautions(
    vehicle: Vehicle,
    kerb: Ticket | None,
    by_kerb: Sequence[MassEntry],
    packed: Ticket | None,
    by_packed: Sequence[MassEntry],
    figures: LoadFigures,
    departure: date,
) -> list[str]:
    found = []
    for ticket, entries in ((kerb, by_kerb), (packed, by_packed)):
        if ticket:
            found += _ticket_cautions(vehicle, ticket, entries, figures)
    newest = max(t.date for t in (kerb, packed) if t)
    days = (departure - newest).days
    if days > figures.verdict.stale_days:
        found.append(figures.text["old_ticket"].format(days=days))
    return found


def _ticket_cautions(vehicle: Vehicle, ticket: Ticket, entries: Sequence[MassEntry], figures: LoadFigures) -> list[str]:
    found, text = [], figures.text
    if later := _later_parts(vehicle, ticket):
        names = several(part.name for fitted, part in vehicle.modifications if fitted.id in later)
        found.append(text["not_all"].format(date=ticket.date, parts=names))
    if len(_axles(ticket)) < 2:
        found.append(text["one_axle"].format(date=ticket.date))
    kilograms = fsum(e.mass_kg for e in entries)
    weighed = fsum(_axles(ticket).values())
    verdict = figures.verdict
    if abs(kilograms) > max(verdict.unexplained_kg, verdict.unexplained_share * weighed):
        more = "more" if kilograms > 0 else "less"
        found.append(text["unexplained"].format(kg=f"{abs(kilograms):.0f}", date=ticket.date, more=more))
    return found
