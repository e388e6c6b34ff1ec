# SPDX-License-Identifier: GPL-3.0-or-later
"""The description of the addresses is true: schemathesis finds no 5xx and nothing outside it."""

from __future__ import annotations

import json
import os
import tempfile
from pathlib import Path
from typing import Any

import hypothesis
import pytest
import schemathesis
from schemathesis.checks import not_a_server_error
from schemathesis.specs.openapi.checks import (
    content_type_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from netgraph.service.app import TABLES
from netgraph.service.openapi import openapi_document
from tests.service.client import LARK, Bench, bench
from tests.service.test_tracing import whole
from tests.support import ROOT

DOCUMENT = openapi_document(TABLES)
EXAMPLES = 1000 if os.environ.get("NETGRAPH_PROFILE") == "deep" else 15


def test_the_published_description_is_that_of_the_program() -> None:
    """Made anew by tools/make_schemas.py."""
    place = ROOT / "docs" / "reference" / "openapi.json"
    assert json.loads(place.read_text(encoding="utf-8")) == json.loads(json.dumps(DOCUMENT))


def test_the_service_sends_it(on_bench: Bench) -> None:
    assert on_bench.answer("/openapi.json") == json.loads(json.dumps(DOCUMENT))


def test_every_address_but_its_own_is_described(on_bench: Bench) -> None:
    """Asked of Flask's own map of addresses."""
    rules = {
        (rule.rule.replace("<string:", "{").replace(">", "}"), method)
        for rule in on_bench.app.url_map.iter_rules()
        if rule.rule.startswith("/api/")
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}
    }
    told = {(path, method.upper()) for path, row in DOCUMENT["paths"].items() for method in row}
    assert rules - told == {("/api/v1/openapi.json", "GET")}
    assert told <= rules


BENCH: dict[str, Any] = {}


def _served() -> Bench:
    """One service with the sample board for all examples."""
    if not BENCH:
        made = bench(Path(tempfile.mkdtemp(prefix="netgraph-openapi-")))
        BENCH["bench"], BENCH["sha"], BENCH["traced"] = made, made.board(LARK), whole(made).sha
    found: Bench = BENCH["bench"]
    return found


SCHEMA = schemathesis.openapi.from_dict(DOCUMENT)


@SCHEMA.parametrize()
@hypothesis.settings(
    max_examples=EXAMPLES,
    deadline=None,
    derandomize=EXAMPLES < 1000,
    suppress_health_check=list(hypothesis.HealthCheck),
)
def test_no_answer_is_outside_the_description(case: schemathesis.Case) -> None:
    """Half of the examples speak of a board that is there, else most would end at 404."""
    served = _served()
    sha = case.path_parameters.get("sha256")
    if sha is not None and case.method != "DELETE" and len(str(sha)) % 2 == 0:
        tracing = "/trace" in case.path or "/pictures" in case.path
        case.path_parameters["sha256"] = BENCH["traced" if tracing else "sha"]
        if "side" in case.path_parameters and len(str(case.path_parameters["side"])) % 2:
            case.path_parameters["side"] = "top"
    # Uploads that nobody waits for fill the queue; that it says so is tested in test_boards.
    for job in list(served.service.pool._jobs.values()):
        job.wait(30)
    # The tool's way of calling does not unzip.
    plain = {**served.headers, "Accept-Encoding": "identity"}
    response = case.call(app=served.app, headers=plain)
    case.validate_response(
        response,
        checks=[
            not_a_server_error,
            status_code_conformance,
            content_type_conformance,
            response_schema_conformance,
        ],
    )


@pytest.mark.parametrize("name", ["VSYS", "GND", "\x00", "\ud800", "a" * 4097, "'; --", "%00"])
def test_odd_names_are_answered_or_refused_in_form(on_bench: Bench, name: str) -> None:
    sha = on_bench.board()
    response = on_bench.get(f"/boards/{sha}/rail", net=name.encode("utf-8", "replace").decode())
    assert response.status_code in (200, 400, 404)
    assert response.is_json
