"""Jobs through the page: tries, two people at once, slips, sign-off; the same as the commands do."""

from __future__ import annotations

import re
from concurrent.futures import ThreadPoolExecutor

import httpx
import pytest
from test_web_api import check

from calibration.web.page import SAMPLES, paired, send
from contactread.records.book import Book
from contactread.records.given_advice import ASK_AGAIN
from contactread.records.jobs import find_job, keep_axle
from contactread.records.tries import start_try, tries_of
from contactread.web.serve import Running

NUMBERS = {
    "vehicle": "Invented unit 9", "who": "Ana", "axle": "numbers", "axle_name": "Invented 222",
    "pinion_teeth": "11", "ring_teeth": "41", "ring_diameter": "222 mm", "place": "behind_head",
    "thickness": "0,864 mm", "backlash_least": "0.13 mm", "backlash_most": "0.23 mm",
}  # fmt: skip


def both(client: httpx.Client, set_up: str) -> list[str]:
    return [send(client, SAMPLES / f"{set_up}/{side}.jpg").json()["sha256"] for side in ("drive", "coast")]


def lists(values: dict[str, str], photos: list[str]) -> dict[str, str | list[str]]:
    return {**values, "photo": photos}


def test_a_job_from_numbers_to_sign_off(own: Running) -> None:
    with paired(own) as client:
        photos = both(client, "ash_too_shallow")
        made = client.post("/jobs", data=lists(NUMBERS, photos))
        assert made.status_code == 303 and "job=1" in made.headers["location"]
        start = client.get(made.headers["location"]).text
        assert "Try 1" in start and photos[0] in start and 'value="0.864 mm"' in start
        asked = client.post("/ask", data=lists({"job": "1", "backlash": "7", "unit": "thou"}, photos))
        assert asked.headers["location"] == "/jobs/1/tries/1"
        answer = client.get("/jobs/1/tries/1").text
        assert "Pinion shim" in answer and "Chance" in answer
        again = client.post("/ask", data=lists({"job": "1", "backlash": "7", "unit": "thou"}, photos))
        assert again.headers["location"] == "/jobs/1/tries/1"  # the same photos are the same try
        with Book(own.site.shop.path) as book:
            (first,) = tries_of(book, 1)
            assert first.backlash_mm == pytest.approx((0.1778,)) and len(first.photos) == 2
            assert first.advice is not None and first.advice.json["answer"]
            assert find_job(book, 1).axle.limits.backlash_mm == (0.13, 0.23)
        measured = {"backlash": "", "ring_runout_mm": "0,03", "pinion_torque_nm": "2.5 N·m",
                    "bearings": "new", "compound": "yellow", "drag": "by hand",
                    "fastener": "invented bolts", "least": "10 N·m",
                    "most": "12 N·m", "tightened": "11 N·m"}  # fmt: skip
        slip = client.post("/jobs/1/measure", data=measured | {"ring_runout_mm": "0.003 cm"})
        assert slip.status_code == 422 and "runout-impossible" in slip.text
        slip = client.post("/ask", data=lists({"job": "1", "pinion_shim_mm": "0.0864 cm"}, photos))
        assert slip.status_code == 422 and "pinion-shim-impossible" in slip.text
        assert client.post("/jobs/1/measure", data=measured).status_code == 303
        sheet = client.get("/jobs/1").text
        assert "Ring-gear runout" in sheet and "yellow" in client.get("/jobs/1/measure").text
        lines = re.findall(r'name="confirm" value="([^"]+)"', client.get("/jobs/1/close").text)
        half = client.post("/jobs/1/close", data={"who": "Ana", "confirm": lines[:2], "despite": "test"})
        assert half.status_code == 422 and "record-half" in half.text
        whole = {"who": "Ana", "confirm": lines, "despite": "an invented job"}
        assert client.post("/jobs/1/close", data=whole).status_code == 303
        assert "Signed off by Ana" in client.get("/jobs/1").text
        report = client.get("/jobs/1/report")
        assert "Invented unit 9" in report.text and "sandbox" in report.headers["content-security-policy"]
        late = client.post("/ask", data=lists({"job": "1", "backlash": "0.2"}, both(client, "ash_good")))
        assert late.status_code == 409 and "job-closed" in late.text
        found = client.get("/jobs", params={"q": "invented"}).text
        assert "/jobs/1" in found and "Start with" in client.get("/shims").text


