"""Parts that are no ring gear but look like workshop metal: other gears, splines, knurls, springs, fins."""

from __future__ import annotations

import numpy as np

from calibration.render.compound import Compound
from calibration.render.noise import cloud, ramp, streaks
from calibration.render.patches import Patch, box, lathe, mesh_of, tube
from calibration.render.steel import Finish, Steel, finish
from calibration.render.surroundings import Thing
from calibration.render.workshop_solids import toothed


def other_gear(rng: np.random.Generator, radius: float, steel: Steel, compound: Compound | None) -> Thing:
    """A spur, helical, straight or spiral bevel gear, a starter ring, a pinion, or some gears on one shaft;
    at times with compound or paint on some teeth."""
    kind = str(rng.choice(["spur", "helical", "bevel", "spiral", "starter", "pinion", "cluster"]))
    teeth = int(rng.integers(18, 60))
    slant = float(rng.uniform(0.12, 0.45)) * (1 if rng.random() < 0.5 else -1)
    if kind == "starter":
        gear = toothed(rng, radius * 1.2, int(rng.integers(90, 140)), 0.0, 0.0, radius * 0.1)
        gear = mesh_of([gear, disc_patch(rng, radius * 1.05)])
    elif kind == "pinion":
        gear = toothed(rng, radius * 0.45, int(rng.integers(8, 15)), 0.25, 2.0 * slant, radius * 0.5)
        stem = lathe(np.array([[0.18, 0.1], [0.15, 0.6], [0.11, 0.6], [0.11, 1.3]]) * radius, 40)
        gear = mesh_of([gear, stem])
    elif kind == "cluster":
        parts, at = [lathe(np.array([[0.2, -1.3], [0.2, 1.3]]) * radius, 40)], -radius
        for _ in range(int(rng.integers(2, 5))):
            size, wide = radius * float(rng.uniform(0.3, 0.9)), radius * float(rng.uniform(0.15, 0.35))
            one = toothed(rng, size, int(rng.integers(14, 44)), 0.0, slant * float(rng.choice([0, 1])), wide)
            parts.append(one.moved(np.eye(3), np.array([0, 0, at + wide / 2])))
            at += wide + radius * float(rng.uniform(0.05, 0.3))
        gear = mesh_of(parts)
    else:
        cone = float(rng.uniform(0.3, 1.2)) if kind in ("bevel", "spiral") else 0.0
        gear = toothed(rng, radius, teeth, cone, slant if kind in ("helical", "spiral") else 0.0)
    return Thing(gear, smeared(rng, steel, compound))


def smeared(rng: np.random.Generator, steel: Steel, compound: Compound | None) -> Finish:
    """Steel of such a part, with compound on a part of its round, at times wiped in bands like a pattern."""
    shape = (160, 1024)
    thickness = None
    if compound is not None:
        x = (np.arange(shape[1], dtype=np.float32) / shape[1])[None]
        near = np.minimum(x, 1 - x) < float(rng.uniform(0.05, 0.5))
        low = float(rng.uniform(-1.5, 0.8))
        spread = ramp(cloud(rng, shape, 14.0, 3), low, low + float(rng.uniform(0.2, 1.5)))
        if rng.random() < 0.4:
            teeth = np.sin(2 * np.pi * float(rng.integers(18, 60)) * x) * np.ones(shape, np.float32)
            worn = ramp(teeth.astype(np.float32) + 0.4 * streaks(rng, shape, 9.0, 2.0, 0.0), 0.0, 0.8)
            spread = spread * (1 - float(rng.uniform(0.3, 1)) * worn)
        thickness = (spread * near * compound.thickness).astype(np.float32)
    return finish(rng, steel, shape, 1.6, thickness, compound)


