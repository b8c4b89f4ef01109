"""The cheapest ways back under a limit: pump up, move, leave behind, fit. Computed for each vehicle, never a canned list.

What to move and what to leave is an integer program: every limit is a sum over masses, a thing may go to any place that takes it
or stay at home, and each kilogram has its price in ``settings/loads.toml``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from fieldkit.errors import several
from fieldkit.hushed import hushed
from fieldkit.loads.aboard import part_entry
from fieldkit.loads.figures import LoadFigures, load_figures, tyre_figures
from fieldkit.loads.fitted_tyres import FittedTyre, features_of, fitted_tyre
from fieldkit.loads.limits import Limit, limits_of
from fieldkit.loads.result import MassEntry, Room, VehicleLoads
from fieldkit.loads.tyre_load import least_load_index, rounded_up_kpa
from fieldkit.specs.library import Modification
from fieldkit.specs.trip import Trip, Vehicle

#: A limit counts as kept within this [kg]: what rounding leaves.
SLACK_KG = 0.05
#: Price of a kilogram that stays over a limit; above every other price.
OVER_PRICE = 1e5
#: Nodes of one search: a count, not a clock, so that the same loads give the same words on any machine.
MOST_NODES = 2000


def ways_back(
    trip: Trip,
    vehicle: Vehicle,
    loads: VehicleLoads,
    limits: Sequence[Limit],
    others: Mapping[str, float],
) -> tuple[str, ...]:
    """What brings an overloaded vehicle back under every limit, cheapest first; empty when nothing is over.

    Parameters
    ----------
    trip, vehicle, loads, limits
        As weighed.
    others : mapping
        Payload left [kg] of the convoy's other vehicles, by name.

    Returns
    -------
    tuple of str
        Sentences for the page.

    Raises
    ------
    Nothing of its own.
    """
    if not over_by(limits, loads.entries):
        return ()
    case = _Case(trip, vehicle, loads, tuple(limits), load_figures(trip.library))
    ways = [*_pump_up(case), *_lighter_ball(case), *_shift(case, others), *_fit(case)]
    return tuple(dict.fromkeys(ways))


def over_by(limits: Sequence[Limit], entries: Sequence[MassEntry]) -> dict[str, float]:
    """Limits that masses pass, and by how much [kg]."""
    found = {limit.id: -limit.margin(entries).left_kg for limit in limits}
    return {key: kilograms for key, kilograms in found.items() if kilograms > SLACK_KG}


@dataclass(frozen=True)
class _Case:
    trip: Trip
    vehicle: Vehicle
    loads: VehicleLoads
    limits: tuple[Limit, ...]
    figures: LoadFigures

    @property
    def eased(self) -> tuple[Limit, ...]:
        """The limits once every tyre has its marked pressure."""
        return tuple(limit.at_best() for limit in self.limits)

    @property
    def movable(self) -> tuple[Limit, ...]:
        """Those that loose things in the vehicle bear on: not what hangs on the trailer alone."""
        return tuple(limit for limit in self.eased if limit.id not in ("ball", "trailer"))

    @property
    def tyre(self) -> FittedTyre:
        return fitted_tyre(self.vehicle, tyre_figures(self.trip.library))

    def over(self, entries: Sequence[MassEntry]) -> dict[str, float]:
        return over_by(self.eased, entries)


# ---------------------------------------------------------------------------------- pump up
def _pump_up(case: _Case) -> list[str]:
    """Pressures that carry what stands on the tyres: they cost no kilogram."""
    tyre, figures, found = case.tyre, tyre_figures(case.trip.library), []
    for axle, planned in (("front", tyre.front_kpa), ("rear", tyre.rear_kpa)):
        mine = [m for m in case.loads.margins if m.limit.startswith(f"tyre-{axle}")]
        worst = max((m.actual_kg for m in mine), default=0.0)
        if planned is None or worst > tyre.rating.index_kg + SLACK_KG or all(m.left_kg >= -SLACK_KG for m in mine):
            continue
        needed = min(rounded_up_kpa(tyre.rating.needed_kpa(worst), figures), tyre.rating.index_kpa)
        found.append(f"Set the {axle} tyres to {needed:.0f} kPa for the road (planned {planned:.0f} kPa).")
    return found


# ------------------------------------------------------------------------------ move and leave
@dataclass(frozen=True)
class _Step:
    """``packs`` of a thing to another place, or left at home when ``to`` is None; ``mass_kg`` together."""

    entry: MassEntry
    packs: float
    mass_kg: float
    to: Room | None


def _shift(case: _Case, others: Mapping[str, float]) -> list[str]:
    """Moving and leaving things; leaving alone; carrying less fuel alone. Fuel and water are mixed in only where nothing else will do."""
    if not over_by(case.movable, case.loads.entries):
        return []
    steps, short, proven = _solve(case, _things(case, moving=True))
    if short:
        steps, short, proven = _solve(case, [*_things(case, moving=True), *_fluids(case, ("fuel", "water"))])
        return [_short_words(case, short, proven)] if short else [_words(case, steps, others)]
    ways = [_words(case, steps, others)]
    if any(s.to for s in steps):
        leave, short, _ = _solve(case, _things(case, moving=False))
        ways += [] if short or not leave else ["Or: " + _words(case, leave, others)]
    fuel, short, _ = _solve(case, _fluids(case, ("fuel",)))
    return ways + ([] if short or not fuel else ["Or: " + _words(case, fuel, others)])


@dataclass(frozen=True)
class _Choice:
    """A variable of the program: one thing to one place (None: at home)."""

    entry: MassEntry
    to: Room | None
    unit_kg: float
    most: float
    price: float
    whole: bool

    def moved(self) -> MassEntry | None:
        if self.to is None:
            return None
        to = self.to
        return replace(self.entry, x_m=to.x_m, y_m=to.y_m, z_m=to.z_m, place=to.place, on_roof=to.on_roof)


def _things(case: _Case, moving: bool) -> list[_Choice]:
    """Loads and kit: each pack may stay at home; what has a place may go to another. What stands by figures is bolted there."""
    prices, found = case.figures.ways_back, []
    for entry in case.loads.entries:
        if entry.mass_kg <= 0 or entry.kind not in ("load", "kit"):
            continue
        unit = entry.mass_kg / entry.packs
        left = prices.left_price * unit + prices.handling_price
        found.append(_Choice(entry, None, unit, entry.packs, left, True))
        for room in case.loads.room if moving and entry.place else ():
            if _may_go(case, entry, unit, room):
                price = prices.moved_price * unit + prices.handling_price
                found.append(_Choice(entry, room, unit, entry.packs, price, True))
    return found


def _fluids(case: _Case, kinds: Sequence[str]) -> list[_Choice]:
    """Fuel and water by the kilogram, at their price."""
    prices = case.figures.ways_back
    price = {"fuel": prices.fuel_price, "water": prices.water_price}
    return [
        _Choice(e, None, 1.0, e.mass_kg, price[e.kind], False)
        for e in case.loads.entries
        if e.kind in kinds and e.used_up and e.mass_kg > 0
    ]


def _may_go(case: _Case, entry: MassEntry, unit_kg: float, room: Room) -> bool:
    """Never onto the roof, nothing heavy into the cabin, no fuel out of the open, nothing longer or other than the place takes."""
    item = case.trip.library.items.get(entry.item or "")
    long = item is not None and room.longest_cm is not None and item.longest_cm > room.longest_cm
    heavy = room.in_cabin and unit_kg > case.figures.ways_back.cabin_kg
    shut = entry.fuel_kg > 0 and not room.ventilated
    other = bool(room.holds) and entry.item not in room.holds
    return room.place != entry.place and not (room.on_roof or long or heavy or shut or other)


def _solve(case: _Case, choices: Sequence[_Choice]) -> tuple[list[_Step], dict[str, float], bool]:
    """The cheapest steps of these choices, what stays over all the same, by limit [kg], and whether the search ended with a proof.

    A search that ends at ``MOST_NODES`` gives the cheapest steps it had found: they do what they say, dearer ones than needed perhaps.
    """
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp

    limits = case.movable
    if not choices:
        return [], over_by(limits, case.loads.entries), True
    n, m = len(choices), len(limits)
    rows = np.zeros((m, n + m))
    room_left = np.array([limit.margin(case.loads.entries).left_kg for limit in limits])
    for j, choice in enumerate(choices):
        after = choice.moved()
        for i, limit in enumerate(limits):
            gone = limit.share(choice.entry)
            rows[i, j] = choice.unit_kg * ((limit.share(after) if after else 0.0) - gone)
    rows[:, n:] = -np.eye(m)
    once, packs = _each_once(choices, m)
    price = np.array([c.price * (1 + 1e-6 * j) for j, c in enumerate(choices)] + [OVER_PRICE] * m)
    with hushed():
        found = milp(
            price,
            constraints=[LinearConstraint(rows, -np.inf, room_left), LinearConstraint(once, -np.inf, packs)],
            integrality=np.array([int(c.whole) for c in choices] + [0] * m),
            bounds=Bounds(0, np.array([c.most for c in choices] + [np.inf] * m)),
            options={"node_limit": MOST_NODES},
        )
    if found.x is None:  # no answer at all within the limit: nothing moved
        return [], over_by(limits, case.loads.entries), False
    amounts = [float(a) for a in found.x]
    steps = [
        _Step(c.entry, round(a, 6), c.unit_kg * a, c.to)
        for c, a in zip(choices, amounts, strict=False)
        if c.unit_kg * a > SLACK_KG
    ]
    short = {limit.id: a for limit, a in zip(limits, amounts[n:], strict=True) if a > SLACK_KG}
    return steps, short, found.status == 0


def _each_once(choices: Sequence[_Choice], m: int) -> tuple[object, object]:
    """Rows that keep each thing's packs to what there is of it."""
    import numpy as np

    entries = list(dict.fromkeys(id(c.entry) for c in choices))
    rows = np.zeros((max(len(entries), 1), len(choices) + m))
    most = np.zeros(max(len(entries), 1))
    for j, choice in enumerate(choices):
        i = entries.index(id(choice.entry))
        rows[i, j], most[i] = 1.0, choice.most
    return rows, most