def test_a_job_with_limits_that_an_older_version_took(own: Running) -> None:
    with paired(own) as client:
        photos = both(client, "ash_too_shallow")
        client.post("/jobs", data=lists(NUMBERS, photos))
        with Book(own.site.shop.path, write=True) as book, book.writing("older", who="Ana", job_id=1):
            text = find_job(book, 1).axle_text.replace('"0.13 mm", "0.23 mm"', '"0.18 mm", "0.18 mm"')
            book.update("job", {"id": 1}, {"axle_id": keep_axle(book, text, "Invented 222")})
        assert client.get("/?job=1").status_code == 200
        asked = client.post("/ask", data=lists({"job": "1", "backlash": "7", "unit": "thou"}, photos))
        assert asked.headers["location"] == "/jobs/1/tries/1"
        for place in ("/jobs/1", "/jobs/1/tries/1", "/jobs/1/close", "/jobs/1/report"):
            assert "limits.backlash (line" in client.get(place).text, place
        assert client.post("/jobs/1/tries/1/ask", data={}).status_code == 303
        assert client.get("/shims").status_code == client.get("/jobs").status_code == 200


def test_two_people_see_each_others_tries(own: Running) -> None:
    with paired(own) as ana, paired(own) as ben:
        ana.post("/jobs", data=NUMBERS)
        photos = both(ben, "ash_too_shallow")
        ben.post("/ask", data=lists({"job": "1", "backlash": "0.18", "unit": "mm"}, photos))
        assert "Try 1" in ana.get("/jobs/1").text
        whole = ana.get("/api/v1/jobs/1").json()
        assert [p["sha256"] for p in whole["tries"][0]["photos"]] == photos
        next_one = ana.get("/?job=1").text
        assert "Try 2" in next_one and "as advised" in next_one


def test_slips_are_asked_again_and_undone(own: Running) -> None:
    with paired(own) as client:
        client.post("/jobs", data=NUMBERS)
        photos = both(client, "ash_too_shallow")
        slip = lists({"job": "1", "backlash": "0.18", "unit": "mm", "pinion_shim_mm": "34 mm"}, photos)
        asked = client.post("/ask", data=slip)
        assert asked.status_code == 422 and "record-doubt" in asked.text
        assert "Right as written" in asked.text and "--sure" not in asked.text  # the page's own way
        negative = client.post("/ask", data=lists({"job": "1", "backlash": "-1"}, photos))
        assert negative.status_code == 422 and "backlash-negative" in negative.text
        with Book(own.site.shop.path) as book:
            assert tries_of(book, 1) == []
        client.post("/ask", data=lists({"job": "1", "backlash": "0.18"}, photos))
        client.post("/jobs/1/measure", data={"ring_runout_mm": "0.04 mm"})
        assert client.post("/jobs/1/undo").status_code == 303
        with Book(own.site.shop.path) as book:
            assert tries_of(book, 1)[0].ring_runout_mm is None
        with Book(own.site.shop.path, write=True) as book:
            start_try(book, 1)
        form = client.get("/?job=1").text  # photos for a try that is open: its backlash may look odd too
        assert "Try 2" in form and "Pinion shim" not in form and 'name="sure"' in form


def test_one_end_of_the_limits_alone_is_asked_for_the_other(own: Running) -> None:
    with paired(own) as client:
        half = client.post("/jobs", data=NUMBERS | {"backlash_least": "0.13 mm", "backlash_most": ""})
        assert half.status_code == 422 and "least and the most" in half.text


def test_two_phones_that_ask_with_the_same_photos_share_a_try(own: Running) -> None:
    with paired(own) as one, paired(own) as other:
        one.post("/jobs", data=NUMBERS)
        photos = both(one, "ash_too_shallow")

        def ask(client: httpx.Client) -> int:
            return client.post("/ask", data=lists({"job": "1", "backlash": "0.18"}, photos)).status_code

        with ThreadPoolExecutor(4) as threads:
            assert list(threads.map(ask, (one, other, one, other))) == [303] * 4
        (attempt,) = one.get("/api/v1/jobs/1").json()["tries"]
        assert len(attempt["photos"]) == 2 and attempt["backlash_mm"] == [0.18]


