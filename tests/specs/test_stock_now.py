"""The inventory after what phones marked: the next plan does not count on what is gone."""

from __future__ import annotations

from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from fieldkit.specs.library import Library
from fieldkit.specs.marked import StockMove
from fieldkit.specs.read_trip import load_trip
from fieldkit.specs.stock_now import inventory_now
from fieldkit.specs.trip import Stock


def move(what: str = "lost", quantity: float = 1.0, vehicle: str = "a", at: str = "", item: str = "jack") -> StockMove:
    return StockMove.model_validate(
        {"item": item, "vehicle": vehicle, "place": "drawers", "what": what, "quantity": quantity, "at": at}
    )


def owned(quantity: float, vehicle: str = "", item: str = "jack") -> Stock:
    return Stock(item=item, quantity=quantity, vehicle=vehicle)


def left(stocks: list[Stock], moves: list[StockMove]) -> dict[str, float]:
    return {s.vehicle: s.quantity for s in inventory_now(stocks, moves)[0]}


def test_it_goes_from_the_vehicle_that_carried_it_first() -> None:
    stocks = [owned(1, "b"), owned(2), owned(1, "a")]
    assert left(stocks, [move()]) == {"b": 1, "": 2}
    assert left(stocks, [move(quantity=2)]) == {"b": 1, "": 1}
    assert left(stocks, [move(quantity=9)]) == {}


def test_lent_and_left_are_not_here_and_back_undoes_by_the_clock() -> None:
    lent, back = move("lent", at="2027-06-13T10:00"), move("back", at="2027-06-14T10:00")
    assert left([owned(1)], [lent]) == {}
    assert left([owned(1)], [back, lent]) == {"": 1}
    again = move("left", at="2027-06-15T10:00")
    assert left([owned(1)], [lent, back, again]) == {}


def test_what_was_never_on_the_list_takes_nothing_away_and_says_nothing() -> None:
    now, notes = inventory_now([owned(1)], [move(item="rope")])
    assert [s.quantity for s in now] == [1]
    assert notes == []


@given(
    st.lists(st.tuples(st.sampled_from(["", "a", "b"]), st.integers(1, 4)), max_size=4),
    st.lists(st.tuples(st.sampled_from(["a", "b"]), st.integers(1, 4)), max_size=4),
)
def test_nothing_goes_twice_and_nothing_below_nought(have: list[tuple[str, int]], went: list[tuple[str, int]]) -> None:
    stocks = [owned(q, v) for v, q in have]
    moves = [move(quantity=q, vehicle=v) for v, q in went]
    now, _ = inventory_now(stocks, moves)
    assert all(s.quantity > 0 for s in now)
    assert sum(s.quantity for s in now) == max(0, sum(q for _, q in have) - sum(q for _, q in went))


def test_a_trip_counts_what_is_left_and_says_so(blank: Path, library: Library) -> None:
    before = {s.item: s.quantity for s in load_trip(blank, library).inventory}
    item = next(iter(before))
    (blank / "stock_moves.csv").write_text(
        f"item,vehicle,place,what,quantity,to,at,note\n{item},wagon,drawers,lost,{before[item]:g},,2027-06-13,\n",
        encoding="utf-8",
    )
    after = load_trip(blank, library)
    assert item not in {s.item for s in after.inventory}
    assert any(item in w and "no longer counted as owned" in w for w in after.warnings)
