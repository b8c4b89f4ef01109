"""A trip's recovery pages: tables, rigs, cautions, order, safety."""

from __future__ import annotations

from typing import Any

import pytest
from loaded_case import build, gear, surfaces, trip, vehicle

from fieldkit.loads import weigh
from fieldkit.recovery import plan_recovery, recovery_pull
from fieldkit.recovery.figures import recovery_figures
from fieldkit.recovery.result import Recovery, VehicleRecovery
from fieldkit.specs.library import Library
from fieldkit.specs.trip import Stock, Trip

KIT = {"snatch-block": 1, "bow-shackle": 2, "tree-protector": 1, "recovery-strap": 1}


def planned(whole: Trip, items: Any = None) -> Recovery:
    return plan_recovery(whole, weigh(whole), items)


def first(whole: Trip, items: Any = None) -> VehicleRecovery:
    return planned(whole, items).vehicles[0]


def test_a_row_for_every_surface_depth_and_slope_of_the_trip() -> None:
    """Sand is bogged four ways, rock one way, five slopes each; a sealed road has no rows."""
    found = first(trip(vehicle(), on=["sealed", "sand", "rock"]))
    assert len(found.table) == (4 + 1) * 5
    assert {r[0] for r in found.table} == {"sand", "rock"}
    for surface, slope, depth, low, high, _ in found.table:
        pull = recovery_pull(found.gross_kg, surfaces()[surface], slope, depth)
        assert (low, high) == (pull.low_kgf, pull.high_kgf)


def test_a_trip_that_names_no_surface_gets_them_all() -> None:
    found = first(trip(vehicle()))
    assert {r[0] for r in found.table} == set(surfaces()) - {"sealed"}


def test_gentle_ways_come_first_in_every_row() -> None:
    found = first(trip(vehicle(fitted=["winch-bar", "rated-recovery-points"]), on=["sand"]), KIT)
    methods = {(d, s): m for _, s, d, _, _, m in found.table}
    assert methods[("none", 0)] == "let the tyres down, drive on"
    assert methods[("rim", 0)] == "let down, dig, boards"
    assert methods[("axle", 0)].startswith("dig, boards, then winch, ")
    assert methods[("sills", 0)].startswith("dig all round, boards, then ")
    assert all(not m.startswith("then") and "kinetic" not in m for m in methods.values())


def test_a_row_never_offers_a_line_that_its_rig_does_not_bear() -> None:
    """The method's parts of line come from the rig with the gear at hand."""
    weak = {**KIT, "tree-protector": 0}
    found = first(trip(vehicle(fitted=["winch-bar", "rated-recovery-points"], load=[_load(700)]), on=["sand"]), weak)
    too_much = [r for r in found.table if "too much for winch or gear" in r[5]]
    assert too_much and all(r[4] > 4750 / 1.1 - 1 for r in too_much)  # the shackle's 4,750 kg and a sheave


def _load(kg: float) -> dict[str, Any]:
    return {"name": "m", "mass": f"{kg} kg", "x": "1 m", "z": "0.8 m"}


def test_own_winch_then_anothers_then_a_hand_winch() -> None:
    own = trip(vehicle("one", fitted=["winch-bar"]), vehicle("two", fitted=["winch-bar"]), on=["sand"])
    assert "by One's own winch" in planned(own, KIT).vehicles[0].rigs[0].title
    other = trip(vehicle("one"), vehicle("two", fitted=["winch-bar"]), on=["sand"])
    rig = planned(other, KIT).vehicles[0].rigs[0]
    assert "by the winch of Two" in rig.title and rig.partner
    hand = first(trip(vehicle(), on=["sand"]), {**KIT, "hand-winch": 1})
    assert "by hand winch with rope" in hand.rigs[0].title
    none = first(trip(vehicle(), on=["sand"]), KIT)
    assert none.rigs == ()
    assert "No winch on this trip can pull this vehicle: dig, boards, unload, or call." in none.cautions
    assert all("winch, " not in r[5] for r in none.table)


