from __future__ import annotations

import ast
import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jsonschema_rs
import pytest
from fastapi.testclient import TestClient

from service.analysis.faults import CATALOGUE, MEASURES
from service.api import names
from service.api.docs import examples
from service.api.docs.glossary import GLOSSARY, MODELS
from service.api.problems.kinds import PROBLEMS
from service.api.problems.parameters import FIXES
from service.contract import ANSWER, CONTRACT, EXAMPLES, REQUEST, answer_to, contract_text
from service.intake.request import SwingRequest
from service.settings import Settings
from service.use_cases.analyse import Analyser
from tests.api.clips import ANALYZE
from tests.calls import calls_of

FOLDER = Path(__file__).parents[2] / "openapi"
REQUESTS = sorted((FOLDER / EXAMPLES).glob(f"*{REQUEST}"))


def test_the_committed_contract_is_what_the_service_says() -> None:
    committed = (FOLDER / CONTRACT).read_text(encoding="utf-8")
    assert committed == contract_text(), "run: python -m service openapi --write openapi"


@pytest.mark.parametrize("request_file", REQUESTS, ids=lambda path: path.name)
def test_every_example_is_answered_as_committed(request_file: Path) -> None:
    name = request_file.name.removesuffix(REQUEST) + ANSWER
    golden = json.loads(request_file.with_name(name).read_text(encoding="utf-8"))
    _assert_alike(answer_to(request_file.read_bytes(), Analyser.of(Settings())), golden, "")


def test_there_are_examples_of_a_clip_and_of_problems() -> None:
    statuses = [json.loads(p.read_text()).get("status") for p in FOLDER.glob(f"*/*{ANSWER}")]
    assert None in statuses
    assert 422 in statuses


@pytest.mark.parametrize("name", examples.REQUESTS)
def test_every_request_in_the_docs_can_be_sent_as_it_is(client: TestClient, name: str) -> None:
    _, request = examples.REQUESTS[name]
    assert client.post(ANALYZE, json=request).status_code == 200


def test_every_reference_in_the_contract_leads_somewhere(client: TestClient) -> None:
    contract = client.get("/openapi.json").json()
    schemas = contract["components"]["schemas"]
    text = json.dumps(contract)
    names = {part.split('"')[0] for part in text.split("#/components/schemas/")[1:]}
    assert names <= set(schemas)
    assert "$defs" not in text


def answers(contract: dict[str, Any]) -> Iterator[tuple[str, str, str, dict[str, Any]]]:
    """Path, method, status and what is told of every answer, also where that is a reference."""
    shared = contract["components"]["responses"]
    for path, operations in contract["paths"].items():
        for method, operation in operations.items():
            for status, answer in operation["responses"].items():
                name = answer.get("$ref", "").removeprefix("#/components/responses/")
                yield path, method, status, shared[name] if name else answer


def test_what_is_said_of_problems_is_said_once(client: TestClient) -> None:
    contract = client.get("/openapi.json").json()
    shared = contract["components"]["responses"]
    assert len({json.dumps(answer, sort_keys=True) for answer in shared.values()}) == len(shared)
    own = [
        (path, method, status)
        for path, operations in contract["paths"].items()
        for method, operation in operations.items()
        for status, answer in operation["responses"].items()
        if status not in ("200", "201", "202", "204", "304") and "$ref" not in answer
    ]
    assert own == []


def test_the_contract_shows_every_field_of_a_request_and_refuses_others(
    client: TestClient,
) -> None:
    schema = client.get("/openapi.json").json()["components"]["schemas"]["SwingRequest"]
    assert set(schema["properties"]) == set(SwingRequest.model_fields)
    assert schema["additionalProperties"] is False
    assert schema["required"] == ["keypoints"]
    plain, *_ = schema["properties"]["keypoints"]["anyOf"]
    pair, triple, missing = plain["items"]["items"]["anyOf"]
    assert [len(point["prefixItems"]) for point in (pair, triple)] == [2, 3]
    assert missing == {"type": "null"}


