"""The API as OpenAPI describes it, photos kept once, corrections."""

from __future__ import annotations

import os
import re
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from typing import Any

import httpx
import pytest
from jsonschema import Draft202012Validator
from made_reading import made_reading
from PIL import Image
from starlette.routing import Route
from told_setup import setup_from

import contactread
from calibration.web.page import SAMPLES, send
from contactread.advice import EarlierTry
from contactread.axle import FLANKS, ROLES, Axle, GearSet, Limits
from contactread.errors import AdviceError, ContactreadError, MissingExtraError
from contactread.records.book import Book
from contactread.records.jobs import open_job
from contactread.records.measured import with_measured
from contactread.records.tries import start_try
from contactread.web import api
from contactread.web.foreseen import what_if
from contactread.web.openapi import openapi
from contactread.web.serve import Running
from contactread.web.shop import Shop

TOOTH = {"toe_root": [10, 90], "toe_top": [10, 10], "heel_top": [200, 10], "heel_root": [200, 90]}
DRIVE, COAST = (SAMPLES / f"ash_too_shallow/{side}.jpg" for side in ("drive", "coast"))


def check(answer: httpx.Response, path: str, method: str = "get") -> Any:
    """Hold an answer against the description of its path."""
    described = openapi()
    responses = described["paths"][path][method]["responses"]
    said = responses["200" if answer.status_code == 200 else "default"]
    schema = said["content"]["application/json"]["schema"] | {"components": described["components"]}
    Draft202012Validator(schema).validate(answer.json())
    return answer.json()


@pytest.fixture
def pair(client: httpx.Client) -> list[str]:
    """Both photos sent; their hashes."""
    return [send(client, path).json()["sha256"] for path in (DRIVE, COAST)]


def test_the_description_is_sound_and_names_every_route() -> None:
    described = openapi()
    for schema in described["components"]["schemas"].values():
        Draft202012Validator.check_schema(schema)
    routes = {
        (route.path, method.lower())
        for route in api.ROUTES
        if isinstance(route, Route) and "rest" not in route.path and "openapi" not in route.path
        for method in (route.methods or {"GET"}) - {"HEAD"}
    }
    assert routes == {(path, method) for path, each in described["paths"].items() for method in each}


def test_every_answer_is_as_described(client: httpx.Client, pair: list[str]) -> None:
    v1 = "/api/v1"
    assert client.get(f"{v1}/openapi.json").json() == openapi()
    check(send(client, DRIVE), f"{v1}/photos", "post")
    check(send(client, SAMPLES / "refused/blurred.jpg"), f"{v1}/photos", "post")
    check(client.get(f"{v1}/photos/{pair[0]}"), f"{v1}/photos/{{sha256}}")
    teeth = check(client.get(f"{v1}/photos/{pair[0]}/teeth"), f"{v1}/photos/{{sha256}}/teeth")
    correction = {"moved": {"0": teeth["teeth"][0]}, "left_out": {"1": "struck"}}
    answer = client.post(f"{v1}/photos/{pair[0]}/correction", json=correction)
    check(answer, f"{v1}/photos/{{sha256}}/correction", "post")
    query = [("photo", sha256) for sha256 in pair] + [("backlash", "0.18 mm")]
    found = check(client.get(f"{v1}/answer", params=tuple(query)), f"{v1}/answer")
    assert found["advice"]["moves"] and found["lines"]
    lone = check(client.get(f"{v1}/answer", params=tuple(query[1:])), f"{v1}/answer")
    assert lone["advice"] is None and "both sides" in lone["lacking"]
    moved = check(client.get(f"{v1}/what-if", params=(*query, ("pinion", "0.1"))), f"{v1}/what-if")
    assert "thinner" in moved["moves"][0] and moved["sides"]["drive"]["chart"].startswith("<svg")
    check(client.get(f"{v1}/jobs"), f"{v1}/jobs")
    assert check(client.get(f"{v1}/phone"), f"{v1}/phone")["name"].startswith("Phone")


def test_one_axle_has_one_answer(client: httpx.Client, pair: list[str]) -> None:
    """The sliders at the advised move say what the advice says."""
    query = [("photo", sha256) for sha256 in pair] + [("backlash", "0.18 mm")]
    advice = client.get("/api/v1/answer", params=tuple(query)).json()["advice"]
    travel = {move["member"]: move["travel"]["mm"] for move in advice["moves"]}
    at = [("pinion", travel.get("pinion", 0.0)), ("ring", travel.get("ring_gear", 0.0))]
    foreseen = client.get("/api/v1/what-if", params=(*query, *at)).json()
    expected = advice["moves"][-1]["expected"]
    assert foreseen["chance"] == pytest.approx(expected["chance"], abs=0.01)
    assert f"{expected['backlash']['mm']:.2f} mm" in foreseen["backlash"]


