"""Help by kilometre: the road graph, escape roads, alarm, dead vehicles, the survival margin."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import networkx as nx
import numpy as np
import pytest
from made_trip import HEAD, LEGS, exposed, ground, trip, vehicle

from fieldkit.exposure.result import Exposure
from fieldkit.exposure.settings import remoteness_figures
from fieldkit.specs.library import MustCarryRule
from fieldkit.specs.trip import Leg, SurfaceStretch

MINE = {"name": "Mine", "kind": ["workshop", "medical", "phone"], "lead_days": "1 days"}
ROAD = {"km": "150 km", "to": "Mine", "distance": "40 km", "surface": "gravel"}


def with_escape(surface: str = "gravel", **changes: Any) -> Exposure:
    """Two towns and a mine, parts equally long on the way at each, so that the roads alone decide."""
    road = {**ROAD, "surface": surface, **changes}
    points = [{**point, "lead_days": "2 days"} for point in (*HEAD["help"], MINE)]
    return exposed(trip(LEGS, help=points, escape=[road]))


def hours(found: Exposure, kind: str, km: float) -> float:
    return float(np.interp(km, found.remoteness.km, found.remoteness.hours[kind]))


# --------------------------------------------------------------------------------------- the graph
def test_hours_to_help_are_those_of_the_roads_there() -> None:
    """30 km from the start on a sealed road at 80 km/h; 150 km of the escape road adds its own."""
    found = with_escape()
    assert hours(found, "workshop", 0) == 0
    assert hours(found, "workshop", 30) == pytest.approx(30 / 80, abs=1e-6)
    assert hours(found, "workshop", 150) == pytest.approx(40 / 65, abs=1e-6)
    assert hours(found, "airstrip", 100) == np.inf


def test_the_solver_agrees_with_networkx_on_every_point() -> None:
    """The sparse solver's hours are the graph's own shortest paths."""
    from fieldkit.exposure.legs import driven_legs
    from fieldkit.exposure.roads import road_graph
    from fieldkit.exposure.settings import difficulty_figures
    from fieldkit.route import trip_route

    made = trip(LEGS, help=[*HEAD["help"], MINE], escape=[ROAD])
    route = trip_route(made)
    legs = driven_legs(made, route, made.legs, difficulty_figures())
    roads = road_graph(made, route, legs, made.head.help, remoteness_figures().sampling)
    graph = nx.Graph([(one, other, road._asdict()) for (one, other), road in roads.roads.items()])
    for j in range(3):
        plain = nx.single_source_dijkstra_path_length(graph, len(roads.km) + j, weight="hours")
        assert roads.hours[j] == pytest.approx([plain[i] for i in range(len(roads.km))], abs=1e-7)


def test_another_surface_on_one_escape_road_changes_the_legs_it_serves_and_no_others() -> None:
    """Legs whose way to the workshop is not that road keep every figure of theirs."""
    good, bad = with_escape("gravel"), with_escape("rock")
    changed = [a.index for a, b in zip(good.legs, bad.legs, strict=True) if a.hours_to_help != b.hours_to_help]
    assert changed == [2, 3]  # the legs round km 150; those nearer the towns at both ends go there
    for index in (0, 1, 4):
        assert good.legs[index] == bad.legs[index]
    for index in changed:
        for kind, value in good.legs[index].hours_to_help.items():
            other = bad.legs[index].hours_to_help[kind]
            assert (value is None) == (other is None)
            assert value is None or (other is not None and other >= value - 1e-9)


def test_an_escape_road_can_also_be_a_short_cut_between_places() -> None:
    """A road from km 250 to the start town brings the start town's help to km 250."""
    found = exposed(trip(LEGS, escape=[{"km": "250 km", "to": "West", "distance": "20 km", "surface": "sealed"}]))
    assert hours(found, "medical", 250) == pytest.approx(0.25, abs=1e-6)


def test_a_way_beside_the_route_counts_at_its_surface() -> None:
    points = [
        *HEAD["help"],
        {"name": "Farm", "kind": ["airstrip"], "km": "100 km", "off": "13 km", "surface": "gravel"},
    ]
    assert hours(exposed(trip(LEGS, help=points)), "airstrip", 100) == pytest.approx(13 / 65, abs=1e-6)


