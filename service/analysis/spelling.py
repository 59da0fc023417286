"""What a name that nobody knows may have been meant for."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from difflib import get_close_matches
from typing import Final

_CLOSE: Final[float] = 0.7
"""How alike two names must be, from 0 to 1, for one to be a slip for the other."""
_LONGEST: Final[int] = 100
"""Letters of a name beyond which it is no slip for anything."""

_SHORTEST: Final[int] = 4
"""Letters from which one that is off is a slip: most names of three are another's but for one."""

_ALSO_CALLED: Final[Mapping[str, str]] = {
    "fps": "framerate framespersecond hz samplerate samplingrate videofps",
    "timestamps": "time times frametimes",
    "playback_speed": "slowmo slowmotion playbackrate",
    "keypoints": "frames poses pose landmarks joints points people persons",
    "layout": "skeleton skeletontype",
    "image_size": "resolution dimensions width height imagewidth imageheight videosize",
    "club_points": "clubhead grip gripend shaft clubkeypoints",
    "view": "camera cameraview cameraangle cameraposition viewangle perspective",
    "handedness": "hand lefthanded righthanded islefthanded",
    "client_reference": "id clipid swingid reference externalid clientid",
    "face_on": "front frontal frontview fo",
    "down_the_line": "dtl",
    "left": "l lh lefty lefthand lefthanded lefthander",
    "right": "r rh righty righthand righthanded righthander",
    "rehearsal": "practice practiceswing drill slow",
    "full_speed": "full normal real fast",
    "landmarks_33": "mediapipe mediapipepose blazepose",
    "body_25": "openpose",
    "coco_17": "yolo yolopose movenet",
    "landmarks_33_objects": "mediapipe mediapipepose blazepose",
    "coco_annotations": "coco coco17 alphapose",
    "yolo_pose": "yolo yolov8 yolov8pose yolo11 yolo11pose ultralytics",
    "named_joints_y_up": "apple applevision vision",
    "y_x_score_17": "movenet",
    "driver": "1w 1wood wood1 holz1",
    "fairway_wood": "2w 3w 4w 5w 7w 9w 2wood 3wood 4wood 5wood 7wood 9wood wood2 wood3 wood4 wood5 "
    "wood7 wood9 holz2 holz3 holz4 holz5 holz7 holz9",
    "hybrid": "2h 3h 4h 5h 6h 7h 2hybrid 3hybrid 4hybrid 5hybrid 6hybrid 7hybrid hybrid2 hybrid3 "
    "hybrid4 hybrid5 hybrid6 hybrid7",
    "long_iron": "1i 2i 3i 4i 1iron 2iron 3iron 4iron iron1 iron2 iron3 iron4 eisen1 eisen2 eisen3 "
    "eisen4",
    "mid_iron": "5i 6i 7i 5iron 6iron 7iron iron5 iron6 iron7 eisen5 eisen6 eisen7",
    "short_iron": "8i 9i 8iron 9iron iron8 iron9 eisen8 eisen9",
    "wedge": "pw aw gw sw lw pitchingwedge approachwedge gapwedge sandwedge lobwedge",
    "wood": "holz",
    "iron": "eisen",
}
"""What others call the fields of a request and their values, as :func:`plain_name` spells it."""

_NUMBER_FIRST: Final = re.compile(r"^(\d)(?:er)?(eisen|holz)$")


def plain_name(name: str) -> str:
    """A name without what is easily mistyped: capitals, hyphens, spaces and underscores.

    >>> plain_name("L-Shoulder"), plain_name("face on")
    ('lshoulder', 'faceon')
    """
    return re.sub(r"[\s_\-]", "", name).lower()


def also_called(name: str, known: Iterable[str]) -> str | None:
    """The known name that others call just so; ``None`` where there is none.

    >>> also_called("Pitching Wedge", ["driver", "wedge"])
    'wedge'
    >>> also_called("7er Eisen", ["mid_iron"]), also_called("5-Holz", ["fairway_wood"])
    ('mid_iron', 'fairway_wood')
    """
    plain = _NUMBER_FIRST.sub(r"\2\1", plain_name(name))
    return next((each for each in known if plain in _ALSO_CALLED.get(each, "").split()), None)


def nearly(name: str, known: Iterable[str]) -> str | None:
    """The known name that a name is but for one letter, capitals and gaps; ``None`` where there is
    none, or it is one itself. Of names shorter than :data:`_SHORTEST` all letters count.

    >>> [nearly(name, ["view", "fps"]) for name in ("vieww", "veiw", "View", "view", "viewing")]
    ['view', 'view', 'view', None, None]
    >>> nearly("gps", ["fps"]), nearly("FPS", ["fps"])
    (None, 'fps')
    """
    known = [*known]
    plain = plain_name(name)
    if name in known or len(name) > _LONGEST:
        return None
    return next((each for each in known if _one_letter_off(plain, plain_name(each))), None)


def _one_letter_off(name: str, other: str) -> bool:
    """Whether a letter too many, too few, wrong or before its turn is all that differs."""
    short, long = sorted((name, other), key=len)
    if len(short) < _SHORTEST:
        return short == long
    differ = (k for k, letter in enumerate(short) if letter != long[k])
    k = next(differ, len(short))
    exchanged = short[k + 1 : k + 2] + short[k : k + 1] + short[k + 2 :]
    return long[k + 1 :] in (short[k:], short[k + 1 :]) or long[k:] == exchanged


def did_you_mean(name: str, known: Iterable[str]) -> str:
    """The end of a sentence that offers the known name that others call so, or the nearest.

    >>> did_you_mean("faceon", ["face_on", "down_the_line"])
    '; did you mean face_on?'
    >>> did_you_mean("sideways", ["face_on", "down_the_line"])
    ''
    >>> did_you_mean("framerate", ["fps", "timestamps"])
    '; did you mean fps?'
    """
    if len(name) > _LONGEST:
        return ""
    spellings = {plain_name(each): each for each in known}
    called = also_called(name, spellings.values())
    if called is None:
        close = get_close_matches(plain_name(name), spellings, n=1, cutoff=_CLOSE)
        called = spellings[close[0]] if close else None
    return f"; did you mean {called}?" if called else ""
