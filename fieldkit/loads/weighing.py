"""The main step of this rank: a trip's vehicles weighed in every state, with their limits and ways back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import fsum
from typing import Any, Literal

from fieldkit.errors import Fault, InputFaults
from fieldkit.loads.aboard import Aboard, KitLike, aboard, kit_entries, place_faults, seated
from fieldkit.loads.figures import LoadFigures, TyreFigures, load_figures, tyre_figures
from fieldkit.loads.fitted_tyres import FittedTyre, date_code_fault, fitted_tyre, tyre_faults
from fieldkit.loads.limits import (
    Limit,
    is_stowage,
    is_trailer,
    limits_of,
    margins_of,
    trailer_axle_kg,
)
from fieldkit.loads.moments import axle_loads
from fieldkit.loads.places import locator
from fieldkit.loads.result import AxleLoads, Loads, Margin, MassEntry, Room, VehicleLoads
from fieldkit.loads.tickets import Anchor, anchor
from fieldkit.loads.ways_back import ways_back
from fieldkit.specs.trip import Trip, Vehicle

#: Kilograms by which a limit may be passed before it counts: what rounding leaves.
SLACK_KG = 0.05


def weigh(
    trip: Trip,
    kit: KitLike | None = None,
    used_kg: Mapping[str, Mapping[str, Any]] | None = None,
    can_fuel_kg: Mapping[str, float] | None = None,
) -> Loads:
    """Every vehicle of a trip weighed: states, limits, what is left, and the cheapest ways back under a limit.

    Steps: the figures are checked; masses get their places; weighbridge tickets anchor the sums; states are weighed by
    moments; limits are laid against the last state before the trip; what is over is brought back by moving, leaving or
    fitting.

    Parameters
    ----------
    trip : Trip
    kit : KitLike or None
        Anything with ``items``, each with item, quantity, mass_kg (of one), vehicle and place. None: before the kit.
    used_kg : mapping or None
        Vehicle -> ``fuel``, ``water``, ``food`` -> array, shape (legs,): kilograms used up by the end of each leg [kg].
    can_fuel_kg : mapping or None
        Item id of a full fuel can -> the fuel in it [kg], which is used up before the tank's.

    Returns
    -------
    Loads
        By vehicle id.

    Raises
    ------
    InputFaults
        Every tyre size, load index, date code and place that cannot be read, of all vehicles.

    Notes
    -----
    Level ground, rigid vehicles, two axles. People sit on the centre line of their row, front rows first.
    """
    if faults := load_faults(trip, kit):
        raise InputFaults(faults)
    cases = [
        _Case(trip, vehicle, kit, _by_leg((used_kg or {}).get(vehicle.id, {})), can_fuel_kg or {})
        for vehicle in trip.vehicles
    ]
    found = {case.vehicle.id: case.weighed() for case in cases}
    return Loads({case.vehicle.id: replace(found[case.vehicle.id], ways_back=case.ways(found)) for case in cases})


def _by_leg(used: Mapping[str, Any]) -> tuple[dict[str, float], ...]:
    """Kilograms used up by the end of each leg, by kind."""
    legs = max((len(each) for each in used.values()), default=0)
    return tuple({kind: float(each[n]) for kind, each in used.items()} for n in range(legs))


def load_faults(trip: Trip, kit: KitLike | None = None) -> list[Fault]:
    """Everything in a trip's vehicles that keeps them from being weighed; empty when nothing does."""
    figures, faults = tyre_figures(trip.library), []
    for vehicle in trip.vehicles:
        at = locator(vehicle, trip)
        faults += [*tyre_faults(vehicle, figures, at), *place_faults(vehicle, kit, at)]
        if fault := date_code_fault(vehicle, trip.head.start, at):
            faults.append(fault)
    return sorted(set(faults), key=_by_place)


def _by_place(fault: Fault) -> tuple[str, int, str]:
    file, _, line = fault.place.partition(":")
    return file, int(line) if line.isdigit() else 0, fault.found