def test_a_loop_is_closed_where_it_comes_back_to_itself(tmp_path: Path) -> None:
    """The end of a loop is its start: help there is near on the way home too."""
    turn = np.linspace(0, 2 * np.pi, 181)
    rows = "".join(f'<trkpt lat="{np.cos(a) - 1:.6f}" lon="{np.sin(a):.6f}"/>' for a in turn)
    path = tmp_path / "loop.gpx"
    path.write_text(f"<gpx><trk><trkseg>{rows}</trkseg></trk></gpx>")
    made = trip(
        (),
        surfaces=(SurfaceStretch(0, 697, "gravel", line=2),),
        route_files=(path,),
        days=2,
        stop=[],
        help=HEAD["help"][:1],
        time_zone="UTC",
    )
    found = exposed(made)
    last = float(found.remoteness.km[-1])
    assert hours(found, "workshop", last - 13) == pytest.approx(13 / 65, abs=0.003)
    assert found.remoteness.furthest["workshop"][0] == pytest.approx(last / 2, abs=15)


def test_closed_help_is_waited_for_by_the_clock_of_the_plan() -> None:
    """The trip passes km 40 at about half past eight: a pump that opens at noon is waited for."""
    points = [{"name": "Pump", "kind": ["fuel"], "km": "40 km", "open": "12:00-13:00"}, *HEAD["help"]]
    found = exposed(trip(LEGS, help=points))
    clock = found.remoteness.clock_h
    assert clock is not None
    passed = float(np.interp(40, found.remoteness.km, clock))
    assert hours(found, "fuel", 40) == pytest.approx(min(12 - passed, 40 / 80), abs=1e-6)


# ----------------------------------------------------------------------------------- alarm and out
def test_out_is_alarm_opening_mobilising_and_the_drive() -> None:
    """Written alarm 1 h, mobilising 3 h; from the open town the drive at nine tenths of the speed."""
    leg = exposed(trip(LEGS)).legs[0]
    assert leg.workshop == "West"
    assert leg.out_h == pytest.approx(1 + 3 + 30 / 80 / 0.9, abs=0.01)
    assert leg.back_h == pytest.approx(30 / 80 / 0.6, abs=0.01)
    assert leg.part_lead_h == 48.0


def test_a_workshop_that_is_shut_starts_when_it_opens() -> None:
    points = [{**HEAD["help"][0], "open": "15:00-16:00"}]
    leg = exposed(trip(LEGS, help=points)).legs[0]
    assert leg.out_h > 8


def test_those_who_come_do_not_drive_by_night() -> None:
    """A drive of more than nine hours takes a night."""
    far = exposed(
        trip((Leg(1, 0, 300, "sand", line=2), Leg(2, 300, 500, "sand", line=3)), days=2, stop=[], help=HEAD["help"][:1])
    )
    assert far.legs[1].out_h > 1 + 3 + 12 + 15


def comms(**written: Any) -> dict[str, Any]:
    return {"comms": written}


def worst_out(**head: Any) -> float:
    return max(leg.out_h for leg in exposed(trip(LEGS, **head)).legs)


def test_the_alarm_depends_on_what_is_carried() -> None:
    """Nothing carried, alone: missed only when overdue; a beacon calls people, not a recovery vehicle."""
    none, beacon = worst_out(**comms()), worst_out(**comms(carried=["distress-beacon"]))
    messenger = worst_out(**comms(carried=["satellite-messenger"]))
    assert none == beacon > 24
    assert messenger < none - 20
    alone = exposed(trip(LEGS, **comms(carried=["distress-beacon"])))
    help_h = alone.remoteness.help_h
    assert help_h is not None
    assert help_h.max() < 24


def test_a_second_vehicle_can_drive_out_to_raise_the_alarm() -> None:
    two = (vehicle(), vehicle("two"))
    alone = exposed(trip(LEGS, **comms())).legs[2].out_h
    convoy = exposed(trip(LEGS, vehicles=two, **comms())).legs[2].out_h
    assert convoy < alone - 12


def test_a_written_alarm_holds_over_everything() -> None:
    assert worst_out(**comms(alarm="100 h", carried=["satellite-messenger"])) > 100


def test_dead_days_add_part_and_fitting() -> None:
    found = exposed(trip(LEGS)).remoteness
    at = 30
    expected = (4 + 30 / 80 / 0.9 + 30 / 80 / 0.6 + 48 + 4) / 24
    assert float(np.interp(at, found.km, found.dead_days)) == pytest.approx(expected, abs=0.01)


