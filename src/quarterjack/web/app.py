"""The application: every page and every answer, put together for one bench folder."""

from __future__ import annotations

import importlib.util
import mimetypes
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

from fastapi import FastAPI, Request
from fastapi.responses import FileResponse, HTMLResponse
from fastapi.staticfiles import StaticFiles

from quarterjack.web import clock_pages, faults, listen_pages, live, sounds, stop_pages, work_out
from quarterjack.web.guard import Guard
from quarterjack.web.pages import HERE, render
from quarterjack.web.spool import Spool


def plotly_script() -> Path:
    """Where the installed plotly wheel keeps its script; found without importing plotly, which takes a second."""
    found = importlib.util.find_spec("plotly")
    if found is None or found.origin is None:
        raise FileNotFoundError("plotly is not installed; install quarterjack with what it requires.")
    return Path(found.origin).parent / "package_data" / "plotly.min.js"


def create_app(folder: Path) -> FastAPI:
    """Put the pages together over a bench folder.

    Parameters
    ----------
    folder : Path
        The bench folder: one folder a clock. It need not exist yet; it is made when the first clock is kept.
    """
    # Some systems' registries call a script plain text, and a browser then refuses to run it as a module.
    mimetypes.add_type("text/javascript", ".js")
    spool = Spool()

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        yield
        spool.close()

    app = FastAPI(
        title="quarterjack", docs_url=None, redoc_url=None, openapi_url="/api/openapi.json", lifespan=lifespan
    )
    app.state.folder, app.state.spool = Path(folder), spool
    app.add_middleware(Guard)
    faults.install(app)
    app.mount("/static", StaticFiles(directory=HERE / "static"), name="static")

    @app.get("/", response_class=HTMLResponse, include_in_schema=False)
    def first_page(request: Request) -> HTMLResponse:
        return render(request, "first.html")

    @app.get("/charts/plotly.js", include_in_schema=False)
    def plotly_js() -> FileResponse:
        """Give plotly's script; only pages with charts ask for it."""
        return FileResponse(plotly_script(), media_type="text/javascript")

    pages = (listen_pages, live, work_out, stop_pages, sounds, clock_pages)
    for room in pages:
        app.include_router(room.router)
    return app
