"""Bodies of the requests about what is kept, as the documentation shows them.

Players and coaches are invented. Each body is taken as it stands, but for those whose summary asks
to put something of one's own in.
"""

from __future__ import annotations

import json
from typing import Final

from service.api.docs.examples import ANALYZE_PATH, PIXELS, REQUESTS, WITH_CLUB

_ID: Final[str] = "00000000-0000-4000-8000-00000000000{}"
_COACH: Final[str] = "Coach Ada"
_CONSENT: Final[dict[str, str]] = {"given_on": "2025-05-17", "by": "player"}

BODIES: Final[dict[tuple[str, str], dict[str, tuple[str, dict[str, object]]]]] = {
    (ANALYZE_PATH, "post"): REQUESTS,
    ("/v1/lessons/{lesson_id}/swings", "post"): REQUESTS,
    ("/v1/players", "post"): {
        "player": (
            "A player who consented",
            {
                "name": "Ines Invented",
                "handedness": "right",
                "height_cm": 172,
                "birth_year": 1990,
                "consent": _CONSENT,
            },
        ),
        "shortest": ("A name alone, where no consent is asked for", {"name": "Ines Invented"}),
    },
    ("/v1/players/{player_id}", "patch"): {
        "changed": ("One field set, one cleared", {"handedness": "left", "note": None}),
    },
    ("/v1/players/{player_id}/lessons", "post"): {
        "lesson": (
            "A lesson",
            {
                "date": "2025-05-17",
                "title": "Arms at the top",
                "coach_note": "Slow rehearsals first, then full speed.",
            },
        ),
    },
    ("/v1/lessons/{lesson_id}", "patch"): {
        "changed": ("Another title", {"title": "Arms and heel"}),
    },
    ("/v1/swings/{swing_id}", "patch"): {
        "changed": ("Its part in the lesson, and the club", {"role": "before", "club": "mid_iron"}),
    },
    ("/v1/comparisons", "post"): {
        "two_swings": (
            "Put the ids of your swings in",
            {"before": [_ID.format(1)], "after": [_ID.format(2)]},
        ),
        "with_rehearsal": (
            "With a slow rehearsal between; put your ids in",
            {"before": [_ID.format(1)], "after": [_ID.format(2)], "rehearsal": [_ID.format(3)]},
        ),
    },
    ("/v1/batches", "post"): {
        "folder": (
            "Put a folder of your archive in",
            {"folder": "2025/may", "assume": {"fps": 60, "view": "face_on"}},
        ),
    },
    ("/v1/swings/{swing_id}/findings/{fault}/review", "put"): {
        "confirmed": (
            "The fault is there",
            {"verdict": "confirm", "grade": "moderate", "reviewer": _COACH},
        ),
        "rejected": ("It is not", {"verdict": "reject", "reviewer": _COACH}),
    },
    ("/v1/lessons/{lesson_id}/recap/edits", "put"): {
        "reworded": (
            "A key in the coach's words, and another hidden",
            {
                "keys": [
                    {
                        "fault": "trail_heel_kick",
                        "work_on": "Keep the heel down until the ball is gone.",
                    },
                    {"fault": "trail_knee_drive", "hidden": True},
                ],
                "reviewer": _COACH,
            },
        ),
    },
    ("/v1/lessons/{lesson_id}/recap/approval", "post"): {
        "approved": (
            "Put the fingerprint of the recap that you read in",
            {"reviewer": _COACH, "fingerprint": 32 * "0"},
        ),
    },
}
"""By path and method, then by name: what a body is, and the body."""

LINES: Final[dict[str, tuple[str, str]]] = {
    "two_swings": (
        "A line a swing",
        "".join(
            f"{json.dumps(request, separators=(',', ':'))}\n" for request in (PIXELS, WITH_CLUB)
        ),
    ),
}
"""Lines of requests, by name: what they are, and the text."""
