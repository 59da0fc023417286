"""A client that a generator makes of the contract, against a running service."""

from __future__ import annotations

import importlib
import json
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from datetime import date
from io import BytesIO
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from tests.taking_turns import made_once

HERE = Path(__file__).parent
CONTRACT = HERE.parents[1] / "openapi" / "openapi.json"
EXAMPLE = CONTRACT.parent / "examples" / "down-the-line-with-club-request.json"
NAME = "generated_client"


def _generate(folder: Path) -> tuple[Path, str]:
    """The folder with the client, and what the generator says while it makes it."""
    command = [
        *(sys.executable, "-m", "openapi_python_client", "generate", "--meta", "none"),
        *("--path", str(CONTRACT), "--config", str(HERE / "generator.yml")),
        *("--output-path", str(folder / NAME)),
    ]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=True)
    return folder, done.stdout + done.stderr


@pytest.fixture(scope="module")
def generated(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """What the generator says while it makes the client, which can be imported then."""
    folder, said = made_once("client", lambda: _generate(tmp_path_factory.mktemp("generated")))
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(folder))
        yield said


class Calls:
    """Calls the operations of the generated client by their ids in the contract."""

    def __init__(self, server: str) -> None:
        self._client = _part("client").Client(base_url=server, timeout=60)

    def __call__(self, tag: str, operation: str, *path: str, **options: Any) -> Any:
        """The answer: status, headers, content, and what the client made of it."""
        module = _part(f"api.{tag}.{operation}")
        return module.sync_detailed(*path, client=self._client, **options)

    def lines(self, tag: str, operation: str, *path: str, **options: Any) -> list[Any]:
        """The lines of an answer of many, which the client itself takes for one."""
        request = _part(f"api.{tag}.{operation}")._get_kwargs(*path, **options)
        answer = self._client.get_httpx_client().request(**request)
        return [json.loads(line) for line in answer.content.splitlines()]


def _part(name: str) -> ModuleType:
    return importlib.import_module(f"{NAME}.{name}")


@pytest.fixture
def call(generated: str, server: str) -> Calls:
    return Calls(server)


@pytest.fixture
def models(generated: str) -> ModuleType:
    return _part("models")


@pytest.fixture
def clip(models: ModuleType) -> Any:
    """The README's request."""
    return models.SwingRequest.from_dict(json.loads(EXAMPLE.read_text(encoding="utf-8")))


@pytest.fixture
def lesson(call: Calls, models: ModuleType) -> Any:
    """A new lesson of a new player."""
    player = call("players", "create_player", body=models.NewPlayer(name="Ines (invented)"))
    day = models.NewLesson(date=date(2025, 5, 17))
    return call("players", "create_lesson", player.parsed.id, body=day).parsed


def test_the_generator_has_nothing_to_complain_of(generated: str) -> None:
    assert "WARNING" not in generated
    assert "Unable" not in generated


def test_every_operation_of_the_contract_has_a_call(generated: str) -> None:
    paths = json.loads(CONTRACT.read_text(encoding="utf-8"))["paths"]
    folder = Path(str(_part("api").__path__[0]))
    made = {file.stem.replace("_", "") for file in folder.glob("*/[a-z]*.py")}
    told = {o["operationId"].lower() for path in paths.values() for o in path.values()}
    assert told == made


def test_a_swing_is_analysed(call: Calls, models: ModuleType, clip: Any) -> None:
    answer = call("swings", "analyze_swing", body=clip).parsed
    assert isinstance(answer, models.SwingAnswer)
    assert answer.swing_found
    heel = next(f for f in answer.findings if f.fault is models.FaultName.TRAIL_HEEL_KICK)
    assert heel.status is models.Status.PRESENT
    assert heel.to_dict() == next(
        f for f in answer.to_dict()["findings"] if f["fault"] == "trail_heel_kick"
    )


def test_a_refusal_says_what_to_mend(call: Calls, models: ModuleType, clip: Any) -> None:
    clip.keypoints = clip.keypoints[:3]
    answer = call("swings", "analyze_swing", body=clip)
    assert (answer.status_code, answer.parsed.type_) == (
        422,
        models.ProblemType("/problems/invalid-request"),
    )
    assert answer.parsed.errors[0].pointer == "/keypoints"


def test_a_player_is_kept_found_changed_and_deleted(call: Calls, models: ModuleType) -> None:
    made = call("players", "create_player", body=models.NewPlayer(name="Odo Fenn (invented)"))
    assert made.status_code == 201
    found = call("players", "list_players", name="odo fenn").parsed
    assert made.parsed in found.items
    changes = models.PlayerChanges(handedness=models.Handedness.LEFT)
    etag = made.headers["etag"]
    changed = call("players", "change_player", made.parsed.id, body=changes, if_match=etag)
    assert (changed.parsed.handedness, changed.parsed.name) == ("left", made.parsed.name)
    stale = call("players", "change_player", made.parsed.id, body=changes, if_match=etag)
    assert (stale.status_code, stale.parsed.status) == (412, 412)
    assert call("players", "delete_player", made.parsed.id).status_code == 204
    assert call("players", "get_player", made.parsed.id).status_code == 404


def test_a_lesson_is_kept_compared_and_summed_up(
    call: Calls, models: ModuleType, clip: Any, lesson: Any
) -> None:
    role = models.Role.BEFORE
    before = call("lessons", "create_swing", lesson.id, body=clip, role=role).parsed.swing
    again = call(
        "lessons", "create_swing", lesson.id, body=clip, role=models.Role.AFTER, idempotency_key="k"
    ).parsed.swing
    same = call(
        "lessons", "create_swing", lesson.id, body=clip, role=models.Role.AFTER, idempotency_key="k"
    ).parsed.swing
    assert (before.role, same.id) == (role, again.id)
    kept = call("swings", "list_swings", lesson_id=lesson.id).parsed.items
    assert [swing.id for swing in kept] == [before.id, again.id]
    asked = models.ComparisonRequest(before=[before.id], after=[again.id])
    verdicts = call("comparisons", "compare_swings", body=asked).parsed.faults
    assert {fault.verdict for fault in verdicts} <= set(models.Verdict)
    recap = call("lessons", "get_recap", lesson.id).parsed
    assert recap.date == lesson.date
    assert "<!doctype html>" in call("lessons", "get_recap_page", lesson.id).parsed.lower()
    assert "<svg" in call("swings", "get_frame", before.id, "3.5").content.decode()
    progress = call("comparisons", "get_progress", lesson.player_id).parsed
    assert {fault.fault for fault in progress.faults} <= set(models.FaultName)


def test_many_swings_go_up_and_everything_comes_down(
    call: Calls, models: ModuleType, clip: Any, lesson: Any
) -> None:
    line = json.dumps(clip.to_dict()).encode()
    file = _part("types").File(payload=BytesIO(line + b"\n{}\n"))
    lines = call.lines("lessons", "create_swings", lesson.id, body=file)
    told = [models.LineAnswer.from_dict(line) for line in lines]
    assert [line.status for line in told] == [201, 422]
    archive = call("players", "export_player", lesson.player_id).content
    assert any("swing" in name for name in zipfile.ZipFile(BytesIO(archive)).namelist())
