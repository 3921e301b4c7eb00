"""One shape of error for page and program: a code, a message in plain words, and the values it speaks of."""

from __future__ import annotations

import logging
from typing import Any, Final

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, Response
from starlette.exceptions import HTTPException

from quarterjack.errors import (
    FileExists,
    QuarterjackError,
    RecordingNotFound,
    SheetChangedMeanwhile,
    SheetNotFound,
    StoppedByUser,
    error_document,
)
from quarterjack.web.pages import render

CODES: Final = {
    "not-found": "Nothing is kept at that address.",
    "method-not-allowed": "The address is there, but does not take this kind of request.",
    "refused": "The request came from another site, or under a name that is not this computer's own.",
    "too-large": "The file is larger than can be taken in.",
    "request-invalid": "A field of the request is missing or cannot be read.",
    "internal": "Something broke in quarterjack itself; what was stored is untouched.",
}
"""Codes that only the pages and their API give, beside those of the error tree."""

__all__ = ["CODES", "answer", "document_of", "error_document", "install", "status_of", "wants_page"]

_LOG = logging.getLogger("quarterjack.web")

_STATUS: Final[dict[type[QuarterjackError], int]] = {
    SheetNotFound: 404,
    RecordingNotFound: 404,
    FileExists: 409,
    SheetChangedMeanwhile: 409,
    StoppedByUser: 409,
}
_TITLES: Final = {
    403: "That cannot be done from there",
    404: "There is no such page",
    405: "That cannot be asked in this way",
    409: "That stands in the way of something",
    413: "That is too large",
    422: "That cannot be used as it stands",
    500: "Something broke in quarterjack itself",
}


def document_of(error: QuarterjackError) -> dict[str, Any]:
    """One of quarterjack's own errors as a JSON document."""
    return error.document()


def status_of(error: QuarterjackError) -> int:
    """The HTTP status that fits one of quarterjack's own errors."""
    return next((status for kind, status in _STATUS.items() if isinstance(error, kind)), 422)


def wants_page(request: Request) -> bool:
    """True for a browser that asks for a page, false for a program or one of our own scripts."""
    return "text/html" in request.headers.get("accept", "") and not request.url.path.startswith("/api/")


def answer(request: Request, status: int, document: dict[str, Any]) -> Response:
    """Answer with the error, as a page or as JSON."""
    if not wants_page(request):
        return JSONResponse(document, status_code=status)
    return render(request, "error.html", {"title": _TITLES.get(status, "That did not work"), **document}, status=status)


def install(app: FastAPI) -> None:
    """Let every error of the application come out in the one shape."""

    @app.exception_handler(QuarterjackError)
    def own(request: Request, error: QuarterjackError) -> Response:
        return answer(request, status_of(error), error.document())

    @app.exception_handler(HTTPException)
    def http(request: Request, error: HTTPException) -> Response:
        code = {404: "not-found", 405: "method-not-allowed", 413: "too-large"}.get(error.status_code, "refused")
        text = f"Nothing is kept at {request.url.path}." if error.status_code == 404 else str(error.detail)
        return answer(request, error.status_code, error_document(code, text))

    @app.exception_handler(RequestValidationError)
    def invalid(request: Request, error: RequestValidationError) -> Response:
        first = error.errors()[0]
        field = ".".join(str(part) for part in first["loc"][1:]) or "the request"
        return answer(request, 422, error_document("request-invalid", f"{field}: {first['msg']}.", field=field))

    @app.exception_handler(Exception)
    def unforeseen(request: Request, error: Exception) -> Response:
        _LOG.exception("unforeseen error at %s", request.url.path, exc_info=error)
        text = f"{type(error).__name__}: {error}. What was stored before is untouched."
        return answer(request, 500, error_document("internal", text))
