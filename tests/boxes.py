"""Bin packing as a case of placing: equal places of one vehicle, each thing one pack of its size."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import numpy as np

from fieldkit.kit.catalogue import Catalogue, Stockable
from fieldkit.kit.placing import Bin, Stowage
from fieldkit.kit.settings import kit_settings
from fieldkit.loads.result import Room
from fieldkit.specs.library import Library


class Boxes(Stowage):
    """Equal places of one vehicle that limit volume alone; each thing is one pack of its size in litres."""

    def __init__(self, library: Library, places: int, capacity: int, sizes: list[int]) -> None:
        pattern = library.items[min(library.items)]
        items = {
            f"thing-{i:03d}": pattern.model_copy(
                update={"id": f"thing-{i:03d}", "mass_kg": 0.0, "volume_l": float(size), "longest_cm": 1.0}
            )
            for i, size in enumerate(sizes)
        }
        entries = tuple(Stockable(key, "", ("box-car",), 0, 0) for key in sorted(items))
        index = {(e.item, "box-car"): i for i, e in enumerate(entries)}
        things = cast(Library, SimpleNamespace(items=items))
        self.catalogue = Catalogue(entries, index, {}, {}, (), things)
        self.settings = kit_settings(library)
        self.bins = [
            Bin(
                "box-car",
                Room(f"box-{n:03d}", "box", None, float(capacity), None, 0, 0, 0, False, False, True),
                True,
                True,
            )
            for n in range(places)
        ]
        self.left, self.share = np.zeros(0), np.zeros((0, places))
        self.volume = np.full(places, float(capacity))
        self.kit, self.gross = {"box-car": 1e9}, {"box-car": 1e9}