def test_a_corrected_reading_changes_the_job_s_answer(own: Running) -> None:
    with paired(own) as client:
        client.post("/jobs", data=NUMBERS)
        photos = both(client, "ash_too_shallow")
        client.post("/ask", data=lists({"job": "1", "backlash": "0.18"}, photos))
        assert 'value="0.864 mm"' not in client.get("/?job=1").text  # the next try is built as advised
        teeth = client.get(f"/api/v1/photos/{photos[0]}/teeth?job=1").json()["teeth"]
        moved = {
            str(k): {name: [x + 30, y + 30] for name, (x, y) in each.items()} for k, each in enumerate(teeth)
        }
        address = f"/api/v1/photos/{photos[0]}/correction?job=1"
        kept = client.post(address, json={"moved": moved, "keep": True})
        assert kept.json()["corrected"] is True

        def told() -> tuple[bool, ...]:
            """Whether the try's page, the job's page and the API say that the answer is outgrown."""
            whole = check(client.get("/api/v1/jobs/1"), "/api/v1/jobs/{job}")
            (attempt,) = whole["tries"]
            assert attempt["outgrown"] == (attempt["advice"] is None)
            assert attempt["outgrown"] == (attempt["lines"] == [ASK_AGAIN])
            pages = client.get("/jobs/1/tries/1").text, client.get("/jobs/1").text
            return ASK_AGAIN in pages[0], "the answer is outgrown" in pages[1], attempt["outgrown"]

        assert told() == (True, True, True)
        assert 'value="0.864 mm"' in client.get("/?job=1").text  # nor is the next try built by it
        client.post("/jobs/1/tries/1/ask")
        assert told() == (False, False, False)
        with Book(own.site.shop.path) as book:
            (attempt,) = tries_of(book, 1)
            assert len(attempt.earlier_advice) == 1 and attempt.advice is not None
            assert attempt.advice.json["diagnosis"] != attempt.earlier_advice[0].json["diagnosis"]


def test_one_side_alone_says_what_is_missing(own: Running) -> None:
    with paired(own) as client:
        client.post("/jobs", data=NUMBERS)
        coast = send(client, SAMPLES / "ash_too_shallow/coast.jpg").json()["sha256"]
        asked = client.post("/ask", data=lists({"job": "1", "backlash": ""}, [coast]))
        answer = client.get(asked.headers["location"])
        assert answer.status_code == 200 and "drive side" in answer.text
        drive = send(client, SAMPLES / "ash_too_shallow/drive.jpg").json()["sha256"]
        client.post("/ask", data=lists({"job": "1", "backlash": "0.18"}, [drive]))
        whole = client.get("/api/v1/jobs/1").json()["tries"]
        assert len(whole) == 1 and len(whole[0]["photos"]) == 2 and whole[0]["advice"] is not None


def test_a_form_without_script_works(own: Running) -> None:
    with paired(own) as client:
        files = [("file", (f"{side}.jpg", (SAMPLES / f"ash_good/{side}.jpg").read_bytes())) for side in
                 ("drive", "coast")]  # fmt: skip
        sent = client.post("/photos", data={"job": ""}, files=files)
        assert sent.status_code == 303
        photos = re.findall(r"photo=([0-9a-f]{64})", sent.headers["location"])
        asked = client.post("/ask", data=lists({"job": "", "backlash": "0,18", "unit": "mm"}, photos))
        assert client.get(asked.headers["location"]).status_code == 200


def test_practice_keeps_answers(own: Running) -> None:
    with paired(own) as client:
        question = client.get("/practice").text
        number = re.search(r'name="question" value="([^"]+)"', question)
        assert number is not None
        given = "a" if 'type="radio"' in question else "thicker 0.10 mm"
        marked = client.post("/practice", data={"question": number[1], "given": given})
        assert marked.status_code == 200 and "You answered" in marked.text
        rules = re.search(r'href="(/practice/rules[^"]+)"', marked.text)
        assert rules is None or client.get(rules[1].replace("&amp;", "&")).status_code == 200
        assert client.get("/practice/rules?code=both-high").text.count("both-high") >= 1
        assert client.get("/practice/rules?code=nothing").status_code == 422
        wrong = client.post("/practice", data={"question": "nothing-1", "given": "a"})
        assert wrong.status_code in (404, 422)
        with Book(own.site.shop.path) as book:
            assert book.value("SELECT count(*) FROM practice_answer") == 1
        client.post("/me", data={"name": "<Ana>"})
        assert "Nobody has answered" not in client.get("/practice/class").text
        assert client.get("/practice/person?who=nobody").status_code == 422
        assert client.get("/practice/class.csv").text.startswith("apprentice,answered")
        assert "sandbox" in client.get("/practice/class/print").headers["content-security-policy"]


