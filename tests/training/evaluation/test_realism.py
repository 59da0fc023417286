from __future__ import annotations

import csv

import numpy as np
import pytest

from service.analysis.pose.points import N_POINTS, Point
from service.analysis.types import View
from training.evaluation import two_samples
from training.evaluation.real_shots import SHAPES, read_shots, reference_folder
from training.evaluation.realism import as_markdown, compare, draw, main, simulated_shapes
from training.evaluation.two_samples import FEATURES, held_out_auroc, tell_apart

needs_shots = pytest.mark.skipif(
    not (reference_folder() / "shot_features.csv").is_file(),
    reason="needs the reference data: set SWING_REFERENCE_DIR to its folder",
)
needs_clips = pytest.mark.skipif(
    not (reference_folder() / "golf_clips.ndjson").is_file(),
    reason="needs the reference data: set SWING_REFERENCE_DIR to its folder",
)


def shape(name):
    return next(s for s in SHAPES if s.name == name)


def posed(**places):
    points = np.full((1, N_POINTS, 2), np.nan)
    for name, place in places.items():
        points[0, Point[name.upper()]] = place
    return points


@pytest.fixture(scope="module")
def simulated():
    return simulated_shapes(swings=40, seed=4)


def test_every_shape_has_a_name_and_a_column_of_its_own():
    assert len({s.name for s in SHAPES}) == len(SHAPES)
    assert len({(s.view, s.column) for s in SHAPES}) == len(SHAPES)


def test_a_right_angle_at_the_trail_elbow_measures_ninety():
    arm = posed(trail_shoulder=(0.0, 1.0), trail_elbow=(0.0, 0.0), trail_wrist=(1.0, 0.0))
    assert shape("face on, P7, trail elbow").measure(arm) == pytest.approx(90.0)


def test_a_line_of_the_shoulders_tilts_as_much_whichever_side_is_higher():
    measure = shape("face on, P7, shoulder tilt").measure
    up = posed(lead_shoulder=(1.0, 1.0), trail_shoulder=(0.0, 0.0))
    down = posed(lead_shoulder=(1.0, 0.0), trail_shoulder=(0.0, 1.0))
    assert measure(up) == pytest.approx(45.0)
    assert measure(down) == pytest.approx(45.0)


def test_an_upright_trunk_rises_ninety_degrees():
    trunk = posed(
        lead_hip=(0.1, 0.0), trail_hip=(-0.1, 0.0),
        lead_shoulder=(0.2, 1.0), trail_shoulder=(-0.2, 1.0),
    )  # fmt: skip
    assert shape("down the line, P1, trunk").measure(trunk) == pytest.approx(90.0)


def test_failures_of_a_pose_estimator_are_dropped():
    values = np.array([0.0, 180.0, np.inf, np.nan, -np.inf, 120.0])
    assert shape("face on, P7, lead elbow").usable(values).tolist() == [120.0]


def test_text_that_is_no_number_is_dropped(tmp_path):
    columns = ["View", *dict.fromkeys(s.column for s in SHAPES)]
    with (tmp_path / "shot_features.csv").open("w", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(columns)
        writer.writerow(["FACEON", *["140.5"] * (len(columns) - 1)])
        writer.writerow(["FACEON", *["#NAME?"] * (len(columns) - 1)])
        writer.writerow(["DTL", *["inf"] * (len(columns) - 1)])
    read = read_shots(tmp_path)
    assert read["face on, P7, lead elbow"].tolist() == [140.5]
    assert read["down the line, P4, trail elbow"].size == 0


def test_a_sample_covers_itself_and_one_far_off_covers_nothing(simulated):
    itself = compare(simulated, simulated)
    assert all(c.covered == 1.0 and c.kolmogorov == 0.0 for c in itself)
    shifted = {name: values + 1000.0 for name, values in simulated.items()}
    far = compare(simulated, shifted)
    assert all(c.covered == 0.0 and c.kolmogorov == 1.0 for c in far)


def test_the_same_seed_gives_the_same_shapes():
    first, second = (simulated_shapes(swings=3, seed=1) for _ in range(2))
    for name, values in first.items():
        np.testing.assert_array_equal(values, second[name])


def test_the_plot_is_a_picture(simulated, tmp_path):
    draw(compare(simulated, simulated), tmp_path / "realism.png")
    assert (tmp_path / "realism.png").read_bytes().startswith(b"\x89PNG")


def test_without_the_reference_data_the_command_says_where_it_looked(tmp_path, monkeypatch, capsys):
    monkeypatch.setenv("SWING_REFERENCE_DIR", str(tmp_path / "nowhere"))
    assert main([]) == 2
    assert "SWING_REFERENCE_DIR" in capsys.readouterr().err


@needs_shots
@pytest.mark.reference
def test_simulated_players_cover_most_of_the_spread_of_real_ones(simulated):
    compared = compare(read_shots(), simulated)
    assert np.mean([c.covered for c in compared]) > 0.75
    assert np.mean([c.kolmogorov for c in compared]) < 0.28


@needs_shots
@pytest.mark.reference
@pytest.mark.parametrize(
    "name",
    [
        "face on, P1, shoulder tilt",
        "face on, P7, lead elbow",
        "face on, P7, trail elbow",
        "face on, P7, shoulder tilt",
        "face on, P8, trail knee",
        "down the line, P2, trunk",
        "down the line, P4, trail elbow",
        "down the line, P4, trail knee",
        "down the line, P7, trunk",
    ],
)
def test_a_well_understood_shape_is_covered(name, simulated):
    compared = next(c for c in compare(read_shots(), simulated) if c.shape.name == name)
    assert compared.covered > 0.7


@needs_clips
@pytest.mark.reference
def test_the_two_sample_test_names_what_tells_the_clips_apart(simulated):
    apart = tell_apart(reference_folder(), swings=30)
    assert apart.clips >= 25
    assert apart.auroc.keys() == apart.limbs.keys()
    assert {t.feature for t in apart.tells} <= set(FEATURES)
    text = as_markdown(compare(simulated, simulated), apart)
    assert all(t.feature in text for t in apart.tells)


def test_both_views_are_compared():
    assert {s.view for s in SHAPES} == set(View)


def test_samples_of_one_kind_cannot_be_told_apart_and_shifted_ones_can():
    rng = np.random.default_rng(0)
    x, y = rng.normal(size=(240, 6)), np.repeat([1, 0], [60, 180])
    same, shifted = held_out_auroc(x, y), held_out_auroc(x + 5.0 * y[:, None], y)
    assert all(0.35 < auroc < 0.65 for auroc in same.values())
    assert all(auroc > 0.99 for auroc in shifted.values())


def test_a_feature_that_tells_them_apart_does_so_whichever_way_it_goes():
    y = np.array([1, 1, 0, 0, 1])
    for values in ([3.0, 4.0, 1.0, 2.0, np.nan], [1.0, 2.0, 3.0, 4.0, np.nan]):
        assert two_samples._alone(np.array(values), y) == 1.0
