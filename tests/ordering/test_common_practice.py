"""Ordering checks of the shipped library: common practice, no source. Which way a change moves a weak point, never by how much."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from fieldkit.inspection.form import inspection_form
from fieldkit.likelihood.result import Risks
from fieldkit.specs.library import Library

Figure = Callable[..., float]
Rough = Callable[..., Risks]

AHEAD_OF_THE_RADIATOR = ("grille-lights", "spare-condenser", "oil-cooler-fitted", "front-bar-and-winch")
OVERHEATING = ("radiator-core-blocked", "fan-hub-weak", "head-gasket")
FRONT_DRIVELINE = ("front-joint", "free-wheel-hub", "front-propshaft-joint", "front-differential", "front-half-shaft")


# ----------------------------------------------------------------------------------------- cooling
@pytest.mark.parametrize("part", AHEAD_OF_THE_RADIATOR)
def test_each_item_ahead_of_the_radiator_raises_overheating(figure: Figure, part: str) -> None:
    for mode in ("radiator-core-blocked", "head-gasket"):
        assert figure(mode, part) > figure(mode), mode


def test_all_items_ahead_of_the_radiator_raise_it_most(figure: Figure) -> None:
    together = figure("radiator-core-blocked", *AHEAD_OF_THE_RADIATOR)
    assert together > max(figure("radiator-core-blocked", part) for part in AHEAD_OF_THE_RADIATOR)


def test_a_dirty_core_is_worse_than_a_clean_one(figure: Figure) -> None:
    dirty, clean = (figure("radiator-core-blocked", findings=[("radiator-core-blocked", w)]) for w in ("worn", "sound"))
    assert clean < figure("radiator-core-blocked") < dirty


def test_bargain_core_and_pump_never_beat_good_ones(figure: Figure) -> None:
    for mode, bargain, good in (
        ("radiator-core-blocked", "bargain-radiator", "larger-radiator"),
        ("radiator-leak", "bargain-radiator", "larger-radiator"),
        ("water-pump-wear", "bargain-water-pump", "good-water-pump"),
    ):
        assert figure(mode, good) < figure(mode, bargain), mode
    for mode in ("radiator-leak", "water-pump-wear"):
        renewed = {
            g: figure(mode, renewed=[{"failure_mode": mode, "km": "176000 km", "grade": g}])
            for g in ("good", "bargain")
        }
        assert renewed["good"] < renewed["bargain"], mode


def test_a_stronger_fan_hub_lowers_overheating_never_to_nought(figure: Figure) -> None:
    for mode in OVERHEATING:
        assert 0 < figure(mode, "stronger-fan-hub") < figure(mode), mode


def test_a_worn_pump_erodes_its_housing(rough: Rough) -> None:
    edges = {(a, b) for _, a, b, _ in rough().damage_edges}
    assert ("water-pump-wear", "water-pump-housing-erosion") in edges


# ------------------------------------------------------------------------------- front driveline
def test_large_tyres_and_a_locker_put_joint_and_hub_on_top(figure: Figure) -> None:
    """Of the front driveline's weak points joint and hub fail most then, and gain most."""
    with_both = {m: figure(m, "front-locker-fitted", tyre=1.12) for m in FRONT_DRIVELINE if _has(figure, m)}
    before = {m: figure(m) for m in with_both}
    top = sorted(with_both, key=lambda m: -with_both[m])[:2]
    assert set(top) == {"front-joint", "free-wheel-hub"}
    assert all(with_both[m] > 1.5 * before[m] for m in top)


def _has(figure: Figure, mode: str) -> bool:
    try:
        figure(mode)
    except KeyError:
        return False
    return True


def test_newer_joints_lower_and_a_locker_on_them_raises_again(figure: Figure) -> None:
    old = figure("front-joint", tyre=1.1)
    new = figure("front-joint", "newer-front-joints", tyre=1.1)
    locked = figure("front-joint", "newer-front-joints", "front-locker-fitted", tyre=1.1)
    assert new < old
    assert locked > new


def test_strengthening_rings_lower_hub_failure_not_to_nought(figure: Figure) -> None:
    assert 0 < figure("free-wheel-hub", "hub-strengthening-rings") < figure("free-wheel-hub")


def test_bargain_hubs_are_no_better_than_the_makers(figure: Figure) -> None:
    """Both new: the maker's renewed, and the bargain ones fitted, at the same distance."""
    maker = figure("free-wheel-hub", renewed=[{"failure_mode": "free-wheel-hub", "km": "179000 km", "grade": "maker"}])
    assert figure("free-wheel-hub", "bargain-free-wheel-hubs") >= maker


# ------------------------------------------------------------------------------- brakes, steering
def test_bigger_callipers_restore_the_margin_lost_to_tall_tyres(figure: Figure) -> None:
    tall = figure("brake-fade-tall-tyres", tyre=1.12)
    assert tall > 1.2 * figure("brake-fade-tall-tyres")
    assert figure("brake-fade-tall-tyres", "bigger-callipers", tyre=1.12) < 1.1 * figure("brake-fade-tall-tyres")


def test_a_thick_tie_rod_bends_less_and_loads_the_box(figure: Figure) -> None:
    part = "thick-adjustable-tie-rod"
    assert figure("tie-rod-bent", part) < figure("tie-rod-bent")
    assert max(figure(m, part) / figure(m) for m in ("steering-box-wear", "steering-box-mount")) > 1.02


