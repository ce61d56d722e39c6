"""Teeth from cells: a scene whose maps are known, seen through a noisy grid of cells."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from contactread.flank.flank import CORNER_UV, FlankMap
from contactread.flank.sight import Sight
from contactread.flank.teeth import agree, gather

ROWS, COLUMNS, CELL = 120, 160, 8.0


def true_maps(count: int = 6) -> list[FlankMap]:
    """Curved flanks side by side on an arc, as a ring gear shows them."""
    maps = []
    for k in range(count):
        c = np.zeros((4, 3, 2))
        turn = 0.35 + 0.12 * (k - count / 2)
        c[0, 0] = (250 + 135 * k, 420 + 14 * (k - 2) ** 2)
        c[1, 0] = 130 * np.array([np.sin(turn), np.cos(turn)])
        c[0, 1] = 42 * np.array([np.cos(turn), -np.sin(turn)])
        c[2, 0] = 9 * np.array([np.cos(turn), -np.sin(turn)])
        c[1, 1] = 0.06 * c[1, 0]
        maps.append(FlankMap(c))
    return maps


def sight_of_maps(maps: list[FlankMap], noise: float, hidden: int | None = None) -> Sight:
    """What a good network would say of these flanks."""
    rng = np.random.default_rng(5)
    ys, xs = np.mgrid[:ROWS, :COLUMNS]
    place = np.stack((xs, ys), -1) * CELL + CELL / 2
    chance = np.full((ROWS, COLUMNS), 0.02)
    uv = np.zeros((ROWS, COLUMNS, 2))
    vote = place.copy()
    s = np.linspace(0, 1, 400)
    for index, one in enumerate(maps):
        points = one.grid(s, s[::2])
        cells = np.floor(points / CELL).astype(int)
        u, v = np.meshgrid(s, s[::2])
        inside = (cells >= 0).all(-1) & (cells[..., 0] < COLUMNS) & (cells[..., 1] < ROWS)
        if index == hidden:  # its heel half lies behind something
            inside &= u < 0.55
        x, y = cells[inside].T
        chance[y, x] = 0.95
        uv[y, x] = np.stack((u[inside], v[inside]), -1)
        vote[y, x] = points[inside].mean(0)
    uv += noise * rng.standard_normal(uv.shape)
    vote += 3 * noise * CELL * rng.standard_normal(vote.shape)
    plane = chance.astype(np.float32)
    spread = np.full_like(plane, noise)
    return Sight(plane, plane * 0 + 0.01, plane, plane * 0, plane * 0, uv[..., 0].astype(np.float32),
                 uv[..., 1].astype(np.float32), spread, place.astype(np.float32),
                 vote.astype(np.float32), CELL, np.zeros((1, 1), np.uint8))  # fmt: skip


def corners(one: FlankMap) -> NDArray[np.float64]:
    return one(*np.array(list(CORNER_UV.values())).T)


@pytest.mark.parametrize("hidden", [None, 3])
def test_every_tooth_is_found_where_it_is(hidden: int | None) -> None:
    maps = true_maps()
    sight = sight_of_maps(maps, noise=0.02, hidden=hidden)
    teeth = agree(gather(sight, sight.convex))
    assert len(teeth) == len(maps)
    for one in maps:
        want = corners(one)
        got = min((corners(t.map) for t in teeth), key=lambda c: np.linalg.norm(c.mean(0) - want.mean(0)))
        error = np.linalg.norm(got - want, axis=1) / 260
        limit = 0.12 if hidden is not None and one is maps[hidden] else 0.03
        assert error.max() < limit


def test_nothing_seen_gives_no_teeth() -> None:
    sight = sight_of_maps([], noise=0.02)
    assert gather(sight, sight.convex) == []