def _words(case: _Case, steps: Sequence[_Step], others: Mapping[str, float]) -> str:
    moved = [_thing(s) + f" to {s.to.name}" for s in steps if s.to]
    left = [_thing(s) for s in steps if not s.to and s.entry.kind in ("load", "kit")]
    total = sum(s.mass_kg for s in steps if not s.to and s.entry.kind in ("load", "kit"))
    said = [f"Move {_listed(moved)}."] if moved else []
    if left:
        takers = [f"{name} can take {kg:.0f} kg" for name, kg in sorted(others.items()) if kg >= total]
        hand = f", or hand it over: {takers[0]}" if takers else ""
        said.append(f"Leave {_listed(left)} behind{hand}.")
    said += [_less(case, s) for s in steps if s.entry.kind in ("fuel", "water")]
    kept = {limit.id for limit in case.movable} >= set(case.over(case.loads.entries))
    return " ".join([*said, "Then every limit is kept." if kept else "Then the vehicle's own limits are kept."])


def _thing(step: _Step) -> str:
    packs = f"{step.packs:.0f} of {step.entry.packs} " if step.entry.packs > 1 else ""
    return f"{packs}{step.entry.name} ({step.mass_kg:.0f} kg)"


def _listed(things: Sequence[str]) -> str:
    if len(things) < 2:
        return "".join(things)
    return f"{', '.join(things[:-1])} and {things[-1]}"


