"""What every page needs: the templates, the bench folder, and one way to answer with a page."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from fastapi import Request
from fastapi.responses import HTMLResponse
from fastapi.templating import Jinja2Templates
from jinja2 import StrictUndefined

from quarterjack.workshop import Bench

HERE = Path(__file__).parent

TEMPLATES = Jinja2Templates(directory=HERE / "templates")
TEMPLATES.env.undefined = StrictUndefined
TEMPLATES.env.trim_blocks = TEMPLATES.env.lstrip_blocks = True


def figure(value: float, digits: int = 0) -> str:
    """A number as it is printed: thin spaces between thousands, a true minus, `digits` decimals."""
    return f"{value:,.{digits}f}".replace(",", "\u2009").replace("-", "\u2212")


TEMPLATES.env.filters["figure"] = figure


def bench_of(request: Request) -> Bench:
    """The bench folder that this application stands on."""
    return Bench(request.app.state.folder)


def render(
    request: Request, template: str, context: dict[str, Any] | None = None, *, status: int = 200, charts: bool = False
) -> HTMLResponse:
    """Answer with a page.

    Parameters
    ----------
    request : Request
        What was asked.
    template : str
        File name in `templates/`.
    context : dict or None
        Names for the template.
    status : int
        HTTP status.
    charts : bool
        True on a page with charts: it then loads plotly's script, and may set styles as that script does.
    """
    response = TEMPLATES.TemplateResponse(request, template, {"charts": charts, **(context or {})}, status_code=status)
    if charts:
        response.headers["x-charts"] = "1"
    return response
