"""Rigs: the loop, every part's load, the weakest part, what is beyond its rating."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fieldkit.recovery import Angles, Block, Gear, block_load, bridle_leg, rig, winch_pull_by_layer
from fieldkit.recovery.result import Rig, RigPart
from fieldkit.recovery.rigging import bend_loss, fall_line, sling_rating

BLOCK = Block("snatch block", 8000, 0.10)
RING = Block("ring", 8000, 0.25)


def gear(**changes: Any) -> Gear:
    known: dict[str, Any] = {
        "blocks": (BLOCK, BLOCK),
        "strap": ("tree strap", 4000),
        "shackle": ("bow shackle", 4750),
        "point_kgf": 5000,
        "anchor": ("tree", None),
    }
    return Gear(**{**known, **changes})


def part(found: Rig, name: str) -> RigPart:
    return next(p for p in found.parts if p.name == name)


def test_a_single_line_takes_no_block() -> None:
    found = rig(2000, 4300, gear())
    assert (found.lines, found.sheaves, found.total_kgf, found.fall_line_kgf) == (1, 0, 2000, 2000)
    assert found.fits
    assert not any("block" in p.name for p in found.parts)
    assert not any(p.where == "near" for p in found.parts)  # no line comes back to the vehicle


def test_every_parts_load_in_a_two_part_line() -> None:
    """4,000 kgf of pull, one sheave: 4,400 in all, 2,200 in the line."""
    found = rig(4000, 4300, gear(), layer=2)
    assert found.lines == 2
    loads = {p.name: p.load_kgf for p in found.parts}
    assert loads["winch"] == loads["winch line"] == pytest.approx(2200)
    assert loads["snatch block at the far end"] == pytest.approx(block_load(2200, 0)) == pytest.approx(4400)
    assert loads["bow shackle at the anchor"] == pytest.approx(4400)
    assert loads["tree strap, each leg at 60°"] == pytest.approx(bridle_leg(4400, 60))
    assert loads["tree"] == pytest.approx(4400)
    assert loads["recovery point of the vehicle"] == pytest.approx(2200)  # the dead end


def test_blocks_stand_in_turn_at_the_far_and_the_winch_end() -> None:
    found = rig(60_000, 21_000)
    assert [p.where for p in found.parts if "block" in p.where] == ["far-block", "near-block", "far-block"]
    near = part(found, "recovery point of the vehicle")
    assert near.load_kgf == pytest.approx(3 * found.fall_line_kgf)  # dead end and one block


def test_the_weakest_part_is_the_one_nearest_to_its_rating() -> None:
    assert rig(4000, 4300, gear(), layer=2).weakest == "bow shackle at the anchor"
    strong = gear(shackle=("bow shackle", 8500), strap=("tree strap", 2600))
    assert rig(4000, 4300, strong, layer=2).weakest == "tree strap, each leg at 60°"
    assert rig(4000, 4300, gear(shackle=("bow shackle", 9000), strap=None), layer=2).weakest == "winch"
    assert rig(1000, 4300).weakest == "winch"


def test_a_part_beyond_its_rating_is_named_and_the_rig_does_not_fit() -> None:
    """Six and a half tonnes: no number of lines lowers what hangs on the anchor's shackle."""
    found = rig(6500, 4300, gear(), layer=2)
    assert not found.fits
    assert part(found, "bow shackle at the anchor").used > 1  # type: ignore[operator]
    assert "Beyond its rating: bow shackle at the anchor" in found.note
    assert "Do not pull like this." in found.note


def test_another_line_is_taken_when_that_spares_a_part() -> None:
    """The winch could do it with two lines, but the block is weak: three lines load it less."""
    weak = Block("small block", 4200, 0.10)
    found = rig(4000, 4300, gear(blocks=(weak, weak), shackle=("bow shackle", 8500)), layer=2)
    assert found.lines == 3
    assert found.fits
    assert block_load(found.fall_line_kgf) <= 4200


def test_no_more_lines_than_blocks_allow() -> None:
    found = rig(20_000, 4300, gear())
    assert found.lines == 3
    assert not found.fits
    assert found.fall_line_kgf > 4300


def test_without_any_block_there_is_one_line() -> None:
    found = rig(6000, 4300, gear(blocks=()))
    assert (found.lines, found.fits) == (1, False)


def test_rings_lose_more_than_blocks() -> None:
    """A ring without a bearing rubs: its loss is its own, not the sheave's 10 %."""
    block, ring = (rig(4000, 4300, gear(blocks=(b,)), layer=2) for b in (BLOCK, RING))
    assert block.total_kgf == pytest.approx(4400)
    assert ring.total_kgf == pytest.approx(5000)


def test_a_shackle_pulled_sideways_keeps_half_its_rating() -> None:
    straight = rig(2000, 4300, gear())
    side = rig(2000, 4300, gear(), angles=Angles(shackle_deg=90))
    assert part(straight, "bow shackle at the anchor").rated_kgf == 4750
    assert part(side, "bow shackle at the anchor").rated_kgf == pytest.approx(0.5 * 4750)


def test_a_wide_strap_round_the_anchor_loads_its_legs_more() -> None:
    narrow, wide = (rig(3000, 4300, gear(), angles=Angles(bridle_deg=d)) for d in (20, 120))
    assert part(wide, "tree strap, each leg at 120°").load_kgf == pytest.approx(3000)
    assert part(narrow, "tree strap, each leg at 20°").load_kgf < 1600


