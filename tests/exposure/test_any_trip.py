"""Whatever the trip: figures stay possible, parts add up, nothing but plain data comes out."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from made_trip import exposed, ground, trip, vehicle

from fieldkit.specs.trip import Leg, Trip

SURFACES = sorted(ground().surfaces)
KINDS = ["fuel", "water", "workshop", "medical", "phone", "airstrip"]


@st.composite
def trips(draw: st.DrawFn) -> Trip:
    """Up to eight legs on up to three days, help points and roads out anywhere, one or two vehicles."""
    lengths = draw(st.lists(st.floats(0.5, 250), min_size=1, max_size=8))
    days = sorted(draw(st.lists(st.integers(1, 3), min_size=len(lengths), max_size=len(lengths))))
    ends = np.round(np.cumsum([0, *lengths]), 3).tolist()
    legs = tuple(
        Leg(
            day,
            a,
            b,
            draw(st.sampled_from(SURFACES)),
            draw(st.sampled_from([0.0, 0.0, 0.4])),
            draw(st.sampled_from([None, 50.0])),
            line=i + 2,
        )
        for i, (day, a, b) in enumerate(zip(days, ends, ends[1:], strict=False))
    )
    at = st.floats(0, ends[-1]).map(lambda km: f"{km:.2f} km")
    points: list[dict[str, Any]] = [
        {
            "name": f"P{i}",
            "kind": draw(st.lists(st.sampled_from(KINDS), min_size=1, max_size=3, unique=True)),
            "km": draw(at),
            "open": draw(st.sampled_from(["always", "Mon-Sat 08:00-18:00"])),
        }
        for i in range(draw(st.integers(0, 4)))
    ]
    points.append({"name": "Out", "kind": ["workshop", "medical"], "lead_days": "2 days"})
    roads = [
        {"km": draw(at), "to": "Out", "distance": "60 km", "surface": draw(st.sampled_from(SURFACES))}
        for _ in range(draw(st.integers(1, 3)))
    ]
    vehicles = (vehicle(water=draw(st.sampled_from(["0 L", "40 L"]))), vehicle("two"))[: draw(st.integers(1, 2))]
    comms = draw(st.sampled_from([{}, {"alarm": "2 h"}, {"carried": ["satellite-messenger"]}]))
    return trip(legs, vehicles=vehicles, stop=[], help=points, escape=roads, comms=comms)


@settings(max_examples=25)
@given(trips())
def test_figures_stay_possible(made: Trip) -> None:
    """Times are finite and not negative, classes 1 to 4, wear positive; hours to help do not exceed the drive and a wait of a week."""
    found = exposed(made)
    assert found.intensity.shape == (8, len(made.legs))
    assert (found.intensity > 0).all()
    for leg in found.legs:
        assert 1 <= leg.difficulty <= 4
        assert 0 < leg.speed_kmh <= 130
        assert all(math.isfinite(v) and v >= 0 for v in (leg.hours, leg.out_h, leg.back_h, leg.part_lead_h))
        assert leg.workshop_off_km is not None
        assert all(v is None or v >= 0 for v in leg.hours_to_help.values())
    far = found.remoteness
    assert np.isfinite(far.dead_days).all()
    assert np.isfinite(far.water_margin_days).all()
    assert far.clock_h is not None
    assert (np.diff(far.clock_h) >= -1e-9).all()


@settings(max_examples=25)
@given(trips())
def test_neighbouring_kilometres_have_neighbouring_hours_where_nothing_shuts(made: Trip) -> None:
    """Without opening hours, hours to help change along the route no faster than the route is driven."""
    found = exposed(made)
    far = found.remoteness
    shut = {k for p in made.head.help if p.open != "always" for k in p.kind}
    slowest = min(leg.speed_kmh for leg in found.legs)
    for kind, hours in far.hours.items():
        if kind not in shut and np.isfinite(hours).all():
            assert (np.abs(np.diff(hours)) <= np.diff(far.km) / slowest + 1e-6).all()


@settings(max_examples=25)
@given(trips())
def test_supplies_add_up(made: Trip) -> None:
    """What is used is never below nought; fuel lines join end to end from the start to the end of the route."""
    supplies = exposed(made).supplies
    for used in supplies.used_kg.values():
        assert all((each >= -1e-9).all() for each in used.values())
    for v in made.vehicles:
        mine = [x for x in supplies.fuel if x.vehicle == v.id]
        assert all(a.to_name == b.from_name for a, b in pairwise(mine))
        assert abs(sum(x.km for x in mine) - made.legs[-1].to_km) < 1.5
        assert all(x.needed_l >= 0 and x.reserve_l > 0 for x in mine)