# ------------------------------------------------------------------------------------- suspension
def test_stronger_arms_bend_less_and_load_their_brackets(figure: Figure) -> None:
    assert figure("lower-arm-bent", "heavy-lower-arms") < figure("lower-arm-bent")
    assert figure("arm-bracket-crack", "heavy-lower-arms") > figure("arm-bracket-crack")


def test_load_and_stiff_or_air_helped_springs_crack_towers(figure: Figure) -> None:
    plain = figure("spring-tower-crack")
    assert figure("spring-tower-crack", ratios={"mass": 1.15, "rear_load": 1.2, "front_load": 1.1}) > plain
    assert figure("spring-tower-crack", "heavy-rear-springs") > plain
    assert figure("spring-tower-crack", "air-helper-in-coil") > plain


def test_a_brace_helps_tower_and_chassis_a_cross_plate_the_tower_only(rough: Rough, figure: Figure) -> None:
    """The plate leaves the rail's own wear as it is; fewer cracked towers tear at it less, and that is all it gains."""
    for mode in ("spring-tower-crack", "chassis-crack"):
        assert figure(mode, "tower-brace-in-tower") < figure(mode), mode
    assert figure("spring-tower-crack", "tower-cross-plate") < figure("spring-tower-crack")
    rail = ("wagon", "chassis-crack")
    assert rough("tower-cross-plate").by_key[rail].hazard.wear_ratio == rough().by_key[rail].hazard.wear_ratio
    assert rough("tower-brace-in-tower").by_key[rail].hazard.wear_ratio < rough().by_key[rail].hazard.wear_ratio


def test_a_lost_bump_stop_raises_damper_failure_a_longer_one_lowers_it(rough: Rough, figure: Figure) -> None:
    damaged = {b for _, a, b, _ in rough().damage_edges if a == "bump-stop-lost"}
    dampers = damaged & {"front-damper", "rear-damper"}
    assert dampers
    for mode in dampers:
        assert figure(mode, findings=[("bump-stop-lost", "defective")]) > figure(mode), mode
        assert figure(mode, "long-bump-stops") < figure(mode), mode


# ------------------------------------------------------------------------------ mounts and power
def test_the_torque_reaction_sides_mount_goes_first(figure: Figure) -> None:
    assert figure("engine-mount-torque-side") > figure("engine-mount-other-side")


def test_uprating_that_side_only_keeps_most_comfort(library: Library, figure: Figure) -> None:
    """One stiff mount lowers that side's figure nearly as two do, and shakes the rest of the vehicle less than two."""
    one, both = "uprated-torque-side-mount", "uprated-both-mounts"
    assert figure("engine-mount-torque-side", one) < figure("engine-mount-torque-side")
    assert figure("engine-mount-torque-side", one) < 1.3 * figure("engine-mount-torque-side", both)
    shaken = [
        m
        for m in library.modifications[both].stress
        if "engine-mount" not in m and library.modifications[both].stress[m] > 1
    ]
    assert shaken
    assert all(figure(m, one) <= figure(m, both) for m in shaken)


@pytest.mark.parametrize("part", ["engine-tune", "turbo-kit"])
def test_more_power_raises_heat_driveline_and_differential(figure: Figure, part: str) -> None:
    for mode in (
        "radiator-core-blocked",
        "head-gasket",
        "clutch-worn",
        "rear-differential-gears",
        "rear-propshaft-joint",
    ):
        assert figure(mode, part) > figure(mode), mode


def test_a_rebuild_cures_wear_with_or_without_a_lock_and_a_lock_on_old_gears_does_not(library: Library) -> None:
    options = {o.id: o for o in library.failure_modes["rear-differential-gears"].workshop}
    plain, locked, old = (options[k] for k in ("gears-rebuilt", "gears-rebuilt-with-locker", "locker-on-old-gears"))
    assert plain.renews == locked.renews == ("rear-differential-gears",)
    assert old.renews == ()


def test_gears_after_each_of_these_works(figure: Figure, worked: Callable[[str, str], float]) -> None:
    """Worked out on a vehicle: new gears alike with and without the lock, old gears no better for a lock."""
    gears = "rear-differential-gears"
    growling, before = figure(gears, findings=[(gears, "worn")]), figure(gears)
    assert worked(gears, "gears-rebuilt") < 0.5 * growling
    assert worked(gears, "gears-rebuilt-with-locker") < 0.5 * growling
    assert worked(gears, "locker-on-old-gears") >= 0.99 * before


# -------------------------------------------------------------------------------------- old bodies
@pytest.mark.parametrize("mode", ["door-hinge", "seat-belt-webbing", "gutter-rust", "bump-stop-lost"])
def test_old_bodies_are_found_out_by_the_stated_tests(library: Library, figure: Figure, mode: str) -> None:
    """A worn hinge, a frayed or slow belt, a rusty gutter: on the form, found more often than not, and it counts."""
    look = library.failure_modes[mode].inspection
    assert look is not None
    assert look.detects >= 0.7
    assert figure(mode, findings=[(mode, "worn")]) > figure(mode, findings=[(mode, "sound")])
    build = library.archetypes["live-axle-wagon-mechanical-diesel"]
    form = inspection_form(library, frozenset(build.features))
    assert mode in {line.mode for s in form.stations for line in s.lines}