@pytest.mark.parametrize(
    ("path", "described", "code"),
    [
        ("/photos/nothing", "/photos/{sha256}", "photo-unknown"),
        (f"/photos/{'0' * 64}", "/photos/{sha256}", "photo-unknown"),
        (f"/photos/{'0' * 64}/teeth", "/photos/{sha256}/teeth", "photo-unknown"),
        ("/answer", "/answer", "photos-missing"),
        ("/answer?photo=x", "/answer", "photo-unknown"),
        ("/what-if?pinion=9", "/what-if", "move"),
        ("/jobs/99", "/jobs/{job}", "job-missing"),
        ("/jobs/none", "/jobs/{job}", "number"),
        (f"/what-if?photo={'0' * 64}&try=2", "/what-if", "job-missing"),
    ],
)
def test_errors_have_one_shape(client: httpx.Client, path: str, described: str, code: str) -> None:
    answer = client.get(f"/api/v1{path}")
    assert answer.status_code in (404, 422)
    assert check(answer, f"/api/v1{described}")["error"]["code"] == code


def test_an_error_that_names_a_book_in_a_folder_of_odd_bytes_is_told(
    client: httpx.Client, fresh: Running, tmp_path: Path
) -> None:
    folder = tmp_path / os.fsdecode(b"J\xfcrgen")
    try:
        folder.mkdir()
    except OSError:
        pytest.skip("this system takes no such name")
    fresh.site.shop = Shop(folder / "book.sqlite")
    with Book(fresh.site.shop.path, write=True):
        pass
    told = check(client.get("/api/v1/jobs/99"), "/api/v1/jobs/{job}")["error"]
    assert told["code"] == "job-missing" and "rgen" in told["message"]
    assert "rgen" in client.get("/jobs/99").text


def test_a_move_is_foreseen_in_no_try_that_is_not_there(
    client: httpx.Client, fresh: Running, pair: list[str]
) -> None:
    text = (SAMPLES / "ash_too_shallow/axle.toml").read_text(encoding="utf-8")
    with Book(fresh.site.shop.path, write=True) as book:
        job = open_job(book, vehicle="sample", axle_text=text, who="Phone")
        start_try(book, job.id, who="Phone", shims_unknown=True)
    query = [("photo", each) for each in pair] + [("backlash", "0.18 mm"), ("job", str(job.id))]
    there = client.get("/api/v1/what-if", params=(*query, ("try", "1")))
    assert check(there, "/api/v1/what-if")["chance"] >= 0
    answer = client.get("/api/v1/what-if", params=(*query, ("try", "9")))
    error = check(answer, "/api/v1/what-if")["error"]
    assert (answer.status_code, error["code"]) == (404, "try-missing")
    assert error["next_step"] and "contactread " not in error["next_step"]  # no command on a phone


def test_a_move_is_foreseen_from_what_the_advice_goes_by() -> None:
    readings = [with_measured(made_reading(flank=flank)) for flank in FLANKS]
    axle = Axle(GearSet(11, 41, 222.0, hand="left"), limits=Limits(backlash_mm=(0.15, 0.25)))
    alone = what_if(readings, axle, (0.2,), 0.0, 0.0)
    other = replace(setup_from((0.7, 0.8), (0.7, 0.8), (0.2,), sigma=(0.012, 0.02)), hand="left")
    assert what_if(readings, axle, (0.2,), 0.0, 0.0, [EarlierTry(other)]) == alone
    with pytest.raises(AdviceError, match="left-hand ring gear; the axle file tells of a right"):
        what_if(readings, replace(axle, gears=replace(axle.gears, hand="right")), (0.2,), 0.0, 0.0)


@pytest.mark.parametrize("sample", ["cedar_used", "ash_too_shallow"])
def test_an_advised_move_is_foreseen_with_the_chance_it_is_advised_with(sample: str) -> None:
    """Also where the contact is as tall as the tooth, and is wanted in the middle of it."""
    axle = contactread.load_axle(SAMPLES / sample / "axle.toml")
    drive, coast = (contactread.read(SAMPLES / sample / f"{side}.jpg", axle=axle) for side in ROLES)
    backlash = (0.15, 0.15, 0.15, 0.15)
    advice = contactread.advise(contactread.pair(drive, coast, backlash), axle)
    assert advice.expected is not None
    seen = what_if(
        [with_measured(drive), with_measured(coast)],
        axle,
        backlash,
        advice.pinion_mm or 0.0,
        advice.ring_mm or 0.0,
    )
    assert seen["chance"] == pytest.approx(advice.expected.chance, abs=0.01)


