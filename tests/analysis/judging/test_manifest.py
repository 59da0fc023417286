from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from service.analysis.judging.manifest import ManifestError, hash_of, read_manifest

MODELS = Path("models")


def _shipped() -> dict[str, Any]:
    return dict(json.loads((MODELS / "manifest.json").read_text()))


def test_the_shipped_manifest_fits_and_its_hashes_are_those_of_the_files():
    manifest = read_manifest((MODELS / "manifest.json").read_bytes())
    assert manifest["estimators"]
    for entry in manifest["estimators"]:
        assert entry["sha256"] == hash_of((MODELS / entry["file"]).read_bytes())


def _without_hash(manifest: dict[str, Any]) -> None:
    del manifest["estimators"][0]["sha256"]


def _of_another_folder(manifest: dict[str, Any]) -> None:
    manifest["estimators"][0]["file"] = "../elsewhere.onnx"


def _of_no_view(manifest: dict[str, Any]) -> None:
    manifest["calibrations"][1]["view"] = "from_above"


def _too_sure(manifest: dict[str, Any]) -> None:
    manifest["calibrations"][0]["surest_present"] = 1.0


def _of_other_length(manifest: dict[str, Any]) -> None:
    manifest["ranges"][0]["low"].pop()


def _no_number(manifest: dict[str, Any]) -> None:
    manifest["estimators"][2]["high"][0] = float("nan")


def _too_wide(manifest: dict[str, Any]) -> None:
    manifest["estimators"][0]["width"] = 1.5


def _of_no_range(manifest: dict[str, Any]) -> None:
    manifest["estimators"][1]["reach"] = [4.0, 4.0]


def _more(manifest: dict[str, Any]) -> None:
    manifest["estimatrs"] = []


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (_without_hash, "/estimators/0/sha256 is missing"),
        (_of_another_folder, "/estimators/0/file must be a name"),
        (_of_no_view, "/calibrations/1/view must be one of"),
        (_too_sure, "/calibrations/0/surest_present must be a chance"),
        (_of_other_length, "/ranges/0/columns, low and high must be as many"),
        (_no_number, "/estimators/2/high must be a list of numbers"),
        (_too_wide, "/estimators/0/width must be a number above 0 and up to 1"),
        (_of_no_range, "/estimators/1/reach must be two numbers, the smaller first"),
        (_more, "/estimatrs is unknown"),
    ],
)
def test_what_does_not_fit_is_told_with_its_place(
    change: Callable[[dict[str, Any]], None], told: str
):
    manifest = _shipped()
    change(manifest)
    with pytest.raises(ManifestError, match=told):
        read_manifest(json.dumps(manifest).encode())


def test_a_manifest_written_before_estimators_told_their_reach_is_read():
    manifest = _shipped()
    for entry in manifest["estimators"]:
        entry.pop("reach", None)
    assert read_manifest(json.dumps(manifest).encode())["estimators"]


@pytest.mark.parametrize("text", [b"", b"[]", b"\xff", b"[" * 100_000])
def test_what_is_no_object_at_all_is_told(text: bytes):
    with pytest.raises(ManifestError, match="is not"):
        read_manifest(text)
