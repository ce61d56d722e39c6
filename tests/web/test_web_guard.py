"""The guard: pairing on every route, hosts, other sites, sizes, slowness, headers."""

from __future__ import annotations

import re
import socket
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from starlette.routing import Route

from calibration.web.page import SAMPLES, base_of, paired, send, served
from contactread.web import connection, guard
from contactread.web.app import ROUTES
from contactread.web.pairing import SESSION_S, TOKEN_S
from contactread.web.serve import Running

CLOSED = [
    (method, re.sub(r"\{[^}]*\}", "1", route.path))
    for route in ROUTES
    if isinstance(route, Route) and route.path != "/reach" and "/pair/" not in route.path
    for method in sorted((route.methods or {"GET"}) - {"HEAD"})
]


@pytest.fixture(scope="module")
def own(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A page of this file's own, whose clock may be moved."""
    with served(tmp_path_factory.mktemp("guard") / "book.sqlite", workers=1) as page:
        yield page


def test_every_route_wants_a_valid_cookie(own: Running, monkeypatch: pytest.MonkeyPatch) -> None:
    with paired(own) as known, paired(own, pair=False) as stranger:
        cookie = next(iter(known.cookies.keys()))
        for token in ("", "wrong", "ü"):
            for method, path in CLOSED:
                given = {b"cookie": f"{cookie}={token}".encode()}
                assert stranger.request(method, path, headers=given).status_code == 401, (method, path, token)
            fill_again(own)
        assert known.get("/more").status_code == 200
        later = time.monotonic() + SESSION_S + 1
        monkeypatch.setattr(own.pairing, "_clock", lambda: later)
        for method, path in CLOSED:
            assert known.request(method, path).status_code == 401, (method, path)


def guard_of(page: Running) -> guard.Guard:
    found = page.server.config.app
    assert isinstance(found, guard.Guard)
    return found


def fill_again(page: Running) -> None:
    """Forget how often strangers asked."""
    for bucket in guard_of(page)._strangers.values():
        bucket.left = bucket.most


def test_a_token_that_is_wrong_used_or_expired_pairs_nothing(own: Running) -> None:
    base = base_of(own)
    with paired(own, pair=False) as stranger:
        used = own.new_address().removeprefix(base)
        assert stranger.get(used).status_code == 200  # looking doesn't use it up
        assert stranger.post(used).status_code == 303
        stranger.cookies.clear()
        for path in (used, "/pair/wrong", "/pair/" + "x" * 3000):
            assert stranger.get(path).status_code == 401
            assert stranger.post(path).status_code == 401
        expired = own.new_address().removeprefix(base)
        real = own.pairing._clock
        own.pairing._clock = lambda: real() + TOKEN_S + 1
        try:
            assert stranger.post(expired).status_code == 401
        finally:
            own.pairing._clock = real
        assert not stranger.cookies


@pytest.mark.parametrize(
    "host", ["evil.example", "127.0.0.1", "127.0.0.1:1", "", "localhost.evil.example:8377"]
)
def test_foreign_hosts_get_nothing(own: Running, host: str) -> None:
    with paired(own) as client:
        for method, path in (*CLOSED, ("GET", "/reach"), ("GET", "/static/page.css"), ("POST", "/pair/1")):
            assert client.request(method, path, headers={"host": host}).status_code == 403, (method, path)


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://evil.example", "sec-fetch-site": "cross-site"},
        {"origin": "http://evil.example"},
        {"origin": "null"},
        {"origin": "null", "sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"sec-fetch-site": "none"},
        {},
    ],
)
def test_other_sites_can_send_nothing(own: Running, headers: dict[str, str]) -> None:
    with paired(own) as client:
        for name in ("origin", "sec-fetch-site"):
            del client.headers[name]
        for method, path in CLOSED:
            for key in ("", "?key=", "?key=wrong") if method not in guard.SAFE_METHODS else ():
                sent = client.request(method, path + key, headers=headers, content=b"name=x")
                assert sent.status_code == 403, (method, path, key)


def test_a_form_of_our_own_page_carries_its_key(own: Running) -> None:
    """With no-referrer a browser sends "null" as the origin of a form."""
    with paired(own) as client:
        form = re.search(r'action="(/me\?key=[^"]+)"', client.get("/more").text)
        assert form is not None
        del client.headers["sec-fetch-site"]
        answer = client.post(form[1], headers={"origin": "null"}, data={"name": "Ana"})
        assert answer.status_code == 303
        assert 'value="Ana"' in client.get("/more").text
        cross = client.post(form[1], headers={"origin": "null", "sec-fetch-site": "cross-site"})
        assert cross.status_code == 403