@pytest.mark.parametrize(
    ("correction", "code"),
    [
        ({"left_out": {"90": "struck"}}, "correction-value"),
        ({"moved": {"90": TOOTH}}, "correction-value"),
        ({"moved": {"0": {name: [5, 5] for name in TOOTH}}}, "corners-shape"),
    ],
)
def test_a_correction_of_no_tooth_is_refused(
    client: httpx.Client, pair: list[str], correction: dict[str, Any], code: str
) -> None:
    path = "/api/v1/photos/{sha256}/correction"
    answer = client.post(path.format(sha256=pair[0]), json=correction)
    assert answer.status_code == 422 and check(answer, path, "post")["error"]["code"] == code


def test_a_photo_sent_twice_is_one(client: httpx.Client, page: Running) -> None:
    first = send(client, SAMPLES / "ash_good/drive.jpg").json()
    again = client.post("/api/v1/photos", params={"name": "other.jpg"},
                        content=(SAMPLES / "ash_good/drive.jpg").read_bytes()).json()  # fmt: skip
    assert again == first
    with Book(page.site.shop.path) as book:
        assert book.value("SELECT count(*) FROM photo WHERE sha256 = ?", first["sha256"]) == 1
        assert book.value(
            "SELECT count(*) FROM reading JOIN photo ON photo.id = photo_id WHERE sha256 = ?", first["sha256"]
        ) == 1  # fmt: skip


def test_place_data_stays_here(client: httpx.Client, tmp_path: Path) -> None:
    marked = tmp_path / "place.jpg"
    with Image.open(SAMPLES / "ash_good/coast.jpg") as photo:
        exif = photo.getexif()
        exif[0x010F] = "Maker of Secrets"
        exif.get_ifd(0x8825)[1] = "N"
        photo.save(marked, exif=exif)
    assert b"Secrets" in marked.read_bytes()
    sent = send(client, marked).json()
    shown = client.get(f"/photos/{sent['sha256']}/picture.jpg")
    assert shown.status_code == 200 and b"Secrets" not in shown.content
    with Image.open(BytesIO(shown.content)) as picture:
        assert not picture.getexif() and max(picture.size) <= 1400
    everything = client.get(f"/photos/{sent['sha256']}").text + str(sent)
    assert "Secrets" not in everything


def test_a_correction_follows_and_both_are_kept(client: httpx.Client, pair: list[str], page: Running) -> None:
    address = f"/api/v1/photos/{pair[0]}/correction"
    found = client.get(f"/api/v1/photos/{pair[0]}").json()
    teeth = client.get(f"/api/v1/photos/{pair[0]}/teeth").json()["teeth"]
    as_it_was = client.post(address, json={"moved": {"2": teeth[2]}}).json()
    centroid = pytest.approx(found["pattern"]["centroid"], abs=2e-4)  # corners go out rounded
    assert as_it_was["pattern"]["centroid"] == centroid  # nothing moved, nothing changed
    shift = {name: [x + 25, y] for name, (x, y) in teeth[2].items()}
    moved = client.post(address, json={"moved": {"2": shift}}).json()
    assert moved["pattern"]["centroid"] != found["pattern"]["centroid"]
    assert any(flag["code"] == "corners-by-hand" for flag in moved["flags"])
    assert client.get(f"/api/v1/photos/{pair[0]}").json()["corrected"] is False  # nothing kept yet
    struck = client.post(address, json={"left_out": {"1": "struck", "3": "unrolled"}, "keep": True}).json()
    assert len(struck["overlay"]["teeth"]) == len(found["overlay"]["teeth"]) - 2
    assert client.get(f"/api/v1/photos/{pair[0]}").json()["corrected"] is True
    kept = client.get(f"/api/v1/photos/{pair[0]}/teeth").json()["correction"]
    assert kept["left_out"] == {"1": "struck", "3": "unrolled"}
    with Book(page.site.shop.path) as book:
        from contactread.records.photos import readings_of

        assert ["correction" in reading for reading in readings_of(book, pair[0])][-2:] == [False, True]
    back = client.post(address, json={"as_found": True, "keep": True}).json()
    assert back["pattern"] == found["pattern"] and back["corrected"] is False


