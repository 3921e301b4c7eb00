"""Starting the pages: on this computer's own address, on another port where the first is taken, until Ctrl+C."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
from pathlib import Path

import httpx
import pytest

from quarterjack.web.serve import HOST, default_folder, free_port


def test_a_taken_port_is_not_fought_for() -> None:
    with socket.socket() as taken:
        taken.bind((HOST, 0))
        taken.listen()
        port = taken.getsockname()[1]
        assert free_port(port) not in (0, port)
    assert free_port(port) == port


def test_clocks_are_kept_in_the_users_home_unless_told_otherwise() -> None:
    assert default_folder() == Path.home() / "quarterjack"


@pytest.mark.skipif(os.name == "nt", reason="Windows has no Ctrl+C that one process can send to another alone")
def test_the_pages_come_up_and_end_with_ctrl_c(tmp_path: Path) -> None:
    code = "import sys, pathlib; from quarterjack.web import serve; serve(pathlib.Path(sys.argv[1]), 0, False)"
    with subprocess.Popen(
        [sys.executable, "-c", code, str(tmp_path / "bench")], stdout=subprocess.PIPE, text=True
    ) as started:
        try:
            assert started.stdout is not None
            address = started.stdout.readline().split()[1]
            assert address.startswith(f"http://{HOST}:")
            assert _first_page(address).status_code == 200
            assert not (tmp_path / "bench").exists()
            started.send_signal(signal.SIGINT)
            assert started.wait(20) in (0, -signal.SIGINT, 130)
        finally:
            started.kill()


def _first_page(address: str) -> httpx.Response:
    """The first page, as soon as it answers."""
    transport = httpx.HTTPTransport(retries=8)
    with httpx.Client(transport=transport, timeout=20) as client:
        return client.get(address)