def test_the_workshop_with_the_shorter_wait_is_named_even_if_it_is_further() -> None:
    """East takes four days for parts, West two: on the last sand West is still quicker in all."""
    legs = exposed(trip(LEGS)).legs
    assert legs[3].workshop == "West"
    assert (legs[3].workshop_on_km, legs[3].workshop_off_km) == (pytest.approx(80.0), pytest.approx(80.0))
    assert legs[0].workshop_on_km == pytest.approx(270.0, abs=3)  # at km 0 itself the start town is ahead
    assert legs[0].workshop_off_km == pytest.approx(30.0)


def test_without_a_workshop_help_comes_from_the_ends_and_it_is_said() -> None:
    found = exposed(trip(LEGS, help=[{"name": "Well", "kind": ["water"], "km": "100 km"}]))
    assert found.legs[0].workshop == "the start of the route"
    assert any("No workshop is named" in c for c in found.cautions)
    assert all(np.isfinite([leg.out_h, leg.back_h]).all() for leg in found.legs)


def test_no_help_at_all_still_gives_a_plan() -> None:
    found = exposed(trip(LEGS, help=[]))
    assert found.legs[0].hours_to_help["medical"] is None
    assert np.isfinite(found.remoteness.dead_days).all()


# -------------------------------------------------------------------------------- survival margin
def margin(found: Exposure) -> float:
    return float(found.remoteness.water_margin_days.min())


def test_the_margin_is_water_left_over_waiting_use_less_the_time_to_help() -> None:
    """At the start: 60 L, two people at 3 L a day, help in four hours."""
    found = exposed(trip(LEGS)).remoteness
    assert found.water_margin_days[0] == pytest.approx(60 / 6 - 4 / 24, abs=0.01)


def test_less_water_heat_and_a_slower_alarm_each_lower_the_margin() -> None:
    usual = margin(exposed(trip(LEGS)))
    assert margin(exposed(trip(LEGS, vehicles=(vehicle(water="30 L"),)))) < usual
    assert margin(exposed(trip(LEGS, climate={"day_high": "42 degC", "night_low": "20 degC"}))) < usual
    assert margin(exposed(trip(LEGS, **comms(alarm="40 h")))) < usual


def test_below_the_margin_asked_for_the_plan_says_do_not_leave_like_this() -> None:
    thin = exposed(trip(LEGS, vehicles=(vehicle(water="25 L"),), **comms(alarm="60 h")))
    assert thin.remoteness.refused
    assert "Do not leave like this" in thin.remoteness.worst
    assert thin.cautions[0] == thin.remoteness.worst
    sound = exposed(trip(LEGS))
    assert not sound.remoteness.refused
    assert sound.remoteness.worst.startswith("Worst stretch: km ")


def test_must_carry_water_counts_for_waiting() -> None:
    rule = MustCarryRule.model_validate({"item": "drinking-water", "why": "x", "per_person": 0.5})
    with_rule = replace(ground(), must_carry={"water": rule})
    found = exposed(trip(LEGS, library=with_rule))
    assert found.supplies.water_reserve_l == pytest.approx(10.0)
    assert margin(found) == pytest.approx(margin(exposed(trip(LEGS))) + 10 / 6, abs=1e-6)


def test_the_alternatives_show_each_means_of_calling_help() -> None:
    """As planned, nothing, each single device, and a hotter season; more to call with is never worse."""
    rows = {
        str(r["carried"]): r
        for r in exposed(trip(LEGS, **comms(carried=["satellite-messenger"]))).remoteness.alternatives
    }
    assert {"as planned", "nothing carried: missed when overdue", "satellite messenger", "distress beacon"} <= set(rows)
    nothing = rows["nothing carried: missed when overdue"]
    for row in rows.values():
        if "hotter" not in str(row["carried"]):
            assert float(str(row["help_h"])) <= float(str(nothing["help_h"])) + 1e-9
    assert rows["as planned"]["help_h"] == rows["satellite messenger"]["help_h"]


def test_two_runs_give_the_same_figures() -> None:
    one, two = exposed(trip(LEGS)), exposed(trip(LEGS))
    assert one.legs == two.legs
    assert one.supplies.notes == two.supplies.notes
    assert (one.intensity == two.intensity).all()
    assert one.remoteness.turn_back == two.remoteness.turn_back
