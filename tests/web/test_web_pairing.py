"""Tokens and sessions, addresses in their order, numbers as people write them."""

from __future__ import annotations

import pytest

from contactread.errors import ContactreadError
from contactread.plausible import parse_given_places, parse_places
from contactread.web.addresses import rank
from contactread.web.given import length, photo_hash
from contactread.web.pairing import SESSION_S, TOKEN_S, Bucket, Pairing


class Clock:
    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        return self.now


def test_a_token_works_once() -> None:
    pairing = Pairing(Clock())
    token = pairing.new_token()
    assert len(token) >= 22  # 128 bits in 6 bits a letter
    cookie = pairing.swap(token)
    assert cookie is not None and pairing.session(cookie) is not None
    assert pairing.swap(token) is None
    assert pairing.session(token) is None
    assert pairing.session("") is None and pairing.session("ünicode\ud800") is None


def test_tokens_and_sessions_run_out() -> None:
    clock = Clock()
    pairing = Pairing(clock)
    late, early = pairing.new_token(), pairing.new_token()
    cookie = pairing.swap(early)
    assert cookie is not None
    clock.now += TOKEN_S + 1
    assert pairing.swap(late) is None
    assert pairing.session(cookie) is not None
    clock.now += SESSION_S
    assert pairing.session(cookie) is None


def test_only_digests_are_held() -> None:
    pairing = Pairing(Clock())
    token = pairing.new_token()
    cookie = pairing.swap(pairing.new_token())
    assert cookie is not None
    held = repr(vars(pairing))
    assert token not in held and cookie not in held


def test_a_bucket_fills_again() -> None:
    clock = Clock()
    bucket = Bucket(2, 1.0, clock)
    assert [bucket.take() for _ in range(3)] == [True, True, False]
    clock.now += 1.0
    assert bucket.take() and not bucket.take()


def test_the_address_that_a_phone_reaches_comes_first() -> None:
    found = [
        ("127.0.0.1", "lo"), ("172.17.0.1", "docker0"), ("10.8.0.2", "tun0"), ("169.254.3.4", "eth1"),
        ("192.168.1.20", "wlan0"), ("192.168.7.5", "eth0"), ("100.64.0.9", "tailscale0"),
    ]  # fmt: skip
    ranked = [address.ip for address in rank(found, "192.168.7.5")]
    assert ranked[:2] == ["192.168.7.5", "192.168.1.20"]
    assert set(ranked[2:]) == {"172.17.0.1", "10.8.0.2", "100.64.0.9"}


@pytest.mark.parametrize(
    ("text", "unit", "mm"),
    [
        ("0,18", "mm", [0.18]),
        ("7", "thou", [0.1778]),
        ("0.007", "in", [0.1778]),
        ("0,18 0,2 .19", "mm", [0.18, 0.2, 0.19]),
        ("7 thou; 0.18 mm", "mm", [0.1778, 0.18]),
        ("0.18, 0,19", "mm", [0.18, 0.19]),
        ("7 7.5 8 thou", "mm", [0.1778, 0.1905, 0.2032]),
        ("0 0.1 0.15 mm", "mm", [0, 0.1, 0.15]),
        ("1/64 in", "mm", [0.396875]),
        ('1/64" 1/128 in', "mm", [0.396875, 0.1984375]),
        ("7/7.5/8", "thou", [0.1778, 0.1905, 0.2032]),
        ("7 1/2 thou", "mm", [0.1905]),
        ("7 1/2 8 1/4", "thou", [0.1905, 0.20955]),
        ("7/8 thou", "mm", [0.1778, 0.2032]),
        ("", "mm", []),
    ],
)
def test_backlash_as_people_write_it(text: str, unit: str, mm: list[float]) -> None:
    assert list(parse_places(text, unit)) == pytest.approx(mm)


@pytest.mark.parametrize(
    "text",
    [
        "9",
        "-0.1",
        "zero",
        "1e9",
        "0.18 stone",
        "0,18,0,19",
        "0'18",
        "0.18-0.20",
        "0.18 x 2",
        "0.18 7 thou",
        "7 7/8 8 thou",
        "5 3/2 thou",
        "0 .18",
        "1/2 thou",
        "0.1 " * 80,
        "0.1 " * 21,
    ],
)
def test_a_backlash_that_cannot_be_is_asked_again(text: str) -> None:
    with pytest.raises(ContactreadError):
        parse_places(text, "mm")


@pytest.mark.parametrize(
    ("text", "unit", "other"),
    [
        ("0.18", "thou", "0.18 mm"),
        ("7", "mm", "7 thou"),
        ("0.008", "mm", "0.008 in"),
        (".2 .3", "thou", ".2 mm"),
    ],
)
def test_a_number_that_goes_with_another_unit_is_asked_about(text: str, unit: str, other: str) -> None:
    with pytest.raises(ContactreadError) as asked:
        parse_places(text, unit)
    assert asked.value.code == "backlash-unit" and asked.value.next_step.endswith(f"{other}.")
    assert f"{text.split()[0]} {unit} would be" in asked.value.message and other in asked.value.message


def test_one_place_and_several_are_told_apart_at_the_command_line_too() -> None:
    for text, mm in (("7/8 thou", [0.1778, 0.2032]), ("7 1/2 thou", [0.1905]), ("1/128 in", [0.1984375])):
        assert list(parse_given_places(text)) == pytest.approx(mm)
    for text in ("1/2 thou", "0 .18 mm"):
        with pytest.raises(ContactreadError):
            parse_given_places(text)


def test_the_size_of_a_shim_has_no_sign() -> None:
    for text in ("+3 thou", "-0.08 mm", "−3 thou"):
        with pytest.raises(ContactreadError, match="tells of a change"):
            length("pinion_shim", text, "mm")


@pytest.mark.parametrize("text", ["../../etc/passwd", "A" * 64, "0" * 63, "0" * 64 + "\n"])
def test_only_a_hash_names_a_photo(text: str) -> None:
    with pytest.raises(ContactreadError) as caught:
        photo_hash(text)
    assert caught.value.code == "photo-unknown"


def test_what_was_typed_is_named_as_it_was_typed() -> None:
    for text, said in (("18", "'18' has no unit"), ("7 8 0.2 mm", "7 mm would be 7.000 mm")):
        with pytest.raises(ContactreadError, match=said):
            parse_places(text)