@dataclass(frozen=True)
class _Case:
    """One vehicle being weighed."""

    trip: Trip
    vehicle: Vehicle
    kit: KitLike | None
    used_kg: tuple[dict[str, float], ...]
    can_fuel_kg: Mapping[str, float]

    @cached_property
    def figures(self) -> LoadFigures:
        return load_figures(self.trip.library)

    @cached_property
    def tyre_figures(self) -> TyreFigures:
        return tyre_figures(self.trip.library)

    @cached_property
    def tyre(self) -> FittedTyre:
        return fitted_tyre(self.vehicle, self.tyre_figures)

    @cached_property
    def masses(self) -> Aboard:
        return aboard(self.vehicle, self.figures, self.tyre_figures)

    @cached_property
    def anchored(self) -> Anchor:
        return anchor(self.vehicle, self.masses, self.figures, self.trip.head.start)

    @cached_property
    def limits(self) -> tuple[Limit, ...]:
        return limits_of(self.vehicle, self.tyre)

    @cached_property
    def before_kit(self) -> tuple[MassEntry, ...]:
        return self.masses.departure + self.anchored.departure

    @cached_property
    def entries(self) -> tuple[MassEntry, ...]:
        """Everything that leaves: with the kit when there is one."""
        carried = kit_entries(self.vehicle, self.kit, self.trip.library, self.can_fuel_kg) if self.kit else ()
        return self.before_kit + carried

    def weighed(self) -> VehicleLoads:
        entries, masses, anchored = self.entries, self.masses, self.anchored
        margins = margins_of(self.limits, entries)
        tightest = max((m for m in margins if not _only_full(m)), key=_used)
        states = self._states(masses, anchored)
        return VehicleLoads(
            vehicle=self.vehicle.id,
            entries=entries,
            states=states,
            margins=margins,
            payload_left_kg=min(m.left_kg for m in margins if m.limit in ("gross", "combination")),
            binding=tightest.words,
            verdict=_verdict(tightest, self.figures),
            room=_rooms(self, entries),
            ratios=_ratios(self, states["with-budget"]),
            tyre_ratio=self.tyre.ratio,
            unexplained_kg=anchored.unexplained_kg,
            weighed=anchored.weighed,
            cautions=tuple(dict.fromkeys((*anchored.cautions, *masses.cautions, *_cautions(self, margins, states)))),
        )

    def _states(self, masses: Aboard, anchored: Anchor) -> dict[str, AxleLoads]:
        share = self.figures.running_order.fuel_share
        driver = tuple(seated(self.vehicle, 1, self.figures)) if self.vehicle.archetype.seat_rows else ()
        states = {"as-built": self.state(masses.built)}
        states["running-order"] = self.state(_fuel_at(masses.built, share) + driver)
        entries = masses.built
        for key, group in masses.parts:
            entries = entries + group
            states[f"after-{key}"] = self.state(entries)
        fitted = masses.fitted + anchored.fitted
        states["fitted"] = self.state(fitted)
        states["actual"] = self.state(_fuel_at(fitted, share) + driver)
        states["departure"] = self.state(self.before_kit)
        states["with-budget"] = self.state(self.before_kit + _budget(self))
        if self.kit is not None:
            states["with-kit"] = self.state(self.entries)
        for leg, used in enumerate(self.used_kg, 1):
            states[f"leg-{leg}"] = self.state(after_use(self.entries, used))
        return states

    def state(self, entries: Iterable[MassEntry]) -> AxleLoads:
        """Axle loads of a state, with the combination mass where there is a trailer."""
        build = self.vehicle.archetype
        loads = axle_loads(entries, build.wheelbase_m, build.track_m)
        if self.vehicle.spec.trailer is None:
            return loads
        return replace(loads, combination_kg=loads.gross_kg + trailer_axle_kg(self.vehicle))

    def ways(self, found: Mapping[str, VehicleLoads]) -> tuple[str, ...]:
        mine = found[self.vehicle.id]
        others = {
            self.trip.vehicle(key).name: v.payload_left_kg
            for key, v in found.items()
            if key != self.vehicle.id and v.verdict == "within"
        }
        return ways_back(self.trip, self.vehicle, mine, self.limits, others)


