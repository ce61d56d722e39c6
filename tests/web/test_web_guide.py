"""The handbook on the phone page."""

from __future__ import annotations

import httpx

from contactread.handbook.pages import PAGES


def test_pages_their_links_and_the_photo(client: httpx.Client) -> None:
    shown = client.get("/guide")
    assert shown.status_code == 200
    assert "default-src 'none'" in shown.headers["content-security-policy"]
    for name in PAGES[1:]:
        assert f'href="/guide/{name}"' in shown.text
    assert "/guide" in client.get("/more").text
    page = client.get("/guide/decide").text
    assert page.count("<svg") >= 3 and '<img src="/guide/answer.jpg"' in page
    assert client.get("/guide/answer.jpg").headers["content-type"] == "image/jpeg"


def test_a_page_that_is_not_there(client: httpx.Client) -> None:
    missing = client.get("/guide/torques")
    assert missing.status_code == 404
    assert "no page" in missing.text and "<svg" not in missing.text


def test_nobody_reads_it_unpaired(client: httpx.Client) -> None:
    assert client.get("/guide", headers={"cookie": ""}).status_code == 401
