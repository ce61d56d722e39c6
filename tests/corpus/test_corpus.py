"""Every bad file is refused with its code and a next step, quickly, quietly, and stays as it was."""

from __future__ import annotations

import time
import zlib
from pathlib import Path

import numpy as np
import pytest
from bad_photos import FILES, JPEG, PNG, TIFF, WEBP, cv2, make_corpus, picture, png, png_chunk

from contactread.errors import PhotoError
from contactread.photo.load import load_photo

SLOWEST = 0.2  # seconds


@pytest.fixture(scope="module")
def corpus(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, dict[str, str]]:
    folder = tmp_path_factory.mktemp("corpus")
    return folder, make_corpus(folder)


def test_each_is_refused(corpus: tuple[Path, dict[str, str]], capfd: pytest.CaptureFixture[str]) -> None:
    folder, expected = corpus
    wrong = []
    for name, code in expected.items():
        start = time.perf_counter()
        try:
            load_photo(folder / name)
            got = "read"
        except PhotoError as error:
            got = error.code
            assert error.message.endswith(".")
            assert error.next_step.endswith(".")
            assert str(folder) not in error.message
        seconds = time.perf_counter() - start
        if got != code or seconds > SLOWEST:
            wrong.append(f"{name[:40]}: expected {code}, got {got} in {seconds:.3f} s")
    assert not wrong, "\n".join(wrong)
    chatter = [line for line in capfd.readouterr().err.splitlines() if not line.startswith("libpng")]
    assert not chatter  # what else the decoders say must not reach the user's terminal


def test_bytes_are_refused_like_files() -> None:
    for name, (code, build) in FILES.items():
        with pytest.raises(PhotoError) as caught:
            load_photo(build())
        assert caught.value.code == code, name


def test_every_prefix_of_a_file_is_refused_or_read() -> None:
    """Whatever length a file was cut to: a coded refusal. Never another exception."""
    for data in (JPEG, PNG, WEBP, TIFF):
        step = max(1, len(data) // 150)
        for length in [*range(0, 700), *range(700, len(data), step)]:
            with pytest.raises(PhotoError):
                load_photo(data[:length])


def test_spoilt_bytes_never_escape_as_other_errors() -> None:
    rng = np.random.default_rng(3)
    for data in (JPEG, PNG, WEBP, TIFF):
        for _ in range(60):
            spoilt = bytearray(data)
            for at in rng.integers(2, min(len(data), 2000), 8):
                spoilt[at] = rng.integers(256)
            try:
                pixels = load_photo(bytes(spoilt)).pixels
            except PhotoError:
                continue
            assert pixels.ndim == 3


def test_corpus_pictures_are_sound_before_they_are_spoilt() -> None:
    """The bad files are made from good ones: those must be read, or the corpus proves nothing."""
    for data, format in ((JPEG, "jpeg"), (PNG, "png"), (WEBP, "webp"), (TIFF, "tiff")):
        photo = load_photo(data)
        assert photo.format == format
        assert photo.pixels.shape == (240, 320, 3)
        if format in ("png", "tiff"):
            assert np.array_equal(photo.pixels, picture())


def test_texts_that_unfold_to_gigabytes_are_left_folded() -> None:
    bomb = png_chunk(b"zTXt", b"a\0\0" + zlib.compress(bytes(8_000_000)))
    body = zlib.compress(bytes(240 * 961))
    plain, loaded = load_photo(png(320, 240, body)).pixels, png(320, 240, body, *[bomb] * 400)
    start = time.perf_counter()
    assert np.array_equal(load_photo(loaded).pixels, plain)
    assert time.perf_counter() - start < 1.0  # unfolded, they took eight


def test_passes_cost_no_more_than_a_few_decodings() -> None:
    """A photo in passes at its finest is still read; what is refused is sent twice."""
    noise = np.random.default_rng(2).integers(0, 255, (600, 800, 3), dtype=np.uint8)
    for quality in (60, 100):
        done, data = cv2.imencode(
            ".jpg", noise, [cv2.IMWRITE_JPEG_QUALITY, quality, cv2.IMWRITE_JPEG_PROGRESSIVE, 1]
        )
        assert done and load_photo(bytes(data)).pixels.shape == (600, 800, 3)