def test_a_hand_winch_too_weak_for_the_vehicle_is_not_rigged() -> None:
    """1,600 kg for a vehicle of more than 3,556 kg laden."""
    truck = vehicle(on=build(masses={"gross_limit": "5500 kg"}), load=[_load(1500)])
    assert first(trip(truck, on=["sand"]), {"hand-winch": 1}).rigs == ()


def test_rigs_are_for_the_high_figure_and_the_gear_at_hand() -> None:
    whole = trip(vehicle(fitted=["winch-bar", "rated-recovery-points"]), on=["sand"])
    found = first(whole, KIT)
    rig = found.rigs[0]
    pull = recovery_pull(found.gross_kg, surfaces()["sand"], 5, "axle")
    assert rig.pull_kgf == pytest.approx(pull.high_kgf)
    assert rig.title.startswith("soft sand, bogged to the axle, 5° uphill, by Wagon's own winch")
    names = [p.name for p in rig.parts]
    assert "bow shackle 4.75 t at the anchor" in names
    assert "tree protector strap, each leg at 60°" in names
    bare = first(whole, {}).rigs[0]
    assert "anchor" in [p.name for p in bare.parts]
    assert "Not known: the rating of" in bare.note


def test_no_more_sheets_than_the_figures_say() -> None:
    found = first(trip(vehicle(fitted=["winch-bar"]), on=list(surfaces())), KIT)
    assert len(found.rigs) == recovery_figures().pull.rig_sheets


def test_without_a_kit_one_of_each_is_assumed_and_said() -> None:
    found = first(trip(vehicle(fitted=["winch-bar", "rated-recovery-points"]), on=["sand"]))
    assert any(c.startswith("The rigs assume one of each piece of recovery gear") for c in found.cautions)
    assert not any("assume" in c for c in first(trip(vehicle(), on=["sand"]), KIT).cautions)


def test_the_mass_is_that_of_the_vehicle_without_its_trailer() -> None:
    trailer = {"name": "trailer", "mass": "900 kg", "ball_load": "90 kg"}
    towing, alone = first(trip(vehicle(trailer=trailer))), first(trip(vehicle()))
    assert towing.gross_kg == pytest.approx(alone.gross_kg)
    assert "Unhitch the trailer first. Its mass is not in these pulls." in towing.cautions


def test_trailers_have_no_page_of_their_own() -> None:
    trailer = vehicle("trailer", on=build(features=["trailer"], seats=0, seat_rows=[]))
    assert [v.vehicle for v in planned(trip(vehicle("wagon"), trailer)).vehicles] == ["wagon"]


NO_POINTS = "No rated recovery points are listed for this vehicle: no strap, no second part of line and no other vehicle's winch goes on it."


def test_a_vehicle_without_rated_points_is_told_so() -> None:
    found = first(trip(vehicle()))
    assert NO_POINTS in found.cautions
    assert (
        "If the maker fitted rated points, write where and how strong under [figures] as recovery_points."
        in found.cautions
    )
    assert NO_POINTS not in first(trip(vehicle(fitted=["rated-recovery-points"]))).cautions
    assert NO_POINTS not in first(trip(vehicle(figures={"recovery_points": "two hooks in front, 4 t each"}))).cautions
    assert NO_POINTS in first(trip(vehicle(figures={"recovery_points": ""}))).cautions


def test_without_rated_points_only_its_own_single_line_pulls() -> None:
    """No dead end comes back to it, and nobody else's winch goes on it."""
    own = first(trip(vehicle(fitted=["winch-bar"], load=[_load(500)]), on=["sand"]), KIT)
    assert all(r.lines == 1 for r in own.rigs)
    assert not any("part line" in row[5] for row in own.table)
    other = planned(trip(vehicle("one"), vehicle("two", fitted=["winch-bar"]), on=["sand"]), KIT).vehicles[0]
    assert not any(r.fits for r in other.rigs)
    assert NO_POINTS in other.rigs[0].note
    assert not any("then winch, " in row[5] for row in other.table)