def test_every_problem_of_the_analysis_is_shown_with_an_example(client: TestClient) -> None:
    contract = client.get("/openapi.json").json()
    responses = {s: a for path, method, s, a in answers(contract) if path == ANALYZE}
    told = {"200", "400", "401", "403", "413", "415", "421", "422", "429", "503", "default"}
    assert set(responses) == told
    for status, response in responses.items():
        for media_type, content in response["content"].items():
            for slug, example in content["examples"].items():
                if media_type == "application/problem+json":
                    assert example == {"$ref": f"#/components/examples/{slug}"}
                    example = contract["components"]["examples"][slug]
                    assert example["value"]["type"] == f"/problems/{slug}"
                    assert status in ("default", str(PROBLEMS[slug].status))


def test_every_json_answer_is_shown_as_its_schema_has_it(client: TestClient) -> None:
    contract = client.get("/openapi.json").json()
    shown = 0
    for path, method, status, response in answers(contract):
        for media_type, content in response.get("content", {}).items():
            if "json" not in media_type or status == "default" or int(status) >= 400:
                continue
            where = f"{method} {path} {status}: run python -m tests.contract.answers"
            schema = content["schema"] | {"components": contract["components"]}
            told = jsonschema_rs.Draft202012Validator(schema)
            assert content.get("examples"), where
            for example in content["examples"].values():
                errors = [error.message for error in told.iter_errors(example["value"])]
                assert errors == [], where
                shown += 1
    assert shown >= 46


def _assert_alike(got: object, golden: object, where: str) -> None:
    """Equal, but for the last digit of a number, in which machines may differ."""
    if isinstance(golden, dict) and isinstance(got, dict):
        assert got.keys() == golden.keys(), where
        for key, value in golden.items():
            _assert_alike(got[key], value, f"{where}/{key}")
    elif isinstance(golden, list) and isinstance(got, list):
        assert len(got) == len(golden), where
        for index, value in enumerate(golden):
            _assert_alike(got[index], value, f"{where}/{index}")
    elif isinstance(golden, float):
        assert got == pytest.approx(golden, rel=1e-3, abs=2e-3), where
    else:
        assert got == golden, where


def test_only_what_needs_the_records_is_said_to_fail_without_them(client: TestClient) -> None:
    contract = client.get("/openapi.json").json()
    looked_at = ("/v1/model", "/v1/faults", "/v1/players", "/v1/swings/{swing_id}")
    told = {
        (path, "records-unavailable" in answer["content"]["application/problem+json"]["examples"])
        for path, _, status, answer in answers(contract)
        if path in looked_at and status == "503"
    }
    assert told == {(path, path in ("/v1/players", "/v1/swings/{swing_id}")) for path in looked_at}


def test_every_answer_has_its_headers_in_the_contract(client: TestClient) -> None:
    contract = client.get("/openapi.json").json()
    for path, method, status, answer in answers(contract):
        assert "X-Request-ID" in answer["headers"], (path, method, status)
    for path, operations in contract["paths"].items():
        for method, operation in operations.items():
            if "201" in operation["responses"]:
                assert {"Location", "ETag"} <= set(operation["responses"]["201"]["headers"]), path
            if method == "patch":
                needed = [p["name"] for p in operation["parameters"] if p.get("required")]
                assert "If-Match" in needed, path


def test_the_headers_in_the_contract_are_those_of_the_answers(keeper: TestClient) -> None:
    paths = keeper.get("/openapi.json").json()["paths"]
    made = keeper.post("/v1/players", json={"name": "Ada"})
    found = keeper.get(made.headers["location"])
    for answer, told in (
        (made, paths["/v1/players"]["post"]["responses"]["201"]),
        (found, paths["/v1/players/{player_id}"]["get"]["responses"]["200"]),
    ):
        headers = keeper.get("/openapi.json").json()["components"]["headers"]
        sure = {name.lower() for name in told["headers"] if headers[name].get("required")}
        assert {"x-request-id", "etag"} <= sure <= set(answer.headers)


