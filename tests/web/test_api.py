"""Whatever is sent to the API, it answers in its one shape and never breaks."""

from __future__ import annotations

import logging
from pathlib import Path
from typing import Any

import schemathesis
from hypothesis import HealthCheck, settings
from schemathesis.checks import not_a_server_error

from quarterjack.web import create_app

_APP = create_app(Path("no-such-bench"))
schema = schemathesis.openapi.from_asgi("/api/openapi.json", _APP, headers={"host": "127.0.0.1"})


@schema.parametrize()
@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
def test_no_request_breaks_the_api(case: Any) -> None:
    logging.getLogger("quarterjack.web").setLevel(logging.CRITICAL)
    answer = case.call(headers={"host": "127.0.0.1"})
    case.validate_response(answer, checks=[not_a_server_error])
    if answer.status_code >= 400:
        document = answer.json()
        assert document["format"] == "quarterjack.error/1"
        assert document["message"]