def test_recovery_points_are_rated_by_their_part(library: Library) -> None:
    """The ids in the figures are parts of the shipped library, each with a rating; the rig uses it."""
    for key in recovery_figures().point_parts:
        assert library.modifications[key].rated_kg
    rig = first(trip(vehicle(fitted=["winch-bar", "rated-recovery-points"], load=[_load(700)]), on=["sand"]), KIT).rigs[
        0
    ]
    point = next(p for p in rig.parts if p.name == "recovery point of the vehicle")
    assert point.rated_kgf == 5000


def test_a_small_winch_and_an_unknown_one_are_told() -> None:
    heavy = vehicle(fitted=["winch-bar"], load=[_load(800)])
    assert any(
        c.startswith("The winch of Wagon is rated 4300 kg. Common practice asks") for c in first(trip(heavy)).cautions
    )
    unknown = vehicle(features=["winch"])
    assert any("The rating of its winch is not known" in c for c in first(trip(unknown)).cautions)


def test_gear_owned_or_carried_that_does_not_serve_is_on_the_page() -> None:
    """An owned strap of the wrong strength is named; one that nobody has or asks for is not."""
    from dataclasses import replace

    whole = trip(vehicle(), on=["sand"])
    assert "recovery-strap-light" not in dict(first(whole, KIT).refused)
    owned = replace(whole, inventory=(Stock(item="recovery-strap-light", quantity=1),))
    assert "below 2 times" in dict(first(owned, KIT).refused)["recovery-strap-light"]
    carried = first(whole, {**KIT, "recovery-strap-heavy": 1})
    assert "would not stretch" in dict(carried.refused)["recovery-strap-heavy"]


def test_a_strap_for_some_pairs_only_is_explained() -> None:
    small = {"gross_limit": "1850 kg", "front_limit": "1400 kg", "rear_limit": "1700 kg"}
    whole = trip(vehicle("light", on=build(masses=small)), vehicle("one"), vehicle("two"), on=["sand"])
    found = planned(whole, KIT)
    assert "recovery-strap" in dict(found.vehicles[0].refused)
    assert (
        "The recovery strap 9 m goes only between this vehicle and Two. "
        "Never with Light: its strength does not suit the lighter one." in found.vehicles[1].cautions
    )


def test_safety_comes_first_and_kinetic_last() -> None:
    found = planned(trip(vehicle()))
    assert found.order[0].startswith("Stop spinning")
    assert found.order[-1].startswith("Kinetic rope last")
    order = " ".join(found.order).lower()
    places = [order.index(w) for w in ("spin", "tyres down", "dig", "boards", "winch", "kinetic")]
    assert places == sorted(places)
    safety = " ".join(found.safety)
    for word in (
        "one and a half times",
        "One person calls",
        "Never a tow ball",
        "tie-down eye",
        "manuals come before",
        "trained",
    ):
        assert word in safety


def test_items_may_be_given_as_names_only() -> None:
    whole = trip(vehicle(fitted=["winch-bar"]), on=["sand"])
    assert first(whole, list(KIT)).rigs == first(whole, dict.fromkeys(KIT, 1)).rigs


def test_the_same_trip_gives_the_same_plan() -> None:
    whole = trip(vehicle(fitted=["winch-bar"]), on=["sand", "rock"])
    assert planned(whole) == planned(whole)


def test_every_text_of_the_file_is_used_and_every_used_text_is_there() -> None:
    import re
    from pathlib import Path

    import fieldkit.recovery as package

    code = "".join(p.read_text(encoding="utf-8") for p in Path(package.__file__).parent.glob("*.py"))
    texts = recovery_figures().text
    assert {k for k in texts if f'"{k}"' not in code} == set()
    assert set(re.findall(r'text\["(\w+)"\]', code)) <= set(texts)


def test_every_surface_has_what_starts_a_standing_vehicle() -> None:
    figures = recovery_figures()
    assert set(figures.to_move) == set(surfaces())
    assert set(figures.can_bog) <= set(surfaces())
    assert {t.surface for t in figures.typical} <= set(surfaces())
    assert all(d in figures.mire for depths in figures.can_bog.values() for d in depths)
    assert "snatch-block" in gear()
