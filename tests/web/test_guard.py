"""Who may ask: this computer's own pages, and nobody who merely reaches the address."""

from __future__ import annotations

import httpx
import pytest
from websockets.exceptions import InvalidStatus
from websockets.sync.client import connect
from websockets.typing import Origin


def test_a_strange_name_for_this_computer_is_refused(client: httpx.Client) -> None:
    """A site that points its own name at 127.0.0.1 must get nothing (DNS rebinding)."""
    for host in (
        "clock.example",
        "127.0.0.1.clock.example",
        "localhost.clock.example:80",
        "",
        "[::2]",
        "localhost:80; img-src *",
    ):
        answer = client.get("/", headers={"host": host})
        assert answer.status_code in (400, 403), host
    for host in ("localhost", "LOCALHOST:80", "127.0.0.1:8765", "[::1]:8765"):
        assert client.get("/", headers={"host": host}).status_code == 200, host


def test_another_site_may_change_nothing(client: httpx.Client) -> None:
    own = str(client.base_url).rstrip("/")
    path = "/api/listenings/none/presses"
    body: dict[str, list[float]] = {"presses_s": []}
    for origin in ("http://clock.example", "null", own + ".clock.example", "http://127.0.0.1:1"):
        answer = client.post(path, json=body, headers={"origin": origin})
        assert answer.status_code == 403, origin
        assert answer.json()["code"] == "refused"
    assert client.post(path, json=body, headers={"sec-fetch-site": "cross-site"}).status_code == 403
    assert client.post(path, json=body, headers={"origin": own}).status_code == 404
    assert client.post(path, json=body).status_code == 404


def test_another_site_may_not_open_the_live_line(client: httpx.Client) -> None:
    address = str(client.base_url).replace("http://", "ws://") + "/api/listen"
    with pytest.raises(InvalidStatus) as refused, connect(address, origin=Origin("http://clock.example")):
        pass
    assert refused.value.response.status_code == 403


def test_a_page_may_run_only_our_own_scripts(client: httpx.Client) -> None:
    rules = client.get("/").headers["content-security-policy"]
    assert "script-src 'self';" in rules
    assert "default-src 'none'" in rules
    assert "unsafe" not in rules
    assert "//" not in rules.replace("ws://127.0.0.1", "")
    for path in ("/", "/listen", "/work-out", "/static/style.css", "/nowhere"):
        headers = client.get(path).headers
        assert headers["x-content-type-options"] == "nosniff"
        assert "frame-ancestors 'none'" in headers["content-security-policy"]


def test_no_page_asks_another_computer_for_anything(client: httpx.Client) -> None:
    for path in ("/", "/listen", "/work-out/pendulum?beats=3600", "/stops"):
        text = client.get(path, headers={"accept": "text/html"}).text
        for start in ('src="http', "src='http", 'href="http', "@import", 'src="//'):
            assert start not in text, path


def test_one_shape_of_error_for_page_and_program(client: httpx.Client) -> None:
    program = client.get("/api/listenings/none")
    assert program.status_code == 404
    document = program.json()
    assert document["format"] == "quarterjack.error/1"
    assert document["code"] == "recording-not-found"
    assert set(document) == {"format", "code", "message", "fields"}
    page = client.get("/nowhere", headers={"accept": "text/html"})
    assert page.status_code == 404
    assert "<code>not-found</code>" in page.text
    assert client.get("/nowhere").json()["code"] == "not-found"
    invalid = client.post("/api/listenings/none/presses", json={"presses_s": ["soon"]})
    assert (invalid.status_code, invalid.json()["code"]) == (422, "request-invalid")
