"""What is slow: how sure its positions are, and where hands stop that come to rest slowly."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from service.analysis.events.landmark_paths import follow
from service.analysis.events.positions.network import Network
from service.analysis.events.positions.searches.finish import find_finish
from service.analysis.events.positions.searches.levels import arm_parallel, crossing
from service.analysis.events.positions.searches.scene import Found, Scene
from service.analysis.events.positions.strip import N_ABOUT, N_SIGNALS, Strip
from service.analysis.events.positions.strip_clock import N_MOMENTS, N_SAMPLES
from service.analysis.pose.points import N_POINTS, Point
from service.analysis.types import View

FRAME = 1 / 120
HALF_FRAME = 0.5 * FRAME


def scene_of(clock: np.ndarray) -> SimpleNamespace:
    """As much of a scene as a crossing looks at, all of it one window."""
    return SimpleNamespace(
        tracks=SimpleNamespace(times=clock),
        frame=FRAME,
        view=View.FACE_ON,
        window=lambda first, last: slice(0, len(clock)),
    )


@pytest.mark.parametrize("pace", [0.1, 0.3, 2.0])
def test_how_sure_a_slow_crossing_is_hangs_on_its_pace_and_not_on_the_jitter_that_makes_it(pace):
    clock = np.arange(0.0, 1.0, FRAME)
    scene = scene_of(clock)
    known, error = 0.1 * FRAME + 0.004, 0.017
    rng = np.random.default_rng(3)
    off, told = [], []
    for _ in range(300):
        height = pace * (clock - 0.5 + HALF_FRAME) + rng.normal(0.0, 0.002, len(clock))
        found = crossing(scene, height, scene.window(None, None), rising=True)
        off.append(found.time - 0.5 + HALF_FRAME)
        told.append(found.uncertainty)
    assert np.median(off) == pytest.approx(0.0, abs=0.004 / pace)
    assert np.median(told) == pytest.approx(np.hypot(known, error / pace), rel=0.12)
    assert min(told) > 0.6 * np.hypot(known, error / pace)


def test_a_crossing_next_to_frames_that_are_missing_is_told_by_what_is_seen():
    clock = np.arange(0.0, 1.0, FRAME)
    scene = scene_of(clock)
    height = clock - 0.5 + HALF_FRAME
    whole = crossing(scene, height, scene.window(None, None), rising=True)
    height[[58, 61]] = np.nan
    seen = crossing(scene, height, scene.window(None, None), rising=True)
    assert seen.time == pytest.approx(whole.time)
    assert seen.uncertainty == pytest.approx(whole.uncertainty)


@pytest.mark.parametrize(
    ("unsure", "error"), [(0.006, 1.05 * 0.01), (0.018, 1.05 * 0.03), (np.nan, 0.017)]
)  # of a shoulder; of the wrist 4/3 of it
def test_how_sure_a_level_arm_is_hangs_on_how_sure_its_ends_are(unsure: float, error: float):
    clock, pace = np.arange(0.0, 1.0, FRAME), 0.3
    scene = scene_of(clock)
    scene.points = np.zeros((len(clock), N_POINTS, 2))
    scene.points[:, Point.LEAD_WRIST, 1] = pace * (clock - 0.5 + HALF_FRAME)
    scene.noise = np.full(N_POINTS, 0.5)
    scene.noise[[Point.LEAD_SHOULDER, Point.LEAD_WRIST]] = unsure, unsure * 4 / 3
    found = arm_parallel(scene, 3, None, None)
    assert found is not None
    assert found.time == pytest.approx(0.5 - HALF_FRAME)
    assert found.uncertainty == pytest.approx(np.hypot(0.1 * FRAME + 0.004, error / pace))


class SameChances:
    """In the place of a network: the chance of each position lies at one moment of the strip."""

    def run(self, _: object, inputs: dict[str, np.ndarray]) -> list[np.ndarray]:
        chances = np.zeros((len(inputs["signals"]), 10, N_MOMENTS), dtype=np.float32)
        chances[:, np.arange(10), np.linspace(50, N_MOMENTS - 50, 10).astype(int)] = 1.0
        return [chances]


def test_a_swing_played_three_times_as_slow_is_placed_three_times_as_unsurely():
    seconds = np.tile([0.0, 0.01, 0.0], (10, 1))
    same = Network(SameChances(), dict.fromkeys(View, seconds))

    def uncertainty(length: float) -> np.ndarray:
        clock = np.linspace(0.0, length * (N_MOMENTS - 1) / (N_MOMENTS - 100), N_MOMENTS)
        nothing = np.zeros((N_SAMPLES, N_SIGNALS), dtype=np.float32)
        strip = Strip(nothing, np.zeros(N_ABOUT, dtype=np.float32), clock, length)
        (placed,) = same.place_all((strip,), (View.FACE_ON,), np.array([FRAME]))
        return placed.spread

    assert uncertainty(1.2) == pytest.approx(0.01)
    assert uncertainty(2.0) == pytest.approx(0.01, rel=0.01)
    assert uncertainty(6.0) == pytest.approx(0.03, rel=0.01)


IMPACT, LOW, HIGH = 0.3, np.array([0.0, -0.05]), np.array([0.25, 0.45])


def coming_to_rest(
    power: float,
    way_through: float,
    seconds: float = 2.6,
    *,
    hips_go: float = 0.0,
    picture_goes: float = 0.0,
    winds: float = 0.0,
) -> Found | None:
    """The finish of hands whose way to where they rest shrinks with a power of time.

    The hips may go on over the lead foot, and the picture along with the ball, so many body heights
    from impact to the end. The last quarter turn of the way may wind round a circle of a radius.
    """
    clock = np.arange(0.0, seconds, FRAME)
    left = np.clip(1.0 - (clock - IMPACT) / way_through, 0.0, 1.0) ** power
    on = np.clip((clock - IMPACT) / (seconds - IMPACT), 0.0, 1.0)[:, None] * np.array([1.0, 0.0])
    points = np.full((len(clock), N_POINTS, 2), np.nan)
    hands = HIGH + left[:, None] * (LOW - HIGH) if not winds else _wound(left, winds)
    points[:, [Point.LEAD_WRIST, Point.TRAIL_WRIST]] = hands[:, None]
    points[:, [Point.LEAD_HIP, Point.TRAIL_HIP]] = hips_go * on[:, None]
    points[:, [Point.LEAD_ANKLE, Point.TRAIL_ANKLE]] = (0.0, -0.45)
    points -= picture_goes * on[:, None]
    noise = np.full(N_POINTS, 0.0085)
    swing = SimpleNamespace(start=0, top=0, low=0, end=len(clock) - 1)
    scene = Scene(points, follow(points, clock), swing, View.FACE_ON, noise)
    return find_finish(scene, Found(IMPACT, 0.01), Found(IMPACT + 0.1, 0.01))


@pytest.mark.parametrize("recoil", [0.4, 0.5, 0.6])
@pytest.mark.parametrize("way_through", [1.8, 2.6])
def test_hands_that_recoil_quickly_after_a_slow_swing_stop_where_they_turn(
    way_through: float, recoil: float
):
    clock = np.arange(0.0, 5.0, FRAME)
    turn = IMPACT + way_through
    left = np.clip((turn - clock) / way_through, 0.0, 1.0) ** 2
    gone_back = 0.15 * np.sin(0.5 * np.pi * np.clip((clock - turn) / recoil, 0.0, 1.0)) ** 2
    points = np.full((len(clock), N_POINTS, 2), np.nan)
    hands = HIGH + (left + gone_back)[:, None] * (LOW - HIGH)
    points[:, [Point.LEAD_WRIST, Point.TRAIL_WRIST]] = hands[:, None]
    points[:, [Point.LEAD_HIP, Point.TRAIL_HIP]] = 0.0
    points[:, [Point.LEAD_ANKLE, Point.TRAIL_ANKLE]] = (0.0, -0.45)
    swing = SimpleNamespace(start=0, top=0, low=0, end=len(clock) - 1)
    noise = np.full(N_POINTS, 0.0085)
    scene = Scene(points, follow(points, clock), swing, View.FACE_ON, noise)
    found = find_finish(scene, Found(IMPACT, 0.01), Found(IMPACT + 0.5 * way_through, 0.01))
    way = float(np.hypot(*(HIGH - LOW)))
    assert found is not None
    assert found.time == pytest.approx(turn - way_through * np.sqrt(0.01 / way), abs=0.08)


def _wound(left: np.ndarray, radius: float) -> np.ndarray:
    """Places with so much left of a way as long as that from low to high, whose end winds."""
    along = left * float(np.hypot(*(HIGH - LOW)))
    turn = np.minimum(along / radius, np.pi / 2)
    straight = along - radius * turn
    aside, back = radius * (1.0 - np.cos(turn)), radius * np.sin(turn)
    return HIGH - np.column_stack([back, aside + straight])


@pytest.mark.parametrize("power", [2.0, 3.0])
@pytest.mark.parametrize("radius", [0.035, 0.05])
@pytest.mark.parametrize("way_through", [0.6, 0.9])
def test_hands_that_wind_round_the_body_stop_where_they_rest(
    power: float, radius: float, way_through: float
):
    way = float(np.hypot(*(HIGH - LOW)))
    stopped = IMPACT + way_through * (1.0 - (0.01 / way) ** (1.0 / power))
    found = coming_to_rest(power, way_through, winds=radius)
    assert found is not None
    assert found.time == pytest.approx(stopped, abs=0.025)


@pytest.mark.parametrize("power", [2.0, 3.0, 5.0])
@pytest.mark.parametrize("way_through", [0.6, 0.9, 1.2])
def test_hands_that_come_to_rest_slowly_stop_where_they_rest(power: float, way_through: float):
    way = float(np.hypot(*(HIGH - LOW)))
    stopped = IMPACT + way_through * (1.0 - (0.01 / way) ** (1.0 / power))
    found = coming_to_rest(power, way_through)
    assert found is not None
    assert found.time == pytest.approx(stopped, abs=0.03)


def test_hips_that_go_on_do_not_move_the_finish_of_hands_that_have_stopped():
    still, going_on = coming_to_rest(2.0, 0.6), coming_to_rest(2.0, 0.6, hips_go=0.2)
    assert still is not None
    assert going_on is not None
    assert going_on.time == pytest.approx(still.time, abs=1e-6)


@pytest.mark.parametrize("far", [0.1, 0.6])
def test_a_picture_that_goes_along_with_the_ball_does_not_move_the_finish(far: float):
    still, panned = coming_to_rest(2.0, 0.6), coming_to_rest(2.0, 0.6, picture_goes=far)
    assert still is not None
    assert panned is not None
    assert panned.time == pytest.approx(still.time, abs=1e-3)


@pytest.mark.parametrize("way_through", [0.6, 0.9, 1.2])
def test_a_finish_is_not_shown_by_a_clip_that_stops_while_hands_still_come(way_through: float):
    stopping, going_on = (
        coming_to_rest(2.0, way_through, IMPACT + share * way_through) for share in (0.75, 2.0)
    )
    assert stopping is None or not stopping.shown
    assert going_on is not None
    assert going_on.shown


def test_a_slow_finish_is_as_unsure_a_share_of_its_way_as_a_fast_one():
    usual, slow = coming_to_rest(2.0, 0.6), coming_to_rest(2.0, 2.4, 5.0)
    assert usual is not None
    assert slow is not None
    assert usual.uncertainty == pytest.approx(0.07 * (usual.time - IMPACT), rel=0.2)
    assert slow.uncertainty == pytest.approx(0.07 * (slow.time - IMPACT), rel=0.2)