def test_a_partners_winch_is_tied_back_when_its_brakes_do_not_hold() -> None:
    light = gear(holder=("Lantern", 1400))
    held, tied = rig(1200, 4300, light), rig(3000, 4300, light)
    assert part(held, "Lantern, braked and chocked").used == pytest.approx(1200 / 1400)
    assert "watched" in held.note
    names = [p.name for p in tied.parts if p.where == "behind"]
    assert names == ["tie-back bow shackle at the anchor", "tie-back tree strap, each leg at 60°", "tie-back tree"]
    assert "tie it back to an anchor behind it" in tied.note
    assert tied.partner and tied.fits


def test_a_partner_that_cannot_be_tied_back_does_not_fit() -> None:
    found = rig(3000, 4300, gear(holder=("Lantern", 1400), strap=None))
    assert not found.fits
    assert found.weakest == "Lantern, braked and chocked"


def test_the_note_gives_reach_and_zone_and_what_is_not_known() -> None:
    """23 m of rope: a 2-part line reaches half as far; the zone goes by all the line that is out."""
    one, two = rig(2000, 4300, gear()), rig(4000, 4300, gear(), layer=2)
    assert (one.reach_m, two.reach_m) == (pytest.approx(23), pytest.approx(11.5))
    assert one.zone_m == two.zone_m == pytest.approx(34.5)
    assert "Not known: the rating of winch line, tree." in two.note
    assert "Planned on layer 2 of the drum, where 3784 kg of the rated pull are left." in two.note


def test_a_full_pull_that_a_block_does_not_bear_is_said() -> None:
    """Stalled on the first layer the winch puts twice 4,300 kg on a block of 8,000 kg."""
    assert "8600 kg on the snatch block" in rig(4000, 4300, gear(), layer=2).note
    assert "stop before it stalls" not in rig(4000, 3900, gear(), layer=1).note


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: rig(-1, 4300), "pull -1 must be 0 or more"),
        (lambda: rig(1000, 0), "winch capacity 0 must be above 0"),
        (lambda: rig(1000, 4300, layer=6), "layer 6 is not 1 to 5"),
        (lambda: block_load(1000, 181), "included angle 181 degrees is not 0 to 180"),
        (lambda: bridle_leg(1000, -1), "bridle of -1 degrees is not 0 to 120: lengthen it"),
        (lambda: winch_pull_by_layer(4300, 0), "layer 0 is not 1 to 5"),
        (lambda: fall_line(1000, 0), "0 parts of line; at least 1"),
        (lambda: bend_loss(5), "a sheave of 5 rope diameters is smaller than any figure (6)"),
        (lambda: sling_rating(1000, "loop"), "unknown hitch 'loop'; one of: single, choke, basket"),
    ],
)
def test_impossible_rigs_are_refused(call: Any, said: str) -> None:
    with pytest.raises(ValueError) as odd:
        call()
    assert said in str(odd.value)


def test_nothing_to_pull_is_a_single_slack_line() -> None:
    found = rig(0, 4300, gear())
    assert (found.lines, found.fall_line_kgf, found.fits) == (1, 0, True)


# ------------------------------------------------------------------------------------ properties
LOSSES = st.floats(0, 0.9)


@given(st.floats(1, 20_000), LOSSES, st.integers(1, 9))
def test_each_added_sheave_never_lowers_capacity(winch: float, loss: float, lines: int) -> None:
    """Property: with one more sheave the same winch gives at least the pull it gave before."""

    def capacity(n: int) -> float:
        return winch / fall_line(1.0, n, loss)[1]

    assert capacity(lines + 1) >= capacity(lines) * (1 - 1e-12)


@given(st.floats(0, 200_000), st.floats(100, 30_000))
def test_a_rig_without_limits_on_blocks_fits_unless_ten_lines_are_too_few(pull: float, winch: float) -> None:
    """Property: the fall line is below the capacity, and one line less would not have been (beyond the first try)."""
    found = rig(pull, winch)
    if found.fits:
        assert found.fall_line_kgf < winch
        if found.lines > 1:
            assert fall_line(pull, found.lines - 1)[1] >= winch or pull / winch > found.lines - 1
    else:
        assert fall_line(pull, 10)[1] >= winch


@given(st.floats(1, 8000), st.floats(500, 5000), st.integers(0, 3), st.floats(0, 90), st.floats(0, 120))
def test_no_part_carries_less_than_nothing_and_used_shares_are_true(
    pull: float, winch: float, blocks: int, line_deg: float, bridle_deg: float
) -> None:
    found = rig(pull, winch, gear(blocks=(BLOCK,) * blocks), angles=Angles(line_deg, bridle_deg))
    for p in found.parts:
        assert p.load_kgf >= 0
        assert p.used is None or p.used == pytest.approx(p.load_kgf / (p.rated_kgf or 1))
    most = max(p.used for p in found.parts if p.used is not None)
    assert part(found, found.weakest).used == pytest.approx(most)
    assert found.fits is (found.fall_line_kgf < winch and most <= 1)


@given(st.floats(0, 180), st.floats(0, 180))
def test_a_wider_turn_loads_a_block_less(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert block_load(1000, high) <= block_load(1000, low) + 1e-9


@given(st.floats(0, 120), st.floats(0, 120))
def test_a_wider_bridle_loads_its_legs_more(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert bridle_leg(1000, high) >= bridle_leg(1000, low) - 1e-9
    assert 500 - 1e-9 <= bridle_leg(1000, low) <= 1000 + 1e-9
