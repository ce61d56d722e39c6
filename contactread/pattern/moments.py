"""What patches of cells hold: sums of weight, of features and of their products, over each tooth's cells."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from contactread.arrays import Floats, Singles
from contactread.pattern.cells import FEATURES, Cells
from contactread.pattern.ellipse import product


@dataclass(frozen=True, eq=False)
class Moments:
    """Sums over the cells of each tooth, halved in number each way.

    table: (cells, teeth * (1 + FEATURES)), each cell's weight and weighted features on every tooth. weight:
    (teeth,), its sum. first: (teeth, FEATURES), weighted sum of the features; second: (teeth, FEATURES,
    FEATURES), of their products.
    """

    table: Singles
    weight: Floats
    first: Floats
    second: Floats

    @classmethod
    def of(cls, cells: Cells) -> Moments:
        """The sums of all teeth."""
        weight, features = cells.halves
        parts = np.concatenate([weight[..., None], features * weight[..., None]], axis=2)
        second = np.swapaxes(parts[..., 1:], 1, 2) @ features
        sums = parts.sum(axis=1).astype(float)
        table = np.ascontiguousarray(parts.swapaxes(0, 1)).reshape(weight.shape[1], -1)
        return cls(table, sums[:, 0], sums[:, 1:], second.astype(float))

    @property
    def cells(self) -> int:
        """How many cells a tooth has."""
        return len(self.table)

    def inside(self, covers: Singles) -> Floats:
        """Weight and weighted features inside patches that cover so much of each cell, (n, cells): (n, teeth,
        1 + FEATURES)."""
        return product(covers, self.table).reshape(len(covers), -1, 1 + FEATURES).astype(float)

    def only(self, features: Floats) -> Moments:
        """The same without some features; features: (FEATURES,), 1 to keep, 0 to leave out."""
        return replace(self, first=self.first * features, second=self.second * features * features[:, None])
