"""Pages in a browser: documentation without a network, calls from other origins, names."""

from __future__ import annotations

import re
from html.parser import HTMLParser

import pytest
from fastapi.testclient import TestClient

from service.__main__ import main
from service.app import create_app
from service.settings import Settings
from tests.records.kept import swing_body

JSON = {"Content-Type": "application/json"}
ORIGIN = "https://coach.example"


class _Sources(HTMLParser):
    """Everything that a page fetches or leads to, and scripts that stand in it."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.fetched: set[str] = set()
        self.inline_scripts = 0
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = dict(attrs)
        self.fetched |= {told[name] or "" for name in ("src", "href") if name in told}
        self.inline_scripts += tag == "script" and "src" not in told


def _outside(page: str) -> set[str]:
    links = _Sources(page).fetched | set(re.findall(r"url\(['\"]?([^'\")]+)", page))
    links |= set(re.findall(r"@import ['\"]([^'\"]+)", page))
    return {link for link in links if re.match(r"[a-z]+:|//", link) and link[:5] != "data:"}


def test_the_documentation_has_all_it_needs_here(client: TestClient) -> None:
    page = client.get("/docs").text
    sources = _Sources(page)
    assert sources.inline_scripts == 0
    assert len(sources.fetched) >= 4
    for link in sources.fetched:
        assert client.get(f"/{link}").status_code == 200, link
    assert client.get("/docs/start.js").text.count('url: "openapi.json"') == 1
    assert "validatorUrl: null" in client.get("/docs/start.js").text


def test_the_documentation_shows_contracts_of_the_version_that_is_served(
    client: TestClient,
) -> None:
    assert client.get("/openapi.json").json()["openapi"].startswith("3.1.")
    bundle = client.get("/docs/swagger-ui-bundle.js")
    assert bundle.headers["content-type"].startswith("text/javascript")
    assert "isOAS31" in bundle.text


@pytest.mark.parametrize("path", ["/docs/nothing.js", "/docs/__init__.py", "/redoc"])
def test_nothing_else_of_the_package_is_served(client: TestClient, path: str) -> None:
    assert client.get(path).status_code == 404


def test_no_page_fetches_anything_from_elsewhere(keeper: TestClient) -> None:
    player = keeper.post("/v1/players", json={"name": "Ada"}).headers["location"]
    lesson = keeper.post(f"{player}/lessons", json={"date": "2025-05-17"}).headers["location"]
    keeper.post(f"{lesson}/swings", content=swing_body(1), headers=JSON)
    pages = ["/docs", "/problems", "/problems/not-found", f"{lesson}/recap.html"]
    for path in pages:
        answer = keeper.get(path)
        assert answer.headers["content-type"].startswith("text/html"), path
        assert _outside(answer.text) == set(), path
    assert _outside(keeper.get("/docs/swagger-ui.css").text) == set()


def test_a_link_to_elsewhere_would_be_seen() -> None:
    page = '<script src="https://a.example/x.js"></script><style>a{background:url(//b/c)}</style>'
    assert _outside(page) == {"https://a.example/x.js", "//b/c"}


def _preflight(client: TestClient, origin: str) -> dict[str, str]:
    asked = {
        "Origin": origin,
        "Access-Control-Request-Method": "PATCH",
        "Access-Control-Request-Headers": "content-type, if-match, idempotency-key",
    }
    answer = client.options("/v1/players/1", headers=asked)
    return {"status": str(answer.status_code), **answer.headers}


@pytest.fixture(scope="module")
def open_to_one() -> TestClient:
    return TestClient(create_app(Settings(cors_origins=ORIGIN, database_url="")))


def test_pages_of_an_origin_in_the_settings_may_call(open_to_one: TestClient) -> None:
    told = _preflight(open_to_one, ORIGIN)
    assert told["status"] == "200"
    assert told["access-control-allow-origin"] == ORIGIN
    operations = create_app(Settings()).openapi()["paths"].values()
    methods = {method.upper() for path in operations for method in path} - {"PARAMETERS"}
    assert methods <= set(told["access-control-allow-methods"].split(", "))
    answer = open_to_one.get("/healthz", headers={"Origin": ORIGIN})
    assert answer.headers["access-control-allow-origin"] == ORIGIN
    shown = answer.headers["access-control-expose-headers"].split(", ")
    assert {"ETag", "Location", "X-Request-ID", "Retry-After"} <= set(shown)
    assert "Origin" in answer.headers["vary"]


def test_such_a_page_can_read_refusals_too(open_to_one: TestClient) -> None:
    for path, status in (("/nowhere", 404), ("/v1/players", 503)):
        answer = open_to_one.get(path, headers={"Origin": ORIGIN})
        assert answer.status_code == status
        assert answer.headers["access-control-allow-origin"] == ORIGIN


@pytest.mark.parametrize(
    "origin",
    ["https://coach.example.evil", "http://coach.example", f"{ORIGIN}:8443", "null"],
)
def test_pages_of_other_origins_may_not(open_to_one: TestClient, origin: str) -> None:
    told = _preflight(open_to_one, origin)
    assert told["status"] == "400"
    assert "access-control-allow-origin" not in told
    answer = open_to_one.get("/healthz", headers={"Origin": origin})
    assert "access-control-allow-origin" not in answer.headers


def test_a_preflight_that_is_refused_says_what_is_wrong_as_any_problem(
    open_to_one: TestClient,
) -> None:
    for origin, method, wrong in (
        ("https://coach.example.evil", "GET", "origin"),
        (ORIGIN, "TRACE", "method"),
    ):
        asked = {"Origin": origin, "Access-Control-Request-Method": method}
        answer = open_to_one.options("/v1/players", headers=asked)
        assert answer.headers["content-type"] == "application/problem+json"
        problem = answer.json()
        assert problem["type"] == "/problems/page-refused"
        assert problem["status"] == answer.status_code == 400
        assert problem["instance"] == "/v1/players"
        assert problem["detail"].startswith(f"Not let in: {wrong}. Origins are those in SWING_CORS")
        assert (origin == ORIGIN) == ("access-control-allow-origin" in answer.headers)


def test_unless_set_no_page_of_another_origin_may_call(client: TestClient) -> None:
    assert "access-control-allow-origin" not in _preflight(client, ORIGIN)
    answer = client.get("/healthz", headers={"Origin": ORIGIN})
    assert "access-control-allow-origin" not in answer.headers


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("SWING_CORS_ORIGINS", "*"),
        ("SWING_CORS_ORIGINS", "coach.example"),
        ("SWING_CORS_ORIGINS", "https://coach.example/app"),
        ("SWING_ALLOWED_HOSTS", "*"),
        ("SWING_ALLOWED_HOSTS", "https://swings.example"),
    ],
)
def test_origins_and_names_that_could_not_be_meant_are_refused(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], name: str, value: str
) -> None:
    monkeypatch.setenv(name, value)
    assert main(["settings"]) == 2
    told = capsys.readouterr().err
    assert f"{name} has another form; it is: " in told
    assert "pattern" not in told


def test_several_origins_are_told_as_they_are_set(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("SWING_CORS_ORIGINS", "https://a.example, http://localhost:5173")
    assert main(["settings"]) == 0
    told = capsys.readouterr().out
    assert "SWING_CORS_ORIGINS=https://a.example,http://localhost:5173  (set)" in told
