"""Clips that a pose library wrote as one file a frame: each is read as one swing.

OpenPose names them ``NAME_000000000012_keypoints.json``, the frame's number in twelve digits
(OpenPose documentation, "OpenPose Doc - Output"). Such a clip has the path of its first frame.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Final

from service.intake.errors import MalformedJson, TooLarge
from service.intake.many.errors import unreadable
from service.intake.many.files import Opened, text_of

_FRAME: Final = re.compile(r"(.*_)?(\d{12})_keypoints\.json", re.DOTALL)
_NOBODY: Final[bytes] = b'{"people":[]}'
"""Stands for a frame of which there is no file."""
Clips = dict[str, list[str]]
"""The frames of each clip of a folder, by the first of them."""


def is_frame(name: str) -> bool:
    """Whether a file holds one frame of a clip, by its name.

    >>> is_frame("swing_000000000012_keypoints.json"), is_frame("swing_12_keypoints.json")
    (True, False)
    """
    return _FRAME.fullmatch(name) is not None


def clips_of(names: Iterable[str]) -> Clips:
    """The frames of each clip in a folder, in their order, by the first; other files are left out.

    >>> clips_of(["a_000000000002_keypoints.json", "a_000000000001_keypoints.json", "b.json"])
    {'a_000000000001_keypoints.json': ['a_000000000001_keypoints.json', \
'a_000000000002_keypoints.json']}
    """
    clips: Clips = {}
    for name in sorted(names):  # digits of one length, so that frames are in the order of names
        if found := _FRAME.fullmatch(name):
            clips.setdefault(found[1] or "", []).append(name)
    return {frames[0]: frames for frames in clips.values()}


def later_frames(clips: Mapping[str, Sequence[str]]) -> set[str]:
    """The files of clips that are read with the first of each."""
    return {name for frames in clips.values() for name in frames[1:]}


def text_of_swing(
    name: str, clips: Callable[[], Clips], opened: Callable[[str], Opened], longest: int
) -> bytes:
    """The text of a file of one swing, or of all the frames of the clip of which it is the first.

    Parameters
    ----------
    clips
        Tells those of its folder; asked where it holds a frame.
    opened
        Opens a file of the folder by its name.
    longest
        Most bytes of the text.

    Raises
    ------
    TooLarge, MalformedJson, Unreadable
    """
    if not is_frame(name):
        return text_of(opened(name), longest)
    try:
        frames = clips().get(name, [name])
    except OSError as error:
        raise unreadable(error) from error
    return text_of_clip(frames, opened, longest)


def text_of_clip(frames: Sequence[str], opened: Callable[[str], Opened], longest: int) -> bytes:
    """A clip as the JSON text of the list of its frames; a frame that has no file holds nobody.

    Parameters
    ----------
    frames
        Names of their files, as :func:`clips_of` tells them.
    opened
        Opens one of them.
    longest
        Most bytes of the text.

    Raises
    ------
    TooLarge, MalformedJson, Unreadable
    """
    begin, end = _number(frames[0]), _number(frames[-1])
    if (end + 1 - begin) * len(_NOBODY) > longest:
        raise TooLarge(
            f"The files of the clip's frames are numbered from {begin} to {end}, which is more "
            "than a clip may hold. Put each clip into a folder of its own."
        )
    texts = [_NOBODY] * (end + 1 - begin)
    left = longest
    for name in frames:
        text = text_of(opened(name), left).strip()
        if not (text.startswith(b"{") and text.endswith(b"}")):
            raise MalformedJson(f"{name} holds no object")
        texts[_number(name) - begin] = text
        left -= len(text)
    return b"[" + b",".join(texts) + b"]"


def _number(name: str) -> int:
    found = _FRAME.fullmatch(name)
    assert found is not None  # the name of a frame
    return int(found[2])
