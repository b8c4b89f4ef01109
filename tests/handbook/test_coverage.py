"""Which repairs the stock covers: worked cases and properties. The page's script is held to these in tests/browser."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from fieldkit.handbook.coverage import Gear, Line, Move, Need, cover_now, lacking, stock_for, stock_left

ITEMS = ("bolt", "strap", "tape", "wrap")
GEAR = {
    "bolt": Gear((), frozenset({"tie-rod"})),
    "strap": Gear(("tape",)),
    "tape": Gear(("wrap", "strap")),
    "wrap": Gear(),
}
packs = st.integers(0, 8).map(lambda n: n / 4)
stocks = st.dictionaries(st.sampled_from(ITEMS), packs)


@given(stocks, stocks, st.booleans())
def test_more_stock_never_covers_less(needs: dict[str, float], stock: dict[str, float], rod: bool) -> None:
    features = frozenset({"tie-rod"} if rod else ())
    before = lacking(needs, stock, GEAR, features)
    more = {item: stock.get(item, 0.0) + 5.0 for item in ITEMS}
    after = lacking(needs, more, GEAR, features)
    assert set(after) <= set(before)
    assert sum(after.values()) <= sum(before.values()) + 1e-9


@given(stocks, stocks)
def test_nothing_is_used_twice(needs: dict[str, float], stock: dict[str, float]) -> None:
    """What is lacking and what is taken add up to what is needed; never more is taken than is there."""
    short = lacking(needs, stock, GEAR, frozenset({"tie-rod"}))
    taken = sum(needs.values()) - sum(short.values())
    assert -1e-9 <= taken <= sum(stock.values()) + 1e-9


def test_a_part_for_other_vehicles_does_not_cover() -> None:
    assert lacking({"bolt": 1}, {"bolt": 3}, GEAR, frozenset()) == {"bolt": 1.0}
    assert lacking({"bolt": 1}, {"bolt": 3}, GEAR, frozenset({"tie-rod"})) == {}


LINES = [Line("strap", "a", "roof", 2), Line("strap", "b", "box", 1), Line("tape", "b", "box", 1)]


def test_used_is_taken_from_its_own_line() -> None:
    left = stock_left(LINES, [Move("strap", "a", "roof", "used", 1)], {}, ["a", "b"])
    assert left == {("strap", "a", "roof", ""): 1.0, ("strap", "b", "box", ""): 1.0, ("tape", "b", "box", ""): 1.0}


def test_more_cannot_be_used_than_is_there() -> None:
    left = stock_left(LINES, [Move("strap", "b", "box", "lost", 7)], {}, ["a", "b"])
    assert left[("strap", "b", "box", "")] == 0.0


def test_lent_within_the_convoy_stays_in_it_until_that_vehicle_is_out() -> None:
    moves = [Move("strap", "a", "roof", "lent", 2, "b")]
    assert stock_left(LINES, moves, {}, ["a", "b"])[("strap", "a", "roof", "")] == 2.0
    assert stock_left(LINES, moves, {"b": False}, ["a", "b"])[("strap", "a", "roof", "")] == 0.0
    assert stock_left(LINES, moves, {"b": True}, ["a", "b"])[("strap", "a", "roof", "")] == 2.0
    assert stock_left(LINES, moves, {"a": False}, ["a", "b"])[("strap", "a", "roof", "")] == 2.0


def test_lent_outside_the_convoy_is_gone_and_back_brings_it_home() -> None:
    lent = Move("strap", "a", "roof", "lent", 2, "a farmer")
    back = Move("strap", "a", "roof", "back", 2)
    assert stock_left(LINES, [lent], {}, ["a", "b"])[("strap", "a", "roof", "")] == 0.0
    assert stock_left(LINES, [lent, back], {}, ["a", "b"])[("strap", "a", "roof", "")] == 2.0


def test_marks_of_an_older_kit_are_passed_over() -> None:
    assert stock_left(LINES, [Move("gone", "z", "x", "used", 1)], {}, ["a", "b"])[("tape", "b", "box", "")] == 1.0


def test_what_is_lost_and_what_is_the_only_one_is_said() -> None:
    repairs = {"lash": Need({"strap": 2.0}, ("a", "b")), "bind": Need({"tape": 1.0}, ("a",))}
    features = {"a": frozenset[str](), "b": frozenset[str]()}
    now = cover_now(LINES, [Move("strap", "a", "roof", "used", 2)], {}, repairs, GEAR, features)
    assert now.lost == ()  # tape stands in for the second strap
    assert now.only_one == (("strap", ""),)
    more = [Move("strap", "a", "roof", "used", 2), Move("tape", "b", "box", "lost", 1)]
    now = cover_now(LINES, more, {}, repairs, GEAR, features)
    assert now.lost == (("lash", "a", ("strap",)), ("lash", "b", ("strap",)))
    assert now.none == (("tape", ""),)


def test_a_vehicle_that_is_out_takes_its_kit_and_is_not_asked_for() -> None:
    repairs = {"bind": Need({"tape": 1.0}, ("a", "b"))}
    features = {"a": frozenset[str](), "b": frozenset[str]()}
    stock = [Line("tape", "b", "box", 1)]
    assert cover_now(stock, [], {"b": False}, repairs, GEAR, features).lost == (("bind", "a", ("tape",)),)
    assert cover_now(stock, [], {"b": True}, repairs, GEAR, features).lost == ()


moves = st.builds(
    Move,
    item=st.sampled_from(ITEMS),
    vehicle=st.sampled_from("ab"),
    place=st.sampled_from(["roof", "box"]),
    what=st.sampled_from(["used", "lost", "lent", "left", "back"]),
    quantity=st.sampled_from([0.5, 1.0, 2.0]),
    to=st.sampled_from(["a", "b", "", "farmer"]),
)


@given(st.lists(moves, max_size=8), st.dictionaries(st.sampled_from("ab"), st.booleans()))
def test_stock_never_grows_and_never_falls_below_nought(made: list[Move], out: dict[str, bool]) -> None:
    left = stock_left(LINES, made, out, ["a", "b"])
    packed = {x.key: x.quantity for x in LINES}
    assert all(-1e-9 <= left[key] <= packed[key] + 1e-9 for key in packed)


def test_a_spare_for_one_build_is_none_for_another() -> None:
    """Two belts in one box, each for its own vehicle: neither covers the other, and a mark takes from its own."""
    lines = [Line("belt", "a", "box", 1, ("a",)), Line("belt", "a", "box", 1, ("b",)), Line("tape", "b", "box", 1)]
    gear = {"belt": Gear(("tape",)), "tape": Gear()}
    features = {v: frozenset[str]() for v in "abc"}
    repairs = {"fit": Need({"belt": 1.0}, ("a", "b", "c")), "bind": Need({"tape": 1.0}, ("a",))}
    left = stock_left(lines, [], {}, features)
    assert [lacking({"belt": 2}, stock_for(lines, left, v), gear, features[v]) for v in "abc"] == [
        {},
        {},
        {"belt": 1.0},
    ]
    used = [Move("belt", "a", "box", "used", 1, suits="b"), Move("tape", "b", "box", "used", 1)]
    now = cover_now(lines, used, {}, repairs, gear, features)
    assert now.lost == (("fit", "b", ("belt",)), ("fit", "c", ("belt",)), ("bind", "a", ("tape",)))
    assert now.none == (("belt", "b"), ("tape", ""))


def test_a_mark_of_an_older_handbook_is_of_the_first_such_line() -> None:
    lines = [Line("belt", "a", "box", 1, ("a",)), Line("belt", "a", "box", 1, ("b",))]
    left = stock_left(lines, [Move("belt", "a", "box", "used", 1)], {}, "ab")
    assert left == {("belt", "a", "box", "a"): 0.0, ("belt", "a", "box", "b"): 1.0}
