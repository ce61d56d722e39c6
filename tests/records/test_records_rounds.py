"""Photos of a job's folder parted into tries: by the time the camera wrote, by side, by what was read."""

from __future__ import annotations

import io
import json
from datetime import UTC, datetime
from pathlib import Path

import pytest
from made_axle import AXLE
from PIL import Image
from records_shop import reading

from contactread.cli.main import main
from contactread.records.book import Book
from contactread.records.check import check_book
from contactread.records.filing import by_folder, by_manifest
from contactread.records.jobs import list_jobs
from contactread.records.photos import keep_photo
from contactread.records.questions import verdicts
from contactread.records.review_places import arrange
from contactread.records.rounds import Round, plan, taken_at
from contactread.records.tries import tries_of

NOW = datetime(2021, 3, 2, tzinfo=UTC)


def photo(folder: Path, name: str, time: str | None, offset: str = "+00:00", seed: int = 0) -> Path:
    """A small JPEG; time: HH:MM on the first of March 2021, None for no time."""
    picture = Image.new("RGB", (16, 16), (seed % 256, len(name), 7))
    exif = Image.Exif()
    if time is not None:
        exif.get_ifd(0x8769).update({0x9003: f"2021:03:01 {time}:00", 0x9011: offset})
    data = io.BytesIO()
    picture.save(data, "JPEG", exif=exif)
    path = folder / name
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data.getvalue())
    return path


def shown(rounds: list[Round]) -> list[tuple[str, ...]]:
    return [tuple(item.path.name for item in each.photos) for each in rounds]


def test_time_is_read_from_exif_with_its_offset(tmp_path: Path) -> None:
    assert taken_at(photo(tmp_path, "a.jpg", "10:30", "+02:00"), NOW) == datetime(
        2021, 3, 1, 8, 30, tzinfo=UTC
    )
    assert taken_at(photo(tmp_path, "b.jpg", None), NOW) is None
    (tmp_path / "c.jpg").write_bytes(b"\xff\xd8 no picture")
    assert taken_at(tmp_path / "c.jpg", NOW) is None
    assert taken_at(tmp_path / "a.jpg", datetime(2020, 1, 1, tzinfo=UTC)) is None  # a clock that was wrong


def test_a_pause_begins_a_new_try_whatever_the_names_say(tmp_path: Path) -> None:
    for name, time in (("z.jpg", "10:00"), ("y.jpg", "10:02"), ("b.jpg", "10:40"), ("a.jpg", "10:41")):
        photo(tmp_path, f"loader 9/{name}", time)
    rounds = plan(None, by_folder(tmp_path), NOW)
    assert shown(rounds) == [("z.jpg", "y.jpg"), ("b.jpg", "a.jpg")]
    assert [each.taken for each in rounds] == ["2021-03-01T10:00:00Z", "2021-03-01T10:40:00Z"]
    assert not any(each.doubts for each in rounds)


def test_a_side_seen_again_begins_a_new_try(tmp_path: Path) -> None:
    for name, time in (
        ("drive 1", "10:00"),
        ("coast 1", "10:02"),
        ("drive 2", "10:08"),
        ("coast 2", "10:09"),
    ):
        photo(tmp_path, f"loader 9/{name}.jpg", time)
    first, second = plan(None, by_folder(tmp_path), NOW)
    assert first.sides == second.sides == ("coast", "drive")
    assert second.doubts == ("6 minutes lie between coast 1.jpg and drive 2.jpg",)


def test_doubts_are_told(tmp_path: Path) -> None:
    photo(tmp_path, "loader 9/a.jpg", "10:00")
    photo(tmp_path, "loader 9/b.jpg", "10:15")
    photo(tmp_path, "loader 9/c.jpg", None)
    (only,) = plan(None, by_folder(tmp_path), NOW)
    assert [words.split(" ")[0] for words in only.doubts] == ["15", "c.jpg"]