def after_use(entries: Sequence[MassEntry], used_kg: Mapping[str, float]) -> tuple[MassEntry, ...]:
    """Masses after so many kilograms of fuel, water and food are gone [kg]; no more goes than is aboard.

    Fuel in cans goes before the tank's, since a can is poured as soon as the tank has room for it; the rest of a kind in
    proportion.

    Examples
    --------
    >>> tank = MassEntry("diesel", 60, 0.3, 0, 0.6, kind="fuel", used_up=True)
    >>> can = MassEntry("diesel can", 21, -0.9, 0, 0.9, kind="kit", fuel_kg=17)
    >>> [round(e.mass_kg) for e in after_use([tank, can], {"fuel": 27})]
    [50, 4]
    """
    left = {kind: max(0.0, kg) for kind, kg in used_kg.items()}
    in_cans = fsum(e.fuel_kg for e in entries)
    share = min(left.get("fuel", 0.0) / in_cans, 1.0) if in_cans > 0 else 0.0
    poured = [replace(e, mass_kg=e.mass_kg - share * e.fuel_kg, fuel_kg=(1.0 - share) * e.fuel_kg) for e in entries]
    left["fuel"] = max(0.0, left.get("fuel", 0.0) - in_cans)
    held: dict[str, float] = {}
    for e in poured:
        held[_used_as(e)] = held.get(_used_as(e), 0.0) + (e.mass_kg if e.used_up else 0.0)
    gone = {kind: min(left.get(kind, 0.0) / kg, 1.0) for kind, kg in held.items() if kg > 0}
    return tuple(replace(e, mass_kg=e.mass_kg * (1.0 - gone[_used_as(e)])) if e.used_up else e for e in poured)


def _used_as(entry: MassEntry) -> str:
    """What an entry is used up as: fuel, water, or food for any other load marked so."""
    return entry.kind if entry.kind in ("fuel", "water") else "food"


def _fuel_at(entries: Sequence[MassEntry], share: float) -> tuple[MassEntry, ...]:
    return tuple(replace(e, mass_kg=e.mass_kg * share) if e.kind == "fuel" else e for e in entries)


def _used(margin: Margin) -> float:
    """Share of a limit used; a limit of nothing is passed by anything."""
    if margin.limit_kg > 0:
        return margin.actual_kg / margin.limit_kg
    return float("inf") if margin.actual_kg > SLACK_KG else 0.0


def _only_full(margin: Margin) -> bool:
    """A stowage place filled to its limit is full, not a limit that the vehicle drives at."""
    return margin.limit.startswith("place-") and margin.left_kg >= -SLACK_KG


def _verdict(tightest: Margin, figures: LoadFigures) -> Literal["within", "at the limit", "overloaded"]:
    if tightest.left_kg < -SLACK_KG:
        return "overloaded"
    return "at the limit" if _used(tightest) >= figures.verdict.near else "within"


# ------------------------------------------------------------------------------------------ rooms
def _rooms(case: _Case, entries: Sequence[MassEntry]) -> tuple[Room, ...]:
    """What each stowage place still takes, the roof no more than its limit leaves."""
    left = {limit.id: limit.margin(entries).left_kg for limit in case.limits}
    roof = min(kg for key, kg in left.items() if key.startswith("roof-"))
    rooms = []
    for key, place in case.vehicle.places.items():
        if not is_stowage(case.vehicle, key, place):
            continue
        bounds = [left[f"place-{key}"]] if place.limit_kg is not None else []
        bounds += [roof] if place.on_roof else []
        mass = max(0.0, min(bounds)) if bounds else None
        rooms.append(
            Room(
                key,
                place.name,
                mass,
                _volume_left(case, key, place.volume_l),
                place.longest_cm,
                place.x_m,
                place.y_m,
                place.z_m,
                place.on_roof,
                place.in_cabin,
                place.reachable_bogged,
                place.ventilated,
                place.holds,
            )
        )
    return tuple(rooms)


def _volume_left(case: _Case, key: str, volume_l: float | None) -> float | None:
    if volume_l is None or case.kit is None:
        return volume_l
    items = case.trip.library.items
    mine = [line for line in case.kit.items if line.vehicle == case.vehicle.id and line.place == key]
    return max(0.0, volume_l - sum(items[line.item].volume_l * line.quantity for line in mine if line.item in items))


# --------------------------------------------------------------------------------- driver ratios
def _budget(case: _Case) -> tuple[MassEntry, ...]:
    """The whole kit budget in the middle of the stowage inside: its own limit, else the trip's, as far as it has payload."""
    limits = [limit for limit in case.limits if limit.id in ("gross", "combination")]
    left = min(limit.margin(case.before_kit).left_kg for limit in limits)
    own = case.vehicle.entry.kit_mass_kg
    wanted = case.trip.head.limits.kit_mass_kg if own is None else own
    kilograms = max(0.0, min(wanted, left))
    stowage = [p for k, p in case.vehicle.places.items() if is_stowage(case.vehicle, k, p)]
    spots = [p for p in stowage if not p.on_roof and not p.holds]
    if not kilograms or not spots or is_trailer(case.vehicle):
        return ()
    weights = [p.volume_l or 1.0 for p in spots]
    x, y, z = (
        fsum(getattr(p, axis) * w for p, w in zip(spots, weights, strict=True)) / fsum(weights)
        for axis in ("x_m", "y_m", "z_m")
    )
    return (MassEntry("kit budget", kilograms, x, y, z, kind="kit"),)


