from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

pytest.importorskip("av", reason="PyAV is not installed; the extra video brings it")

from service.film import FilmError
from service.film.container import frames_of, look_into, to_jpeg
from tests.film.films import picture, turn_clockwise, write_film

EVEN = [k / 30 for k in range(6)]
CAPTURE = "com.android.capture.fps"


def colours(image: np.ndarray) -> list[str]:
    """The strongest colour of each quarter: upper left, upper right, lower left, lower right."""
    high, wide = image.shape[0] // 4, image.shape[1] // 4
    quarters = [image[y, x] for y in (high, 3 * high) for x in (wide, 3 * wide)]
    return ["none" if max(q) < 60 else ("red", "green", "blue")[np.argmax(q)] for q in quarters]


def test_frames_come_with_the_times_of_a_film_of_variable_rate(tmp_path: Path) -> None:
    times = [0.0, 0.02, 0.07, 0.08, 0.2, 0.35]
    film = look_into(write_film(tmp_path / "film.mp4", times))
    frames = list(frames_of(film))
    assert [frame.time for frame in frames] == pytest.approx(times, abs=1e-4)
    assert [frame.index for frame in frames] == list(range(6))


def test_times_count_from_the_first_frame(tmp_path: Path) -> None:
    film = look_into(write_film(tmp_path / "film.mkv", [2.0, 2.04, 2.1]))
    assert [f.time for f in frames_of(film)] == pytest.approx([0.0, 0.04, 0.1], abs=2e-3)


def test_a_picture_that_needs_no_turn_is_not_turned(tmp_path: Path) -> None:
    film = look_into(write_film(tmp_path / "film.mp4", EVEN))
    assert (film.width, film.height, film.turned) == (64, 48, 0)
    assert colours(next(frames_of(film)).image) == ["red", "green", "blue", "none"]


def test_a_film_of_a_phone_held_upright_is_turned_clockwise(tmp_path: Path) -> None:
    turn_clockwise(write_film(tmp_path / "film.mp4", EVEN))
    film = look_into(tmp_path / "film.mp4")
    assert (film.width, film.height, film.turned) == (48, 64, 270)
    assert colours(next(frames_of(film)).image) == ["blue", "red", "none", "green"]


@pytest.mark.parametrize("degrees", [90, 180, 270])
def test_every_quarter_turn_of_the_flag_is_followed(tmp_path: Path, degrees: int) -> None:
    film = look_into(write_film(tmp_path / "film.mp4", EVEN, rotation=degrees))
    turned = np.rot90(picture(), film.turned // 90)
    assert film.turned == degrees
    assert colours(next(frames_of(film)).image) == colours(turned)


def test_pixels_that_are_not_square_are_made_so(tmp_path: Path) -> None:
    film = look_into(write_film(tmp_path / "film.mp4", EVEN, pixel_ratio=Fraction(4, 3)))
    assert (film.width, film.height) == (85, 48)
    assert next(frames_of(film)).image.shape == (48, 85, 3)


@pytest.mark.parametrize(
    ("metadata", "speed"),
    [
        ({}, 1.0),
        ({CAPTURE: "240.000000"}, 0.125),
        ({CAPTURE: "30.0"}, 1.0),
        ({CAPTURE: "29.3"}, 1.0),  # short of light, but in real time
        ({CAPTURE: "fast"}, 1.0),
        ({CAPTURE: "0"}, 1.0),
        ({CAPTURE: "-240"}, 1.0),
        ({CAPTURE: "inf"}, 1.0),
        ({CAPTURE: "nan"}, 1.0),
        ({"com.apple.quicktime.full-frame-rate-playback-intent": "0"}, 1.0),
    ],
)
def test_the_rate_at_which_a_film_was_taken_tells_how_slow_it_plays(
    tmp_path: Path, metadata: dict[str, str], speed: float
) -> None:
    film = look_into(write_film(tmp_path / "film.mp4", EVEN, metadata=metadata))
    assert film.playback_speed == pytest.approx(speed)


def test_large_pictures_are_reduced_to_the_longer_side_asked_for(tmp_path: Path) -> None:
    film = look_into(write_film(tmp_path / "film.mp4", EVEN))
    assert next(frames_of(film, longest=32)).image.shape == (24, 32, 3)
    assert next(frames_of(film, longest=500)).image.shape == (48, 64, 3)


def test_only_the_wanted_frames_are_given_under_their_own_numbers(tmp_path: Path) -> None:
    film = look_into(write_film(tmp_path / "film.mp4", EVEN))
    assert [f.index for f in frames_of(film, wanted={1, 4})] == [1, 4]


def test_a_frame_written_twice_counts_once(tmp_path: Path) -> None:
    film = look_into(write_film(tmp_path / "film.avi", [0.0, 1 / 30, 2 / 30]))
    again = write_film(tmp_path / "twice.mp4", [0.0, 0.1, 0.10002, 0.2])
    assert len(list(frames_of(film))) == 3
    assert [f.time for f in frames_of(look_into(again))] == pytest.approx([0.0, 0.1, 0.2])


def test_a_file_that_is_no_film_is_refused_with_the_reason(tmp_path: Path) -> None:
    (tmp_path / "film.mp4").write_text("no film")
    with pytest.raises(FilmError, match="can't be read as a film: Invalid data"):
        look_into(tmp_path / "film.mp4")
    with pytest.raises(FilmError, match="No such file"):
        look_into(tmp_path / "absent.mp4")


def test_a_film_that_was_cut_off_in_copying_is_refused(tmp_path: Path) -> None:
    path = write_film(tmp_path / "film.mp4", EVEN)
    path.write_bytes(path.read_bytes()[:-400])
    with pytest.raises(FilmError, match="can't be read as a film"):
        list(frames_of(look_into(path)))


def test_a_jpeg_shows_the_picture(tmp_path: Path) -> None:
    import av

    (tmp_path / "picture.jpg").write_bytes(to_jpeg(picture()))
    with av.open(str(tmp_path / "picture.jpg")) as container:
        image = next(container.decode(video=0)).to_ndarray(format="rgb24")
    assert image.shape == (48, 64, 3)
    assert colours(image) == ["red", "green", "blue", "none"]
