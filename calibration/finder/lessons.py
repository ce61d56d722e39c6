"""Lessons for the finder: pictures and labels as `render_lessons` writes them, kept whole in memory.

A label has four channels: flags (bits 0-1 flank class: 0 none, 1 convex, 2 concave; bit 2 painted tooth;
bit 3 contact patch; bit 4 any part of the ring gear), tooth number + 1, round(255 u), round(255 v).
"""

from __future__ import annotations

import json
import multiprocessing
import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from calibration.finder.network import INPUT_HEIGHT, INPUT_WIDTH


def letterbox(picture: NDArray[np.uint8], interpolation: int) -> NDArray[np.uint8]:
    """Turn a portrait on its side, shrink to fit, and pad with zeros: as the finder does with a photo."""
    if picture.shape[0] > picture.shape[1]:
        picture = np.asarray(cv2.rotate(picture, cv2.ROTATE_90_COUNTERCLOCKWISE), np.uint8)
    scale = min(INPUT_HEIGHT / picture.shape[0], INPUT_WIDTH / picture.shape[1])
    size = (round(picture.shape[1] * scale), round(picture.shape[0] * scale))
    if size != picture.shape[1::-1]:
        picture = np.asarray(cv2.resize(picture, size, interpolation=interpolation), np.uint8)
    canvas = np.zeros((INPUT_HEIGHT, INPUT_WIDTH, picture.shape[2]), np.uint8)
    canvas[: picture.shape[0], : picture.shape[1]] = picture
    return canvas


def _load(stem: Path) -> tuple[NDArray[np.uint8], NDArray[np.uint8]] | None:
    picture = cv2.imread(str(stem.with_suffix(".jpg")), cv2.IMREAD_COLOR)
    label = cv2.imread(str(stem.with_suffix(".png")), cv2.IMREAD_UNCHANGED)
    if picture is None or label is None or label.ndim != 3 or label.shape[2] != 4:
        return None
    small = letterbox(np.asarray(picture, np.uint8), cv2.INTER_AREA)
    return small, letterbox(np.asarray(label, np.uint8), cv2.INTER_NEAREST)


def load_lessons(
    folder: Path, threads: int = 8
) -> tuple[NDArray[np.uint8], NDArray[np.uint8], list[dict[str, Any]]]:
    """Every lesson below `folder`: pictures (n, 480, 640, 3), labels (n, 480, 640, 4), their records.

    A picture whose files are missing or unfinished is left out.
    """
    records, stems = [], []
    for listing in sorted(folder.rglob("lessons_*.jsonl")):
        for line in listing.read_text(encoding="utf-8").splitlines():
            record = json.loads(line)
            records.append(record)
            stems.append(listing.parent / record["name"])
    pictures = np.empty((len(stems), INPUT_HEIGHT, INPUT_WIDTH, 3), np.uint8)
    labels = np.empty((len(stems), INPUT_HEIGHT, INPUT_WIDTH, 4), np.uint8)

    def load(index: int) -> bool:
        pair = _load(stems[index])
        if pair is not None:
            pictures[index], labels[index] = pair
        return pair is not None

    with ThreadPoolExecutor(threads) as pool:
        there = np.array(list(pool.map(load, range(len(stems)))), bool)
    if there.all():
        return pictures, labels, records
    return pictures[there], labels[there], [r for r, is_there in zip(records, there, strict=True) if is_there]


_work: dict[str, Any] = {}  # set in each worker process of `of_each`


def _begin(labels: NDArray[np.uint8], function: Callable[[NDArray[np.uint8]], Any]) -> None:
    _work.update(labels=labels, function=function)


def _one(index: int) -> Any:
    return _work["function"](_work["labels"][index])


def of_each(labels: NDArray[np.uint8], function: Callable[[NDArray[np.uint8]], Any]) -> list[Any]:
    """`function` of each label, on all cores. Forked workers see the labels without copying them."""
    context = multiprocessing.get_context("fork")
    with context.Pool(min(32, os.cpu_count() or 1), _begin, (labels, function)) as pool:
        return pool.map(_one, range(len(labels)), chunksize=8)