def _ratios(case: _Case, state: AxleLoads) -> dict[str, float]:
    """Drivers of wear: this vehicle with its kit budget over the build with 80 % of its payload, shared out as its axles have room."""
    masses, reference = case.vehicle.archetype.masses, case.figures.reference
    kerb = masses.kerb_front_kg + masses.kerb_rear_kg
    payload = reference.payload_share * (masses.gross_limit_kg - kerb)
    rooms = masses.front_limit_kg - masses.kerb_front_kg, masses.rear_limit_kg - masses.kerb_rear_kg
    front = rooms[0] / (rooms[0] + rooms[1]) if min(rooms) >= 0 and sum(rooms) > 0 else masses.kerb_front_kg / kerb
    roof = reference.roof_share * (masses.roof_limit_kg or reference.roof_limit_kg)
    return {
        "mass": state.gross_kg / (kerb + payload),
        "front_load": state.front_kg / (masses.kerb_front_kg + front * payload),
        "rear_load": state.rear_kg / (masses.kerb_rear_kg + (1 - front) * payload),
        "roof": max(reference.roof_floor, state.roof_kg / roof),
    }


# --------------------------------------------------------------------------------------- cautions
def _cautions(case: _Case, margins: Sequence[Margin], states: Mapping[str, AxleLoads]) -> list[str]:
    text, found = case.figures.text, []
    if any(m.left_kg < -SLACK_KG for m in margins):
        found.append(text["over"])
    if "roof-tent" in case.vehicle.features:
        found.append(text["roof_tent"])
    found += [*_trailer_cautions(case), *_tyre_cautions(case), *_leg_cautions(case, margins)]
    last = states.get("with-kit", states["departure"])
    front = last.front_kg / last.gross_kg if last.gross_kg else 1.0
    if not is_trailer(case.vehicle) and front < case.figures.verdict.front_share_low:
        found.append(text["front_light"].format(share=f"{100 * front:.0f} %"))
    return [*found, text["wheels"], text["roll"].format(loss=case.figures.roll.sprung_loss_deg)]


def _trailer_cautions(case: _Case) -> list[str]:
    trailer, text, share = case.vehicle.spec.trailer, case.figures.text, case.figures.trailer
    if trailer is None:
        return []
    found = [] if case.vehicle.archetype.masses.ball_load_limit_kg is not None else [text["no_ball_limit"]]
    ball = trailer.ball_load_kg / trailer.mass_kg if trailer.mass_kg else 0.0
    said = f"{100 * ball:.0f} %"
    if ball < share.ball_share_low:
        found.append(text["ball_low"].format(share=said, low=f"{100 * share.ball_share_low:.0f} %"))
    if ball > share.ball_share_high:
        found.append(text["ball_high"].format(share=said, high=f"{100 * share.ball_share_high:.0f} %"))
    return found


def _tyre_cautions(case: _Case) -> list[str]:
    text, tyre = case.figures.text, case.tyre
    if tyre.front_kpa is None or tyre.rear_kpa is None:
        return [text["tyre_pressure_unknown"]]
    if tyre.rating.assumed:
        return [text["index_pressure_assumed"].format(kpa=f"{tyre.rating.index_kpa:.0f}")]
    return []


def _leg_cautions(case: _Case, margins: Sequence[Margin]) -> list[str]:
    """Limits kept at departure that are passed later, as what is used up leaves its place: from which leg, and by how much at worst."""
    over = {m.limit for m in margins if m.left_kg < -SLACK_KG}
    first: dict[str, int] = {}
    worst: dict[str, Margin] = {}
    for leg, used in enumerate(case.used_kg, 1):
        for margin in margins_of(case.limits, after_use(case.entries, used)):
            if margin.left_kg < -SLACK_KG and margin.limit not in over:
                first.setdefault(margin.limit, leg)
                worst[margin.limit] = min(worst.get(margin.limit, margin), margin, key=lambda m: m.left_kg)
    text = case.figures.text["legs_over"]
    return [text.format(limit=m.words, kg=f"{-m.left_kg:.0f}", leg=first[key]) for key, m in worst.items()]