NAMES = {
    "FaultName": set(CATALOGUE),
    "MeasureName": {measure.name for measure in MEASURES},
    "PositionName": {f"P{number}" for number in range(1, 11)},
    "ReasonCode": {*names.REASONS},
    "RemarkCode": {*names.REMARKS},
    "ProblemType": {*(kind.type for kind in PROBLEMS.values()), "about:blank"},
}


@pytest.mark.parametrize("name", NAMES)
def test_names_are_listed_once_and_referred_to(client: TestClient, name: str) -> None:
    text = client.get("/openapi.json").text
    schema = json.loads(text)["components"]["schemas"][name]
    assert set(schema["enum"]) == NAMES[name]
    assert len(schema["enum"]) == len(NAMES[name])
    assert text.count(json.dumps(schema["enum"], separators=(",", ":"))) == 1
    assert f'"#/components/schemas/{name}"' in text
    assert names.NAMED not in text


@pytest.mark.parametrize(("kind", "listed"), [("Reason", names.REASONS), ("Remark", names.REMARKS)])
def test_every_code_that_the_service_gives_is_listed(kind: str, listed: tuple[str, ...]) -> None:
    codes = [call.args[0] for call in calls_of(kind)]
    given = {code.value for code in codes if isinstance(code, ast.Constant)}
    told_from_a_variable = {"position_not_found"} if kind == "Reason" else set()
    assert given | told_from_a_variable == set(listed)


def test_operations_have_short_names_of_their_own(client: TestClient) -> None:
    paths = client.get("/openapi.json").json()["paths"]
    ids = [o["operationId"] for operations in paths.values() for o in operations.values()]
    assert len(set(ids)) == len(ids)
    assert {"analyzeSwing", "createPlayer", "createSwing", "compareSwings", "getRecap"} <= set(ids)
    assert all(re.fullmatch(r"[a-z]+([A-Z][a-z]+)*", each) for each in ids)


def test_no_field_of_the_contract_has_a_default_that_makes_it_seem_required(
    client: TestClient,
) -> None:
    schemas = client.get("/openapi.json").json()["components"]["schemas"]
    fields = [f for s in schemas.values() for f in s.get("properties", {}).values()]
    assert not any("default" in field for field in fields)
    intent = schemas["SwingRequest"]["properties"]["intent"]
    assert intent["description"].endswith("`full_speed` when not sent.")


def test_every_success_is_described_in_words_and_by_a_schema(client: TestClient) -> None:
    for path, _, status, response in answers(client.get("/openapi.json").json()):
        assert response["description"]
        if status not in ("204", "304"):
            assert all(c.get("schema") for c in response["content"].values()), path


def test_every_field_and_every_parameter_says_what_it_is(client: TestClient) -> None:
    contract = client.get("/openapi.json").json()
    silent = [
        (name, field)
        for name, schema in contract["components"]["schemas"].items()
        for field, told in schema.get("properties", {}).items()
        if "description" not in told and "$ref" not in json.dumps(told)
    ]
    for path, operations in contract["paths"].items():
        for method, operation in operations.items():
            silent += [
                (f"{method} {path}", told["name"])
                for told in operation.get("parameters", ())
                if "$ref" not in told and not told.get("description")
            ]
    assert not silent, "say it in the field, or in service/api/docs/glossary.py"
    assert all(each.get("description") for each in contract["components"]["schemas"].values())


def test_no_word_of_the_glossary_is_of_a_field_that_there_is_no_more(client: TestClient) -> None:
    contract = client.get("/openapi.json").json()
    said = set(
        re.findall(
            r'"description":("(?:[^"\\]|\\.)*")', json.dumps(contract, separators=(",", ":"))
        )
    )
    assert {json.dumps(words) for words in (*GLOSSARY.values(), *MODELS.values())} <= said


def test_whatever_parameter_may_be_refused_has_a_fix(client: TestClient) -> None:
    told = {
        each["name"]
        for operations in client.get("/openapi.json").json()["paths"].values()
        for operation in operations.values()
        for each in operation.get("parameters", ())
        if each.get("in") == "query" or each.get("name") in ("Idempotency-Key", "Callback-Secret")
    }
    assert told | {"position"} == set(FIXES)