def test_teeth_are_marked_by_hand_where_none_are_found(client: httpx.Client, pair: list[str]) -> None:
    empty = send(client, SAMPLES / "refused/no_gear.jpg").json()["sha256"]
    v1 = "/api/v1/photos/{sha256}"
    none = check(client.get(f"/api/v1/photos/{empty}/teeth"), f"{v1}/teeth")
    assert none["teeth"] == [] and none["correction"]["marked"] == []
    teeth = client.get(f"/api/v1/photos/{pair[0]}/teeth").json()["teeth"]
    sent = {"flank": "convex", "marked": teeth, "left_out": {"0": "struck"}, "keep": True}
    answer = client.post(f"/api/v1/photos/{pair[0]}/correction", json=sent)
    read = check(answer, f"{v1}/correction", "post")
    assert read["status"] == "read" and len(read["overlay"]["teeth"]) == len(teeth) - 1
    assert any(flag["code"] == "corners-by-hand" for flag in read["flags"])
    kept = client.get(f"/api/v1/photos/{pair[0]}/teeth").json()["correction"]
    assert kept["marked"] == teeth and kept["left_out"] == {"0": "struck"}
    client.post(f"/api/v1/photos/{pair[0]}/correction", json={"as_found": True, "keep": True})
    alike = client.post(f"/api/v1/photos/{empty}/correction", json={"marked": [teeth[0], teeth[0]]})
    assert alike.status_code in (200, 422) and alike.status_code != 500


def test_the_side_can_be_swapped(client: httpx.Client, pair: list[str]) -> None:
    address = f"/api/v1/photos/{pair[1]}/correction"
    swapped = client.post(address, json={"flank": "convex"}).json()
    assert swapped["status"] == "refused" or swapped["side"] == "drive"


@pytest.mark.parametrize(
    "body",
    [
        b"", b"[]", b"{", b'{"moved": 5}', b'{"moved": {"a": {}}}', b'{"left_out": {"1": "gone"}}',
        b'{"flank": "left"}', b'{"moved": {"0": {"toe_root": [1, 2]}}}', b"[" * 100_000,
        b'{"marked": [{"toe_root": [1, 2]}]}', b'{"marked": {}, "moved": 1}',
        b'{"moved": {"0": {"toe_root": [NaN, 2], "toe_top": [1,1], "heel_top": [1,1], "heel_root": [1,1]}}}',
    ],
)  # fmt: skip
def test_a_correction_that_is_none_is_refused(client: httpx.Client, pair: list[str], body: bytes) -> None:
    answer = client.post(f"/api/v1/photos/{pair[0]}/correction", content=body)
    assert answer.status_code == 422
    assert answer.json()["error"]["code"] in ("json-unreadable", "correction-value")


def test_corners_far_off_are_refused_not_a_fault(client: httpx.Client, pair: list[str]) -> None:
    answer = client.post(f"/api/v1/photos/{pair[0]}/correction", json={"moved": {"0": TOOTH}})
    assert answer.status_code in (200, 422), answer.text
    teeth = client.get(f"/api/v1/photos/{pair[0]}/teeth").json()["teeth"]
    everything = {str(k): "struck" for k in range(len(teeth))}
    none_left = client.post(f"/api/v1/photos/{pair[0]}/correction", json={"left_out": everything})
    assert none_left.status_code == 200 and none_left.json()["status"] == "refused"


def test_pages_escape_what_people_write(client: httpx.Client) -> None:
    nasty = '"><script>alert(1)</script>'
    sent = client.post("/api/v1/photos", params={"name": nasty + ".jpg"},
                       content=(SAMPLES / "birch_good/drive.jpg").read_bytes()).json()  # fmt: skip
    assert "script>" in sent["name"]
    for path in (f"/photos/{sent['sha256']}", "/loose", f"/answer?photo={sent['sha256']}"):
        text = client.get(path).text
        assert "<script>alert" not in text
        assert not re.search(r"<script(?! src)", text)


def test_a_phone_is_not_told_to_install_a_part(
    client: httpx.Client, fresh: Running, monkeypatch: pytest.MonkeyPatch
) -> None:
    async def without(*_: Any, **__: Any) -> Any:
        raise MissingExtraError("heic", "Reading HEIC photos")

    monkeypatch.setattr(fresh.site.workers, "run", without)
    error = check(send(client, DRIVE), "/api/v1/photos", "post")["error"]
    assert error["code"] == "extra-missing" and "JPEG" in error["next_step"] and "pip" not in str(error)


def test_no_move_is_tried_without_an_axle_though_a_rough_one_is_advised() -> None:
    with pytest.raises(ContactreadError, match="no move can be tried here") as told:
        what_if([], None, (), 0.1, 0.0)
    assert told.value.code == "axle-needed"
