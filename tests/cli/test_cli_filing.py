"""Photos that were read are filed in a job: each once, by its surest reading."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from made_axle import AXLE
from made_reading import made_reading, other_hand

from contactread.axle import FLANKS
from contactread.cli.read_filing import file_results
from contactread.cli.reading_job import Result
from contactread.errors import AdviceError
from contactread.records.book import Book
from contactread.records.jobs import open_job


def test_of_the_frames_of_a_clip_the_surest_is_kept(tmp_path: Path) -> None:
    place, clip = tmp_path / "book.sqlite", tmp_path / "clip.mp4"
    clip.write_bytes(b"frames")
    with Book(place, write=True) as book:
        job = open_job(book, vehicle="Unit 7", axle_text=AXLE, who="Ana").id
    sure = [Result(clip, replace(made_reading(clip), confidence=c), None) for c in (0.7, 0.9, 0.8)]
    advice, attempt = file_results(place, job, sure, (0.15,), advise=False, json=True)
    assert advice is None and attempt.backlash_mm == (0.15,)
    (photo,) = attempt.photos
    assert photo.reading is not None and photo.reading.confidence == 0.9


def test_what_the_photos_of_a_try_say_together_is_what_is_answered(tmp_path: Path) -> None:
    place = tmp_path / "book.sqlite"
    with Book(place, write=True) as book:
        job = open_job(book, vehicle="Unit 7", axle_text=AXLE, who="Ana").id
    photos = {flank: tmp_path / f"{flank}.png" for flank in FLANKS}
    first = [Result(path, made_reading(path, flank), None) for flank, path in photos.items()]
    mirrored = []
    for flank in FLANKS:
        photos[flank].write_bytes(flank.encode())
        path = tmp_path / f"{flank}_mirrored.png"
        path.write_bytes(path.name.encode())
        mirrored.append(Result(path, other_hand(made_reading(path, flank)), None))
    told, _ = file_results(place, job, first, (0.15,), advise=True, json=True)
    assert told is not None and not isinstance(told, AdviceError)
    told, attempt = file_results(place, job, mirrored, (), advise=True, json=True)
    assert isinstance(told, AdviceError) and len(attempt.photos) == 4