def _less(case: _Case, step: _Step) -> str:
    kind = step.entry.kind
    density = case.figures.density.get("water" if kind == "water" else case.vehicle.archetype.fuel, 1.0) or 1.0
    said = "water" if kind == "water" else case.vehicle.archetype.fuel
    return f"Carry {step.mass_kg / density:.0f} L less {said}, only if the {kind} sums of this trip allow it."


def _short_words(case: _Case, short: Mapping[str, float], proven: bool) -> str:
    named = {limit.id: limit.words for limit in case.limits}
    stays = several(f"{named[key]} by {kilograms:.0f} kg" for key, kilograms in short.items())
    if not proven:
        return f"A long search found no set of loose things to move or leave that is enough: the nearest leaves over {stays}."
    return f"Moving or leaving loose things is not enough: still over are {stays}."


# -------------------------------------------------------------------------------------- fit
def _fit(case: _Case) -> list[str]:
    """Work on the vehicle: tyres of a higher index, a lighter part, a part taken off, the trailer left."""
    if not case.over(case.loads.entries):
        return []
    return [*_stronger_tyres(case), *_leave_trailer(case), *_lighter_part(case), *_take_off(case)]


def _stronger_tyres(case: _Case) -> list[str]:
    tyre, figures = case.tyre, tyre_figures(case.trip.library)
    worst = max((m.actual_kg for m in case.loads.margins if m.limit.startswith("tyre-")), default=0.0)
    if worst <= tyre.rating.index_kg + SLACK_KG:
        return []
    index = least_load_index(worst * (figures.pressure.passenger_divisor if tyre.fitted.passenger else 1.0), figures)
    if index is None:
        return []
    return [f"Fit tyres of load index {index} or more (now {tyre.load_index}), for the {worst:.0f} kg on the heaviest."]