def test_photos_that_were_read_are_filed_by_side_and_time_once(tmp_path: Path, book: Book) -> None:
    folder = tmp_path / "photos"
    (folder / "loader 9").mkdir(parents=True)
    (folder / "loader 9" / "axle.toml").write_text(
        AXLE.replace("Fernhill 21", "Fernhill 30"), encoding="utf-8"
    )
    times = (("1", "10:00", "drive"), ("2", "10:02", "coast"), ("3", "10:08", "drive"))
    for seed, (name, time, side) in enumerate(times):
        path = photo(folder, f"loader 9/{name}.jpg", time, seed=seed)
        keep_photo(book, path.read_bytes(), name=path.name, who="Ana", try_id=None, reading=reading(side))
    for _ in range(2):  # the second time there is nothing left to do
        arrange(book, plan(book, by_folder(folder), NOW), "Ana", None)
        (job,) = list_jobs(book)
        assert (job.vehicle, job.kind, job.opened_at) == ("loader 9", "Fernhill 30", "2021-03-01T10:00:00Z")
        tries = tries_of(book, job.id)
        assert [[p.name for p in t.photos] for t in tries] == [["1.jpg", "2.jpg"], ["3.jpg"]]
        assert [t.made_at for t in tries] == ["2021-03-01T10:00:00Z", "2021-03-01T10:08:00Z"]
    assert check_book(book).clean


def test_a_manifest_names_axle_files(tmp_path: Path) -> None:
    photo(tmp_path, "a.jpg", None)
    (tmp_path / "one.toml").write_text(AXLE, encoding="utf-8")
    (tmp_path / "m.csv").write_text("photo,job,try,axle\na.jpg,Unit 1,1,one.toml\n", encoding="utf-8")
    (filed,) = by_manifest(tmp_path, tmp_path / "m.csv")
    assert filed.axle == tmp_path / "one.toml"


def test_dry_run_shows_the_plan_and_changes_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = tmp_path / "photos"
    for name, time in (("drive", "10:00"), ("coast", "10:15"), ("late", "12:00")):
        photo(folder, f"loader 9/{name}.jpg", time)
    photo(folder, "stray.jpg", None)
    book = tmp_path / "book.sqlite"
    command = ["review", str(folder), "--book", str(book), "--dry-run"]
    assert main(command) == 0
    told = capsys.readouterr().out
    assert "in doubt: loader 9: 15 minutes lie between drive.jpg and coast.jpg" in told
    assert "(unfiled)" in told and all(len(line) <= 80 for line in told.splitlines())
    assert main([*command, "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)["plan"]
    assert [(row["job"], row["try"], len(row["photos"])) for row in rows] == [
        ("loader 9", 1, 2), ("loader 9", 2, 1), (None, None, 1),
    ]  # fmt: skip
    assert not book.exists()


def test_one_list_shows_verdict_trend_and_changes(book: Book) -> None:
    from contactread.records.jobs import open_job
    from contactread.records.photos import keep_advice
    from contactread.records.sign_off import check_list, sign_off
    from contactread.records.tries import start_try

    job = open_job(book, vehicle="Unit 7", axle_text=AXLE, who="Ana")
    open_job(book, vehicle="Unit 8", axle_text=AXLE, who="Ana")
    for number, (u, shim) in enumerate(((0.8, 1.0), (0.45, 1.1))):
        attempt = start_try(book, job.id, pinion_shim_mm=shim)
        for side in ("drive", "coast"):
            data = f"{number} {side}".encode()
            keep_photo(
                book, data, name="a.jpg", who="Ana", try_id=attempt.id, reading=reading(side, (u, 0.5))
            )
    keep_advice(
        book, attempt.id, verdict="acceptable", pinion_shim_change_mm=None, ring_move_mm=None, advice={}
    )
    sign_off(book, job.id, who="Ana", confirmed=check_list(), despite="a test")
    empty, full = verdicts(book).rows
    assert (empty[2:]) == ("Unit 8", 0, None, None, None)
    assert full[3:5] == (2, "acceptable, signed off") and full[6] == "pinion +0.10 mm"
    first, last = (int(part.strip("% of")) for part in full[5].split(" to "))
    assert last < first
    assert verdicts(book, jobs=[job.id]).rows == (full,)
