"""The film command on films whose pictures are blank: a stand-in tells where the joints are.

What the pose model itself finds is tested on a real film, in test_real_film.py.
"""

from __future__ import annotations

import base64
import gzip
import json
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

pytest.importorskip("av", reason="PyAV is not installed; the extra video brings it")

from service.__main__ import main
from service.analysis.pose.points import Point
from service.analysis.types import SwingRecording, View
from service.film import command
from tests.film.films import FPS, HEIGHT, WIDTH, StandIn, in_a_picture, write_blank
from tests.swings import clip

CAPTURE = "com.android.capture.fps"


@pytest.fixture(scope="module")
def swing() -> SwingRecording:
    """A simulated swing in fractions of a picture of 16 to 9."""
    return in_a_picture(clip(View.FACE_ON, fps=FPS)[1])


@pytest.fixture
def joints_known(swing: SwingRecording, monkeypatch: pytest.MonkeyPatch) -> None:
    @contextmanager
    def stand_in() -> Iterator[StandIn]:
        yield StandIn(swing)

    monkeypatch.setattr(command, "pose_model", stand_in)


@pytest.fixture(scope="module")
def swing_film(swing: SwingRecording, tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("film") / "swing.mp4"
    return write_blank(path, len(swing.times))


@pytest.mark.usefixtures("joints_known")
def test_a_film_gets_the_table_its_keypoints_and_a_page(
    swing_film: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["analyse", str(swing_film), "--out", str(tmp_path)]) == 0
    told = capsys.readouterr().out
    assert "View: face on" in told
    assert "P10" in told
    assert "A film of 192 by 108 was read" in told
    assert "several people" not in told
    request, page = tmp_path / "swing.mp4.request.json.gz", tmp_path / "swing.mp4.html"
    assert f"Keypoints: {request}\nStills: {page}" in told

    assert main(["analyse", str(request)]) == 0
    again = capsys.readouterr().out
    assert again.split("Footage:")[0] == told.split("Footage:")[0]
    kept = json.loads(gzip.decompress(request.read_bytes()))
    assert kept["client_reference"] == "swing.mp4"
    assert kept["timestamps"][:3] == pytest.approx([0.0, 1 / 60, 2 / 60], abs=1e-5)


@pytest.mark.usefixtures("joints_known")
def test_the_page_shows_the_films_own_frames_at_every_position_and_finding(
    swing_film: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    main(["analyse", str(swing_film), "--out", str(tmp_path), "--json"])
    answer = json.loads(capsys.readouterr().out)
    page = (tmp_path / "swing.mp4.html").read_text(encoding="utf-8")
    placed = [p["name"] for p in answer["positions"] if p["frame"] is not None]
    shown = [f["title"] for f in answer["findings"] if f["status"] in ("present", "uncertain")]
    titles = re.findall(r"<h3>(P?[^<]+)</h3>", page)
    assert titles == [*shown, *(t for t in titles if re.match(r"P\d", t))]
    assert [t.split(",")[0] for t in titles[len(shown) :]] == placed
    assert len(placed) == 10
    jpegs = re.findall(r'href="data:image/jpeg;base64,([^"]+)"', page)
    assert len(jpegs) == len(titles)
    assert all(base64.b64decode(jpeg).startswith(b"\xff\xd8") for jpeg in jpegs)
    assert not re.search(r'(href|src)="(?!data:)', page)
    assert "<script" not in page


@pytest.mark.usefixtures("joints_known")
def test_the_page_of_a_film_without_a_swing_shows_four_frames_evenly_over_it(
    tmp_path: Path,
) -> None:
    film = write_blank(tmp_path / "still.mp4", 21)
    assert main(["analyse", str(film), "--out", str(tmp_path)]) == 0
    page = (tmp_path / "still.mp4.html").read_text(encoding="utf-8")
    assert re.findall(r'<p class="muted">Frame (\d+)\.</p>', page) == ["4", "8", "12", "16"]


@pytest.mark.usefixtures("joints_known")
def test_a_film_taken_fast_is_slowed_to_life_and_the_answer_says_so(
    swing: SwingRecording, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_blank(tmp_path / "slow.mp4", len(swing.times), metadata={CAPTURE: "240"})
    main(["analyse", str(path), "--json"])
    answer = json.loads(capsys.readouterr().out)
    remark = next(r for r in answer["quality"]["remarks"] if r["code"] == "film_read")
    assert "plays at 0.25 of life's speed" in remark["text"]
    assert "taken at 240 frames a second" in remark["text"]
    assert answer["quality"]["frame_rate"] == pytest.approx(240, rel=0.01)

    main(["analyse", str(path), "--json", "--playback-speed", "0.5"])
    answer = json.loads(capsys.readouterr().out)
    assert "0.5 of life's speed, as was given" in answer["quality"]["remarks"][0]["text"]
    assert answer["quality"]["frame_rate"] == pytest.approx(120, rel=0.01)

    assert main(["analyse", str(path), "--playback-speed", "0"]) == 2
    assert "Give --playback-speed, from 0.01 to 10" in capsys.readouterr().err


@pytest.mark.usefixtures("joints_known")
def test_a_club_marked_by_hand_is_seen_by_the_analysis(
    swing: SwingRecording, swing_film: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    places = swing.points * (WIDTH, HEIGHT)
    marks = [
        {"frame": f, "grip": places[f, Point.GRIP].tolist(), "clubhead": places[f, -1].tolist()}
        for f in range(0, len(places), 2)
    ]
    size = {"width": WIDTH, "height": HEIGHT}
    (tmp_path / "swing.mp4.marks.json").write_text(json.dumps({"image_size": size, "marks": marks}))
    remarks = []
    for club in ([], ["--club", str(tmp_path)], ["--club", str(tmp_path / "swing.mp4.marks.json")]):
        main(["analyse", str(swing_film), "--out", str(tmp_path), "--json", *club])
        answer = json.loads(capsys.readouterr().out)
        remarks.append({r["code"] for r in answer["quality"]["remarks"]})
    assert "club_not_seen" in remarks[0]
    for told in remarks[1:]:
        assert "club_marked" in told
        assert "club_not_seen" not in told
    kept = json.loads(gzip.decompress((tmp_path / "swing.mp4.request.json.gz").read_bytes()))
    assert set(kept["club_points"]) == {"grip", "clubhead"}


@pytest.mark.usefixtures("joints_known")
def test_a_bad_film_in_a_folder_does_not_stop_the_rest(
    swing: SwingRecording, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "a.mp4").write_text("no film")
    write_blank(tmp_path / "b.MP4", 5)
    write_blank(tmp_path / "c.mp4", 40)
    (tmp_path / "notes.txt").write_text("no film either")
    assert main(["analyse", str(tmp_path), "--json"]) == 2
    told = capsys.readouterr()
    answers = [json.loads(line) for line in told.out.splitlines()]
    assert [answer["client_reference"] for answer in answers] == ["c.mp4"]
    failures = told.err.splitlines()
    assert len(failures) == 2
    assert f"{tmp_path / 'a.mp4'} can't be read as a film: Invalid data" in failures[0]
    assert f"{tmp_path / 'b.MP4'} can't be analysed: /keypoints has 5 frames" in failures[1]


@pytest.mark.usefixtures("joints_known")
def test_a_folder_that_can_not_be_written_to_is_named(
    swing_film: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "out").write_text("a file")
    assert main(["analyse", str(swing_film), "--out", str(tmp_path / "out")]) == 2
    told = capsys.readouterr().err
    assert f"{swing_film} could not be finished: {tmp_path / 'out'}: File exists" in told


@pytest.mark.usefixtures("joints_known")
def test_a_film_longer_than_the_service_takes_is_refused_before_it_is_read_to_its_end(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("SWING_MAX_FRAMES", "20")
    path = write_blank(tmp_path / "long.mp4", 30)
    assert main(["analyse", str(path)]) == 2
    assert "has more than 20 frames. Cut it to a few seconds" in capsys.readouterr().err


def test_marks_that_can_not_be_read_are_named_by_their_own_file(
    swing_film: Path, tmp_path: Path, joints_known: None, capsys: pytest.CaptureFixture[str]
) -> None:
    marks = tmp_path / "marks.json"
    marks.write_text("{")
    assert main(["analyse", str(swing_film), "--club", str(marks)]) == 2
    assert f"{marks} is not JSON" in capsys.readouterr().err
    marks.write_text("{}")
    assert main(["analyse", str(swing_film), "--club", str(marks)]) == 2
    assert f"{marks} can't be used: /image_size is missing" in capsys.readouterr().err
    assert main(["analyse", str(swing_film), "--club", str(tmp_path / "none.json")]) == 2
    assert f"can't read {tmp_path / 'none.json'}" in capsys.readouterr().err


def test_without_the_pose_model_the_error_says_which_pythons_have_it(
    swing_film: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setitem(sys.modules, "mediapipe", None)
    assert main(["analyse", str(swing_film)]) == 2
    told = capfd.readouterr().err
    assert "Python 3.11 or 3.12: pip install '.[video]'" in told
    assert "this is Python 3." in told


def test_without_the_reader_of_films_the_error_says_how_to_get_it(
    swing_film: Path, joints_known: None, monkeypatch: pytest.MonkeyPatch, capsys: object
) -> None:
    monkeypatch.setitem(sys.modules, "av", None)
    assert main(["analyse", str(swing_film)]) == 2
    assert "pip install '.[video]'" in capsys.readouterr().err  # type: ignore[attr-defined]


def test_options_for_films_are_refused_for_requests(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["analyse", "request.json", "--club", "marks.json"]) == 2
    assert "--club is for films" in capsys.readouterr().err


def test_a_folder_without_films_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["analyse", str(tmp_path)]) == 2
    assert "holds no film; requests in it are for python -m service tag" in capsys.readouterr().err


def test_the_marks_page_holds_every_frame_and_asks_for_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = write_blank(tmp_path / "film.mp4", 30)
    assert main(["marks-page", str(path)]) == 0
    page = (tmp_path / "film.mp4.marks.html").read_text(encoding="utf-8")
    told = capsys.readouterr().out
    assert f"{tmp_path / 'film.mp4.marks.html'}: 30 frames" in told
    assert "the file that it saves as --club" in told
    assert page.count('"image": "data:image/jpeg;base64,') == 30
    assert not re.search(r'(href|src)="(?!data:)', page)
    assert "http" not in re.sub(r"http-equiv|http://www.w3.org/2000/svg", "", page)

    assert main(["marks-page", str(path), "--start", "0.1", "--end", "0.2"]) == 0
    page = (tmp_path / "film.mp4.marks.html").read_text(encoding="utf-8")
    assert re.findall(r'"frame": (\d+)', page) == ["6", "7", "8", "9", "10", "11", "12"]
    assert main(["marks-page", str(path), "--start", "3"]) == 2
    assert "has no frame between --start and --end, 3 s and inf s" in capsys.readouterr().err