def _lighter_ball(case: _Case) -> list[str]:
    """Load shifted back inside the trailer, no further than a usual share of its mass on the ball."""
    trailer, over = case.vehicle.spec.trailer, case.over(case.loads.entries).get("ball", 0.0)
    if trailer is None or not over:
        return []
    usual = case.figures.trailer.ball_share * trailer.mass_kg
    return [
        f"Shift load back inside {trailer.name}: {over:.0f} kg less on the ball; a usual load would be {usual:.0f} kg."
    ]


def _leave_trailer(case: _Case) -> list[str]:
    trailer = case.vehicle.spec.trailer
    if trailer is None:
        return []
    without = [e for e in case.loads.entries if e.kind != "ball"]
    kept = [limit for limit in case.eased if limit.id not in ("trailer", "combination", "ball")]
    still = over_by(kept, without)
    if set(still) == set(case.over(case.loads.entries)):
        return []
    return [f"Leave {trailer.name} before the hard stretch" + (": enough alone." if not still else ".")]


def _with_part(case: _Case, key: str, other: str | None) -> _Case:
    """The vehicle with one fitted part replaced by another of the library, or taken off: its masses and its limits."""
    parts = []
    for fitted, part in case.vehicle.modifications:
        if fitted.id != key:
            parts.append((fitted, part))
        elif other:
            parts.append((fitted.model_copy(update={"id": other}), case.trip.library.modifications[other]))
    vehicle = replace(case.vehicle, modifications=tuple(parts))
    new = [part_entry(vehicle, f.id, p) for f, p in parts if f.id == other]
    entries = [e for e in case.loads.entries if not (e.kind == "part" and e.item == key)] + new
    limits = limits_of(vehicle, fitted_tyre(vehicle, tyre_figures(case.trip.library)))
    return replace(case, vehicle=vehicle, loads=replace(case.loads, entries=tuple(entries)), limits=limits)


def _excess(case: _Case) -> float:
    """Kilograms over all limits together."""
    return sum(case.over(case.loads.entries).values())


def _lighter_part(case: _Case) -> list[str]:
    """A lighter part that gives the same, where that helps."""
    best: tuple[float, str] | None = None
    for fitted, part in case.vehicle.modifications:
        for key, other in sorted(case.trip.library.modifications.items()):
            if not _stands_in(case.vehicle, part, other):
                continue
            left, saved = _excess(_with_part(case, fitted.id, key)), _net(part) - _net(other)
            alone = "not enough alone" if left > SLACK_KG else "enough alone"
            text = f"Fit {other.name} for {part.name}: {saved:.0f} kg less, {alone}."
            if left < _excess(case) - SLACK_KG and (best is None or left < best[0] - SLACK_KG):
                best = left, text
    return [best[1]] if best else []


def _net(part: Modification) -> float:
    return part.mass_kg - part.removes_kg


def _stands_in(vehicle: Vehicle, part: Modification, other: Modification) -> bool:
    """Whether another part gives what this one gives, is lighter, and goes on this vehicle."""
    have = features_of(vehicle)
    gives = bool(part.adds) and set(part.adds) <= set(other.adds)
    return (
        gives
        and _net(other) < _net(part)
        and set(other.needs) <= have
        and not set(other.without) & set(have - {*part.adds})
    )


def _take_off(case: _Case) -> list[str]:
    """The lightest part that is enough when taken off; else the one that helps most."""
    found = []
    for fitted, part in case.vehicle.modifications:
        if (
            _net(part) > 0
            and not _needed_by_another(case.vehicle, fitted.id, part)
            and not _loaded(case, fitted.id, part)
        ):
            found.append((_excess(_with_part(case, fitted.id, None)), _net(part), part.name))
    enough = sorted((mass, name) for left, mass, name in found if left <= SLACK_KG)
    if enough:
        return [f"Take off {enough[0][1]} ({enough[0][0]:.0f} kg): enough alone."]
    left, mass, name = min(found, default=(_excess(case), 0.0, ""))
    return [f"Take off {name} ({mass:.0f} kg): not enough alone."] if left < _excess(case) - SLACK_KG else []


def _loaded(case: _Case, key: str, part: Modification) -> bool:
    """Whether a roof rack still has something on it."""
    return "roof-rack" in part.adds and any(e.on_roof and e.item != key for e in case.loads.entries)


def _needed_by_another(vehicle: Vehicle, key: str, part: Modification) -> bool:
    gives = {key, *part.adds} - set(vehicle.archetype.features)
    return any(gives & set(other.needs) for fitted, other in vehicle.modifications if fitted.id != key)