def test_slips_are_put_right(own: Running) -> None:
    """As `photo move`, `try move`, `strike`, `job merge` and `job reopen` do."""
    with paired(own) as client:
        for _ in range(3):
            client.post("/jobs", data=NUMBERS)
        photos = both(client, "ash_too_shallow")
        for job, photo in (("1", photos[0]), ("2", photos[1])):
            client.post("/ask", data=lists({"job": job, "backlash": "0.18"}, [photo]))
        assert "Move it to another job" in client.get("/jobs/1/slips").text
        moved = client.post(f"/photos/{photos[1]}/slips", data={"do": "move", "to": "1", "reason": "mixed"})
        assert moved.headers["location"] == "/jobs/1"
        moved = client.post("/jobs/1/tries/1/slips", data={"do": "move", "to": "3"})
        assert moved.headers["location"] == "/jobs/3"
        with Book(own.site.shop.path) as book:
            assert tries_of(book, 1) == [] and len(tries_of(book, 3)[0].photos) == 2
        merged = client.post("/jobs/2/slips", data={"do": "merge", "to": "3", "reason": "the same axle"})
        assert merged.headers["location"] == "/jobs/3"
        assert "merged into job 3" in client.get("/jobs/2").text
        for address in ("/jobs/1/slips", "/jobs/3/tries/2/slips", f"/photos/{photos[0]}/slips"):
            bare = client.post(address, data={"do": "strike"})
            assert bare.status_code == 422 and "record-half" in bare.text  # it wants a reason
            assert client.post(address, data={"do": "strike", "reason": "a slip"}).status_code == 303
            assert client.post(address, data={"do": "nothing"}).status_code == 422
        with Book(own.site.shop.path) as book:
            (left,) = tries_of(book, 3)
            assert [photo.sha256 for photo in left.photos if photo.struck is None] == [photos[1]]
            assert find_job(book, 1).struck == "a slip"
        client.post("/jobs/3/close", data={"how": "stop", "who": "Ana", "reason": "no parts"})
        assert "Open the job again" in client.get("/jobs/3/slips").text
        assert client.post("/jobs/3/slips", data={"do": "reopen", "reason": "parts came"}).status_code == 303
        with Book(own.site.shop.path) as book:
            assert find_job(book, 3).sign_off is None and find_job(book, 3).reopened
        client.post("/jobs/3/undo")
        assert "Stopped by" in client.get("/jobs/3").text


def test_numbers_carry_the_mark_of_the_person(own: Running) -> None:
    with paired(own) as client:
        client.post("/jobs", data=NUMBERS)
        photos = both(client, "ash_too_shallow")
        client.post("/ask", data=lists({"job": "1", "backlash": "0.18"}, photos))
        assert "0.18 mm (7.1 thou)" in client.get("/jobs/1").text
        client.headers["accept-language"] = "de-DE,de;q=0.9,en;q=0.8"
        assert "0,18 mm (7,1 thou)" in client.get("/jobs/1").text
        assert 'value="0.864 mm"' not in client.get("/jobs/1").text
        answer = client.get("/jobs/1/tries/1").text
        assert not re.search(r">[^<]*\d\.\d+ (mm|thou|%)", answer) and "0.18" not in re.sub(
            r"=\S+", "", answer
        )
        client.post("/me", data={"name": "Ana", "decimals": "."})
        assert "0.18 mm (7.1 thou)" in client.get("/jobs/1").text
        client.post("/me", data={"name": "Ana", "decimals": ","})
        client.headers["accept-language"] = "en"
        assert "0,18 mm" in client.get("/jobs/1").text
        assert client.get("/api/v1/jobs/1").json()["tries"][0]["backlash_mm"] == [0.18]
