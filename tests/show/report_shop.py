"""A finished job of an invented shop for the report's tests, with pictures and readings made by code."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import cv2
import numpy as np
from made_axle import AXLE

from contactread.axle import FlankName, Role
from contactread.flank.flank import CORNER_UV, Flank, FlankMap
from contactread.patch import told_clear
from contactread.pattern.measures import Side, ToothPattern
from contactread.reading import Reading, ReadTooth
from contactread.records.book import Book
from contactread.records.jobs import open_job
from contactread.records.measured import with_measured
from contactread.records.nouns import Fastener
from contactread.records.photos import keep_advice, keep_photo
from contactread.records.sign_off import check_list, sign_off
from contactread.records.tries import record, start_try

SIZE = (800, 600)
# A GPS position and a marked description, as a phone writes them (Exif 2.32, tags 0x8825 and 0x010E).
SECRET = b"SECRET PLACE"


def picture(seed: int) -> bytes:
    """A JPEG with EXIF that must not come through."""
    pixels = np.random.default_rng(seed).integers(60, 180, (SIZE[1] // 10, SIZE[0] // 10, 3), np.uint8)
    done, data = cv2.imencode(".jpg", cv2.resize(pixels, SIZE, interpolation=cv2.INTER_CUBIC))
    assert done
    tiff = b"II*\0\x08\0\0\0\x01\0\x0e\x01\x02\0" + len(SECRET).to_bytes(4, "little") + b"\x1a\0\0\0"
    exif = b"Exif\0\0" + tiff + b"\0\0\0\0" + SECRET
    raw = data.tobytes()
    return raw[:2] + b"\xff\xe1" + (len(exif) + 2).to_bytes(2, "big") + exif + raw[2:]


def made_reading(flank: FlankName, role: Role, centre: tuple[float, float]) -> dict[str, Any]:
    """A reading of four teeth as the book keeps it."""
    u, v = centre
    patch: dict[str, Any] = {
        "centre": centre, "length": (u - 0.2, u + 0.2), "height": (v - 0.25, v + 0.25), "area_fraction": 0.2,
        "tilt_deg": 3.0, "clear": told_clear((u - 0.2, u + 0.2), (v - 0.25, v + 0.25)),
        "sigma": (0.01, 0.02),
    }  # fmt: skip
    ring = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    outline = tuple((u + 0.2 * float(np.cos(a)), v + 0.25 * float(np.sin(a))) for a in ring)
    pattern = ToothPattern(**patch, outlines=(outline,), unsure_fraction=0.02)
    teeth = tuple(ReadTooth(made_flank(k, flank), True, pattern) for k in range(4))
    side = Side(
        flank=flank, role=role, **patch, spread=(0.01, 0.02), wave=None, polarity="pressed_away",
        compound="yellow", teeth=(pattern,) * 4,
    )  # fmt: skip
    return with_measured(Reading(None, "0" * 64, SIZE, teeth, side, 0.9, ()))


def made_flank(number: int, name: FlankName) -> Flank:
    """A straight flank of a left-hand gear, four of them in a column."""
    corners = {"toe_root": (200, 0), "toe_top": (230, 70), "heel_top": (560, 90), "heel_root": (540, 0)}
    points = np.array([corners[name] for name in CORNER_UV], float) + np.array([0, 60 + 110 * number])
    if name == "concave":
        points[:, 0] = 800 - points[:, 0]
    u, v = np.array(list(CORNER_UV.values()), float).T
    design = FlankMap.basis(u, v, 2, 2)
    return Flank(FlankMap(np.linalg.solve(design, points).reshape(2, 2, 2)), name, 0.9, 0.004, "corners")


def finished_job(book: Book, words: dict[str, str] | None = None) -> int:
    """A job of two tries, signed off despite one thing. words: what to write in place of the usual."""
    w = {
        "vehicle": "Loader 7, north pit", "gear_set": "set 12-4, mark +2", "who": "Ana", "notes": "Whined.",
        "axle": "Fernhill 21", "compound": "yellow", "drag": "rag on the ring gear", "photo": "IMG_1.jpg",
        "fastener": "bearing caps", "reason": "Runout agreed with the owner.", "advice": "Made up advice.",
    } | (words or {})  # fmt: skip
    axle = AXLE.replace('"Fernhill 21"', toml(w["axle"]))
    job = open_job(
        book, vehicle=w["vehicle"], axle_text=axle, who=w["who"], gear_set=w["gear_set"], notes=w["notes"]
    )
    for number, (drive, coast) in enumerate([((0.6, 0.65), (0.55, 0.7)), ((0.42, 0.5), (0.45, 0.52))]):
        attempt = start_try(
            book, job.id, who=w["who"], pinion_shim_mm=1.0 + 0.08 * number, compound=w["compound"],
            drag=w["drag"], notes=w["notes"],
        )  # fmt: skip
        record(
            book, job.id, who=w["who"], backlash_mm=[0.15, 0.16, 0.17, 0.16], ring_runout_mm=0.07,
            pinion_torque_nm=2.5, bearings="new", total_torque_nm=3.0,
            fasteners=[Fastener(w["fastener"], 100.0, 120.0, 110.0)],
        )  # fmt: skip
        for flank, role, centre in (("convex", "drive", drive), ("concave", "coast", coast)):
            data = picture(job.id * 100 + number * 10 + len(role) + (role == "coast"))
            reading = made_reading(flank, role, centre)  # type: ignore[arg-type]
            keep_photo(book, data, name=w["photo"], who=w["who"], try_id=attempt.id, reading=reading)
        keep_advice(
            book, attempt.id, verdict="acceptable", pinion_shim_change_mm=None, ring_move_mm=None,
            advice={"headline": w["advice"]},
        )  # fmt: skip
    sign_off(book, job.id, who=w["who"], confirmed=check_list(), despite=w["reason"])
    return job.id


def toml(text: str) -> str:
    """A TOML string that holds any text."""
    escaped = "".join(f"\\U{ord(c):08x}" if ord(c) < 32 or c in '"\\\x7f' else c for c in text)
    return f'"{escaped}"'


def made_book(folder: Path) -> Book:
    return Book(folder / "book.sqlite", write=True)