def test_every_answer_has_the_headers(own: Running) -> None:
    with paired(own) as client, paired(own, pair=False) as stranger:
        answers = [
            client.get(path) for path in ("/", "/jobs", "/static/photos.js", "/api/v1/jobs", "/nowhere")
        ]
        answers += [stranger.get("/"), stranger.get("/", headers={"host": "x"})]
        for answer in answers:
            policy = answer.headers["content-security-policy"]
            assert "default-src 'none'" in policy and "unsafe" not in policy
            assert answer.headers["x-content-type-options"] == "nosniff"
            assert answer.headers["referrer-policy"] == "no-referrer"
        assert not re.search(r"<script(?! src=)|\sstyle=|\son\w+=", client.get("/").text)


def raw(page: Running, client: httpx.Client, path: str, length: int, body: bytes = b"") -> socket.socket:
    """A connection on which a request's head was sent, and as much of its body."""
    cookie = "; ".join(f"{name}={value}" for name, value in client.cookies.items())
    head = (
        f"POST {path} HTTP/1.1\r\nHost: 127.0.0.1:{page.place.port}\r\nCookie: {cookie}\r\n"
        f"Origin: {base_of(page)}\r\nContent-Length: {length}\r\n\r\n"
    )
    connected = socket.create_connection(("127.0.0.1", page.place.port), timeout=10)
    connected.sendall(head.encode() + body)
    return connected


def test_too_much_is_refused_before_it_comes(own: Running) -> None:
    with paired(own) as client:
        for path, most in (("/me", guard.MOST_FORM), *guard.UPLOADS.items()):
            with raw(own, client, path, most + 1) as sent:
                answer = sent.recv(10_000)  # nothing of the body was sent yet
            assert answer.startswith(b"HTTP/1.1 413") and b"connection: close" in answer
        chunks = (b"x" * 50_000 for _ in range(10))  # no length is told
        grown = client.post(f"/api/v1/photos/{'0' * 64}/correction", content=chunks)
        assert grown.status_code == 413


def test_parts_of_a_form_are_counted_and_measured(own: Running) -> None:
    jpeg = b"\xff\xd8 not a photo"
    with paired(own) as client:
        many = [("file", (f"{k}.jpg", jpeg)) for k in range(13)]
        assert client.post("/photos", files=many).status_code == 400  # files count on their own
        fields = {f"field{k}": "x" for k in range(11)}
        assert client.post("/photos", data=fields, files=many[:1]).status_code == 400
        long = client.post("/photos", data={"job": "9" * 20_000}, files=many[:1])
        assert long.status_code == 400  # a part that isn't a file
        bad = client.post("/photos", files=many[:1])
        assert bad.status_code == 422 and "photo-format" in bad.text
        assert (
            client.post(
                "/photos", content=b"--x", headers={"content-type": "multipart/form-data"}
            ).status_code
            == 400
        )


def test_a_slow_head_is_not_waited_for(own: Running, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(connection, "HEAD_S", 0.5)
    with socket.create_connection(("127.0.0.1", own.place.port), timeout=10) as slow:
        slow.sendall(b"GET / HTTP/1.1\r\nHost: ")
        began = time.monotonic()
        assert slow.recv(100) == b""
        assert time.monotonic() - began < 5


def test_a_slow_body_is_not_waited_for(own: Running, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(guard, "CHUNK_S", 0.5)
    with paired(own) as client, raw(own, client, "/api/v1/photos", 1000, b"abc") as slow:
        assert slow.recv(1000).startswith(b"HTTP/1.1 408")


def test_strangers_and_phones_may_not_ask_too_often(own: Running) -> None:
    with paired(own, pair=False) as stranger:
        assert 429 in (stranger.post("/pair/guess").status_code for _ in range(2000))  # slow machines too
    fill_again(own)
    with paired(own) as client:
        session = own.pairing.session(next(iter(client.cookies.values())))
        assert session is not None
        session.bucket.left = 3.0
        session.bucket.each_s = 0.01
        assert [client.get("/api/nothing").status_code for _ in range(4)] == [404, 404, 404, 429]


def test_a_full_disk_takes_no_photo(own: Running, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(guard_of(own), "_free", lambda folder: guard.ROOM - 1)
    with paired(own) as client:
        answer = send(client, SAMPLES / "ash_good/drive.jpg")
        assert answer.status_code == 507 and answer.json()["error"]["code"] == "disk-low"
        assert client.get("/").status_code == 200


def test_no_path_from_outside_reaches_the_disk(own: Running, tmp_path: Path) -> None:
    with paired(own) as client:
        for path in (
            "/static/../app.py", "/static/%2e%2e/app.py", "/static/..%2fapp.py",
            "/photos/..%2f..%2fbook.sqlite", "/photos/..%2f/picture.jpg", "/jobs/..%2f1",
            "/static//etc/passwd", "/api/v1/photos/%2e%2e/teeth",
        ):  # fmt: skip
            answer = httpx.get(base_of(own) + path, headers=client.headers, cookies=client.cookies)
            assert answer.status_code in (404, 422), path
            assert "from __future__" not in answer.text
        name = "../../../" + "n" * 500 + "<script>\x00.jpg"
        answer = client.post("/api/v1/photos", params={"name": name}, content=b"no photo")
        assert answer.status_code == 422
