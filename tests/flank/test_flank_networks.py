"""A network that is cut, altered or lost says so, and never sees "no ring gear"."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from contactread.errors import ContactreadError
from contactread.flank import networks


@pytest.mark.parametrize(("harm", "code"), [("cut", "model-damaged"), ("flipped", "model-damaged"),
                                            ("lost", "own-files-unreadable")])  # fmt: skip
def test_a_harmed_network_says_so(
    harm: str, code: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data = bytearray(Path(networks.__file__).with_name("closeup.onnx").read_bytes())
    if harm == "cut":
        del data[-1000:]
    elif harm == "flipped":
        data[len(data) // 2] ^= 1
    if harm != "lost":
        (tmp_path / "closeup.onnx").write_bytes(data)
    monkeypatch.setattr(networks, "__file__", str(tmp_path / "networks.py"))
    networks.network.cache_clear()
    with pytest.raises(ContactreadError) as caught:
        networks.network("closeup.onnx")
    assert caught.value.code == code
    networks.network.cache_clear()


def test_both_ship_as_they_were_made() -> None:
    for name in networks.SHA256:
        assert networks.network(name) is networks.network(name)


def test_asked_from_two_threads_each_gets_its_own_answer() -> None:
    """Photos are read side by side, of one size or of several."""
    random = np.random.default_rng(0)
    asked = [random.random((count, 12, 64, 128)).astype(np.float32) for count in (1, 2, 1, 2, 1, 1)]
    alone = [networks.answer("closeup.onnx", planes) for planes in asked]
    with ThreadPoolExecutor(3) as threads:
        beside = threads.map(lambda planes: networks.answer("closeup.onnx", planes), asked)
        assert all(np.array_equal(*both) for both in zip(alone, beside, strict=True))
