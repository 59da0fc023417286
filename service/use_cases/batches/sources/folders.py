"""Files below the archive of an academy; no path leads out of it.

Every part of a path is opened in the folder before it and links are not followed (``O_NOFOLLOW``),
so that nobody can put a link in the way between a check and the opening.
"""

from __future__ import annotations

import errno
import os
import stat
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from service.intake.many.errors import UnreadableFile
from service.intake.many.files import Bytes, end_of, kind_of, unpacked
from service.intake.many.frame_files import Clips, clips_of, later_frames, text_of_swing
from service.records.default_academy import DEFAULT_ACADEMY

_FOLDER: Final[int] = os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW | os.O_CLOEXEC
_FILE: Final[int] = os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC


_NO_FILE: Final[str] = "that are links, or no ordinary files"
_LISTED: Final[dict[tuple[int, int, int], Clips]] = {}
"""The folder whose frames were asked for last, as it was when it changed last: one clip of it comes
after another, and a folder may hold thousands."""


class OutsideArchive(UnreadableFile):
    """A path is none below the archive: it is absolute, climbs, or goes through a link."""

    fix = "Put the file itself into the archive."


@dataclass(frozen=True)
class Archive:
    """The part of the archive that belongs to one academy.

    Attributes
    ----------
    root
        A folder; the academy's is the one below it with the academy's id, or ``default``.
    """

    root: Path
    academy_id: str

    @property
    def name(self) -> str:
        """Of the academy's folder."""
        return "default" if self.academy_id == DEFAULT_ACADEMY else self.academy_id

    def check(self, folder: str) -> None:
        """Make sure that there is such a folder.

        Raises
        ------
        OutsideArchive, OSError
        """
        os.close(self._open_folder(_parts(folder)))

    def files(self, folder: str, passed_over: Counter[str]) -> Iterator[str]:
        """Paths of the files of swings below a folder, relative to the archive, in a fixed order.

        A folder in it that may not be listed is there with a slash at its end. Names that begin
        with a dot or ``_`` are left out. A clip in one file a frame is there as its first frame.

        Parameters
        ----------
        passed_over
            Counts links and files of other kinds, by how their names end.

        Raises
        ------
        OutsideArchive, OSError
        """
        parts = _parts(folder)
        opened = self._open_folder(parts)
        try:
            yield from _walk(opened, "/".join(parts), passed_over)
        finally:
            os.close(opened)

    @contextmanager
    def open(self, path: str) -> Iterator[Bytes]:
        """A file, unpacked as it is read where it is gzip.

        Raises
        ------
        OutsideArchive, OSError, gzip.BadGzipFile
        """
        *parts, name = _parts(path)
        opened = _opened_inside(self._open_folder(parts), name, _FILE)
        with os.fdopen(opened, "rb") as file:
            if not stat.S_ISREG(os.fstat(opened).st_mode):
                raise OutsideArchive("is no ordinary file")
            yield unpacked(file, name)

    def text(self, path: str, longest: int) -> bytes:
        """The text of a file of one swing, or of all the frames of the clip that it begins.

        Raises
        ------
        TooLarge, MalformedJson, Unreadable
        """
        folder, _, name = path.rpartition("/")
        start = f"{folder}/" if folder else ""
        return text_of_swing(
            name,
            lambda: self._clips(folder),
            lambda frame: self.open(f"{start}{frame}"),
            longest,
        )

    def _clips(self, folder: str) -> Clips:
        """The clips in one file a frame of a folder; of ordinary files alone."""
        opened = self._open_folder(_parts(folder))
        try:
            told = os.fstat(opened)
            key = told.st_dev, told.st_ino, told.st_mtime_ns
            clips = _LISTED.get(key)
            if clips is None:
                with os.scandir(opened) as found:
                    clips = clips_of(e.name for e in found if e.is_file(follow_symlinks=False))
                _LISTED.clear()
                _LISTED[key] = clips
            return clips
        finally:
            os.close(opened)

    def _open_folder(self, parts: list[str]) -> int:
        opened = os.open(self.root, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
        for part in (self.name, *parts):
            opened = _opened_inside(opened, part, _FOLDER)
        return opened


def is_shut(path: str) -> bool:
    """Whether a path of :meth:`Archive.files` is a folder that may not be listed."""
    return path.endswith("/")


def _walk(folder: int, path: str, passed_over: Counter[str]) -> Iterator[str]:
    with os.scandir(folder) as found:
        entries = sorted(
            (entry.name, entry.is_dir(follow_symlinks=False), entry.is_file(follow_symlinks=False))
            for entry in found
            if not entry.name.startswith((".", "_"))
        )
    clips = clips_of(name for name, _, is_file in entries if is_file)
    later = later_frames(clips)
    for name, is_folder, is_file in entries:
        if name in later:
            continue
        below = f"{path}/{name}" if path else name
        if is_file and kind_of(name) is not None:
            yield below
        elif is_folder:
            try:
                opened = os.open(name, _FOLDER, dir_fd=folder)
            except PermissionError:
                yield f"{below}/"
                continue
            try:
                yield from _walk(opened, below, passed_over)
            finally:
                os.close(opened)
        else:
            passed_over[end_of(name) if is_file else _NO_FILE] += 1


def _parts(path: str) -> list[str]:
    parts = [part for part in path.split("/") if part not in ("", ".")]
    if path.startswith("/") or ".." in parts or "\0" in path:
        raise OutsideArchive("leads out of the archive")
    return parts


def _opened_inside(folder: int, name: str, flags: int) -> int:
    """What lies in an open folder, which is closed."""
    try:
        return os.open(name, flags, dir_fd=folder)
    except OSError as error:
        raise _told(error) from None
    finally:
        os.close(folder)


def _told(error: OSError) -> Exception:
    """A link says either of two things of itself, by what was to be opened."""
    is_link = error.errno in (errno.ELOOP, errno.ENOTDIR)
    return OutsideArchive("goes through a link or a file") if is_link else error
