"""Start the pages on this computer's own address and open them in the browser."""

from __future__ import annotations

import os
import socket
import threading
import webbrowser
from pathlib import Path

import uvicorn

from quarterjack.web.app import create_app

HOST = "127.0.0.1"
DEFAULT_PORT = 8765


def default_folder() -> Path:
    """The bench folder that is used when none is named."""
    return Path.home() / "quarterjack"


def free_port(wanted: int) -> int:
    """Return `wanted` if nothing listens there, else a free port that the system chooses."""
    for port in (wanted, 0):
        with socket.socket(socket.AF_INET, socket.SOCK_STREAM) as probe:
            if os.name != "nt":
                # Elsewhere than on Windows a port that was just given up counts as taken for a minute without this.
                probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind((HOST, port))
            except OSError:
                continue
            return int(probe.getsockname()[1])
    raise OSError(f"no port can be opened on {HOST}")


def serve(folder: Path | None = None, port: int = DEFAULT_PORT, open_browser: bool = True) -> None:
    """Serve the pages on the loopback address until the user stops them.

    Parameters
    ----------
    folder : Path or None
        The bench folder; `~/quarterjack` if None.
    port : int
        The port to use; if it is taken, a free one is used and named.
    open_browser : bool
        True to open the first page in the user's browser once it answers.
    """
    chosen = free_port(port)
    address = f"http://{HOST}:{chosen}/"
    app = create_app(folder or default_folder())
    server = uvicorn.Server(uvicorn.Config(app, host=HOST, port=chosen, log_level="warning", ws="websockets-sansio"))
    if open_browser:
        threading.Thread(target=_open_when_up, args=(server, address), daemon=True).start()
    print(f"quarterjack: {address}  (stop with Ctrl+C)", flush=True)
    server.run()


def _open_when_up(server: uvicorn.Server, address: str) -> None:
    waited = threading.Event()
    while not server.started and not server.should_exit:
        waited.wait(0.05)
    if server.started:
        webbrowser.open(address)