def other_part(rng: np.random.Generator, radius: float, steel: Steel, compound: Compound | None) -> Thing:
    """A splined shaft, a knurled knob, coil springs, cooling fins, a thread, or a plain part; with smears of
    compound or paint where one is given."""
    kind = str(rng.choice(["splines", "knurl", "springs", "fins", "thread", "plain"]))
    if kind == "plain":
        return disc_or_ring(rng, radius, steel)
    if kind == "splines":
        bar = toothed(
            rng, radius * 0.3, int(rng.integers(16, 36)), 0.0, 0.0, radius * float(rng.uniform(0.6, 2))
        )
        plain = lathe(
            np.array([[0.24, 0.3], [0.24, 1.6], [0.34, 1.62], [0.34, 1.9], [0.1, 1.9]]) * radius, 48
        )
        made = mesh_of([bar, plain])
    elif kind == "knurl":
        twist = float(rng.uniform(0.2, 0.8))
        one = toothed(rng, radius * 0.6, int(rng.integers(50, 100)), 0.0, twist, radius * 0.5)
        other = toothed(rng, radius * 0.6, int(rng.integers(50, 100)), 0.0, -twist, radius * 0.5)
        made = mesh_of([one, other])
    elif kind == "springs":
        coils = []
        for _ in range(int(rng.integers(1, 5))):
            turns, r, long = float(rng.uniform(6, 16)), radius * float(rng.uniform(0.08, 0.3)), radius * 1.2
            t = np.linspace(0, 1, 260)
            place = np.append(rng.uniform(-0.6, 0.6, 2) * radius, 0.0)
            path = np.stack(
                [r * np.cos(6.283 * turns * t), r * np.sin(6.283 * turns * t), long * (t - 0.5)], 1
            )
            coil = tube(path + place, np.full(260, 0.16 * r), 8)
            coils.append(coil)
        made = mesh_of(coils)
    elif kind == "fins":
        count, wide = int(rng.integers(8, 24)), radius * float(rng.uniform(0.6, 1.4))
        lean = float(rng.uniform(-0.5, 0.5))
        gap = 1.8 * radius / count
        blade = box(np.array([gap * 0.35, wide, radius * float(rng.uniform(0.1, 0.4))]))
        tilt = np.array([[np.cos(lean), 0, np.sin(lean)], [0, 1, 0], [-np.sin(lean), 0, np.cos(lean)]])
        fan = rng.random() < 0.5
        fins = []
        for k in range(count):
            if fan:
                turn = 2 * np.pi * k / count
                spin = np.array(
                    [[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 1.0]]
                )
                fins.append(blade.moved(spin @ tilt, spin @ np.array([0, 0.8 * radius, 0.0])))
            else:
                fins.append(blade.moved(tilt, np.array([(k - count / 2) * gap, 0, 0.1 * radius])))
        made = mesh_of([*fins, lathe(np.array([[1.1, -0.1], [1.1, 0.0], [0.0, 0.0]]) * radius, 48)])
    else:
        pitch = float(rng.uniform(0.03, 0.1)) * radius
        z = np.arange(0, 1.4 * radius, pitch / 2)
        thread = radius * 0.4 + np.where(np.arange(len(z)) % 2 == 0, 0.0, -0.5 * pitch)
        made = lathe(np.stack([thread, z], 1)[::-1], 48)
    return Thing(made, smeared(rng, steel, compound))


def disc_patch(rng: np.random.Generator, radius: float) -> Patch:
    """A plate with a hole, about z."""
    inner = radius * float(rng.uniform(0.15, 0.6))
    return lathe(
        np.array([[inner, 3.0], [radius, 3.0], [radius, -3.0], [inner, -3.0], [inner, 3.0]])[::-1], 64
    )


def disc_or_ring(rng: np.random.Generator, radius: float, steel: Steel) -> Thing:
    """A brake-disc-like plate, a bearing-like ring with rollers, or a block with bores."""
    kind = int(rng.integers(3))
    parts: list[Patch] = []
    if kind == 0:
        inner, hat = radius * float(rng.uniform(0.45, 0.65)), float(rng.uniform(10, 50))
        profile = np.array(
            [[0, hat], [inner, hat], [inner, 8], [radius, 8], [radius, -8], [inner * 0.9, -8.0]]
        )
        parts.append(lathe(profile[::-1], 90, 4.0))
        hole = lathe(np.array([[6, hat + 0.2], [0, hat + 0.2]]), 14)
        count = int(rng.integers(4, 8))
        hole = hole.moved(np.eye(3), np.array([inner * 0.6, 0, 0]))
        parts.append(hole.turned(np.arange(count) * 2 * np.pi / count))
    elif kind == 1:
        inner = radius * float(rng.uniform(0.6, 0.8))
        for a, b in ((inner * 0.92, inner), (radius * 0.94, radius)):
            parts.append(lathe(np.array([[a, 12], [a, -12], [b, -12], [b, 12], [a, 12.0]])[::-1], 80, 3.0))
        r = (radius * 0.94 - inner) / 2
        arc = np.linspace(np.pi / 2, -np.pi / 2, 9)
        ball = lathe(np.stack([r * np.cos(arc), r * np.sin(arc)], -1)[::-1], 16)
        ball = ball.moved(np.eye(3), np.array([(inner + radius * 0.94) / 2, 0, 0]))
        count = int(2 * np.pi * inner / (2.4 * r))
        parts.append(ball.turned(np.arange(count) * 2 * np.pi / count))
    else:
        parts.append(box(np.array([1.6, 1.2, 0.4]) * radius, 2.0))
        for _ in range(int(rng.integers(3, 9))):
            r = float(rng.uniform(0.05, 0.2)) * radius
            plug = lathe(np.array([[r, 0], [r, 8.0], [0.6 * r, 8.0], [0.6 * r, -6], [0, -6]]), 24)
            parts.append(plug.moved(np.eye(3), np.array([*rng.uniform(-0.6, 0.6, 2) * radius, 0.2 * radius])))
    return Thing(mesh_of(parts), finish(rng, steel, (160, 512), 2.0, None, None))
