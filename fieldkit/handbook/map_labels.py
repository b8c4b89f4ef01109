"""Where numbers and names go on a map so that they cover neither each other nor the road."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from math import hypot

import numpy as np
from numpy.typing import NDArray

Point = tuple[float, float]

#: Width of a character and height of a line of map text, in the drawing's units: a cautious mean for system fonts.
CHARACTER, LINE = 6.9, 13.0
#: Radius of the circle around a leg's number.
RADIUS = 8.5
#: Distances of a name from its mark that are tried, nearest first; from ``LEADER`` on a line joins the two.
REACHES = (9.0, 16.0, 26.0, 38.0, 52.0, 68.0)
LEADER = 20.0
#: Directions that are tried: right, left, above, below, and between; y runs down.
DIRECTIONS = (
    (1, 0), (-1, 0), (0, -1), (0, 1), (0.8, -0.7), (-0.8, -0.7), (0.8, 0.7), (-0.8, 0.7),
    (0.95, -0.35), (-0.95, -0.35), (0.95, 0.35), (-0.95, 0.35),
)  # fmt: skip
#: Places along a leg, as shares of its length, and distances beside it [drawing units] where its number may stand.
ALONG = (0.5, 0.35, 0.65, 0.2, 0.8, 0.08, 0.92)
BESIDE = (0.0, 12.0, -12.0, 19.0, -19.0, 27.0, -27.0)


@dataclass(frozen=True)
class Box:
    """A rectangle that something covers."""

    left: float
    top: float
    right: float
    bottom: float


@dataclass(frozen=True)
class Label:
    """A name beside its mark: ``x, y`` of the text's base line, ``anchor`` (start, middle, end), ``leader``: end of a joining line."""

    x: float
    y: float
    anchor: str
    leader: Point | None
    box: Box


@dataclass
class Labels:
    """What lies on a map so far, and places for what is still to come.

    ``width``, ``height``: the drawing's; nothing is put outside. ``road``: points along the lines, a few units apart.
    """

    width: float
    height: float
    road: Sequence[Point]
    taken: list[Box] = field(default_factory=list)

    def mark(self, at: Point, half: float) -> None:
        """Keep a mark of a half width free."""
        self.taken.append(Box(at[0] - half, at[1] - half, at[0] + half, at[1] + half))

    def number(self, leg: Sequence[Point]) -> Point:
        """The middle of a leg's number: on the leg where there is room, else close beside it."""
        places = [(place, abs(beside)) for beside in BESIDE for place in _beside(leg, beside)]
        costs = self._costs([_round(place) for place, _ in places], lines=False) + 8.0 * np.array(
            [off for _, off in places]
        )
        best = places[int(np.argmin(costs.round(6)))][0]
        self.taken.append(_round(best))
        return best

    def name(self, at: Point, text: str) -> Label:
        """A name near its mark, clear of the road and of what is there already as far as there is room."""
        tried = [_label(at, text, reach, d) for reach in REACHES for d in DIRECTIONS]
        far = np.array([reach for reach in REACHES for _ in DIRECTIONS])
        joined = np.array([self._joined(at, label) for label in tried])
        costs = self._costs([label.box for label in tried], lines=True) + joined + 1.5 * far
        best = tried[int(np.argmin(costs.round(6)))]
        self.taken.append(best.box)
        self.taken += [Box(x - 1, y - 1, x + 1, y + 1) for x, y in _joining(at, best)]
        return best

    def _joined(self, at: Point, label: Label) -> float:
        """What the line from a name to its mark crosses."""
        return 25.0 * float(_inside(_joining(at, label), self.taken).sum())

    def _costs(self, boxes: Sequence[Box], lines: bool) -> NDArray[np.float64]:
        """What each box would cover (boxes,): never outside, seldom on another, off the road where ``lines``."""
        left, top, right, bottom = (side[:, None] for side in _sides(boxes))
        outside = (left < 1) | (top < 1) | (right > self.width - 1) | (bottom > self.height - 1)
        lefts, tops, rights, bottoms = _sides(self.taken)
        wide = np.minimum(right, rights) - np.maximum(left, lefts)
        high = np.minimum(bottom, bottoms) - np.maximum(top, tops)
        covered = (np.maximum(wide, 0) * np.maximum(high, 0)).sum(axis=1)
        crossed = _inside(self.road, boxes).sum(axis=0) if lines else 0
        return 1e6 * outside[:, 0] + 10.0 * covered + 12.0 * crossed


def _sides(boxes: Sequence[Box]) -> NDArray[np.float64]:
    """Left, top, right and bottom of boxes, (4, boxes)."""
    return np.array([(b.left, b.top, b.right, b.bottom) for b in boxes], dtype=float).reshape(-1, 4).T


def _inside(points: Sequence[Point], boxes: Sequence[Box]) -> NDArray[np.bool_]:
    """Which box holds which point, (points, boxes)."""
    x, y = np.array(points, dtype=float).reshape(-1, 2).T[:, :, None]
    left, top, right, bottom = _sides(boxes)
    return (left < x) & (x < right) & (top < y) & (y < bottom)


def _joining(at: Point, label: Label) -> list[Point]:
    """Points of the line between a mark and its name, the mark's own ground apart."""
    return [p for p in spread([at, label.leader]) if hypot(p[0] - at[0], p[1] - at[1]) > 8] if label.leader else []


def _round(at: Point) -> Box:
    return Box(at[0] - RADIUS, at[1] - RADIUS, at[0] + RADIUS, at[1] + RADIUS)


def _label(at: Point, text: str, reach: float, direction: tuple[float, float]) -> Label:
    x, y = at[0] + reach * direction[0], at[1] + reach * direction[1]
    wide = CHARACTER * len(text)
    anchor = "middle" if direction[0] == 0 else "start" if direction[0] > 0 else "end"
    left = x - wide / 2 if anchor == "middle" else x if anchor == "start" else x - wide
    leader = (x, y) if reach >= LEADER else None
    return Label(x, y + 0.35 * LINE, anchor, leader, Box(left, y - LINE / 2, left + wide, y + LINE / 2))


def _beside(leg: Sequence[Point], beside: float) -> Iterable[Point]:
    """Points along a leg, moved square to it."""
    lengths = [hypot(b[0] - a[0], b[1] - a[1]) for a, b in itertools.pairwise(leg)]
    for share in ALONG:
        left = share * sum(lengths)
        for (a, b), length in zip(itertools.pairwise(leg), lengths, strict=True):
            if left <= length and length > 0:
                dx, dy = (b[0] - a[0]) / length, (b[1] - a[1]) / length
                yield a[0] + left * dx - beside * dy, a[1] + left * dy + beside * dx
                break
            left -= length
        else:
            yield leg[-1]


def spread(leg: Sequence[Point], apart: float = 4.0) -> list[Point]:
    """Points along a line, no further apart than ``apart``.

    >>> spread([(0.0, 0.0), (8.0, 0.0)])
    [(0.0, 0.0), (4.0, 0.0), (8.0, 0.0)]
    """
    found = [leg[0]]
    for a, b in itertools.pairwise(leg):
        count = max(1, int(-(-hypot(b[0] - a[0], b[1] - a[1]) // apart)))
        found += [(a[0] + (b[0] - a[0]) * n / count, a[1] + (b[1] - a[1]) * n / count) for n in range(1, count + 1)]
    return found
