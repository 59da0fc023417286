"""Names that answers use, each list a schema of its own in the contract.

They are told by the contract and not enforced on the way out: an analysis kept by an older
version may hold a name that this one no longer gives.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Annotated, Any, Final

from pydantic import WithJsonSchema

from service.analysis.faults import CATALOGUE, MEASURES

NAMED: Final[str] = "x-named"
"""Marks a schema that the contract shows once, under this name."""

REASONS: Final[tuple[str, ...]] = (
    "absent_before",
    "approval_withdrawn",
    "between",
    "body_not_measurable",
    "camera_leans",
    "camera_moves",
    "changes_changed",
    "clip_starts_late",
    "clip_stops_early",
    "coach_divided",
    "coach_unsure",
    "coachs_view",
    "cut_out_coordinates",
    "different_speed",
    "findings_changed",
    "frame_rate",
    "handedness_unsure",
    "hands_apart",
    "hands_or_hips_not_seen",
    "hands_stay_level",
    "joints_not_seen",
    "joints_out_of_order",
    "key_not_found",
    "keys_changed",
    "keys_edited",
    "legs_exchanged",
    "looks_like_another_action",
    "no_downswing",
    "no_pairs",
    "nobody_found",
    "not_approved",
    "not_judged",
    "not_measured",
    "not_reached",
    "note_changed",
    "one_category",
    "one_side_only",
    "one_sign_only",
    "picture_squeezed",
    "places_smoothed",
    "player_sits",
    "points_not_seen",
    "points_too_close",
    "position_inferred",
    "position_not_found",
    "rehearsal",
    "swings_differ",
    "times_no_swing_takes",
    "times_off",
    "too_uncertain",
    "too_unsure",
    "uncertain_before",
    "view",
    "view_unsure",
    "within_uncertainty",
)
REMARKS: Final[tuple[str, ...]] = (
    "address_inferred",
    "camera_leans",
    "camera_moves",
    "camera_off_line",
    "camera_on_far_side",
    "camera_tilted",
    "clip_starts_late",
    "clip_stops_early",
    "club_astray",
    "club_marked",
    "club_not_known",
    "club_not_seen",
    "clubs_differ",
    "cut_out_coordinates",
    "feet_not_seen",
    "film_cut",
    "film_read",
    "format_read",
    "handedness_contradicts_motion",
    "handedness_contradicts_record",
    "hands_held",
    "joints_lost",
    "joints_missing",
    "joints_out_of_order",
    "keypoints_repaired",
    "legs_exchanged",
    "low_frame_rate",
    "older_lessons_left_out",
    "picture_squeezed",
    "places_smoothed",
    "player_left",
    "player_sits",
    "plays_fast",
    "plays_slow",
    "plays_unevenly",
    "several_people",
    "unlike_training",
    "view_contradicts_picture",
)


def named(name: str, values: Iterable[str]) -> WithJsonSchema:
    """The schema of one of some names."""
    return WithJsonSchema({"type": "string", "enum": list(values), NAMED: name})


FAULT_NAMES: Final = named("FaultName", CATALOGUE)
FaultName = Annotated[str, FAULT_NAMES]
MeasureName = Annotated[str, named("MeasureName", (m.name for m in MEASURES))]
UnitName = Annotated[str, named("UnitName", dict.fromkeys(m.unit for m in MEASURES))]
PositionName = Annotated[str, named("PositionName", (f"P{n}" for n in range(1, 11)))]
ReasonCode = Annotated[str, named("ReasonCode", REASONS)]
RemarkCode = Annotated[str, named("RemarkCode", REMARKS)]


def with_names_apart(schema: Any, apart: dict[str, Any]) -> Any:
    """The same schema, with a reference in place of each that has a name of its own.

    Parameters
    ----------
    apart
        Gets the schemas that were replaced, by name.
    """
    if isinstance(schema, list):
        return [with_names_apart(each, apart) for each in schema]
    if not isinstance(schema, dict):
        return schema
    if NAMED not in schema:
        return {key: with_names_apart(value, apart) for key, value in schema.items()}
    told = {key: value for key, value in schema.items() if key in ("description", "default")}
    kept = {key: value for key, value in schema.items() if key not in (NAMED, "title", *told)}
    name = schema[NAMED]
    apart[name] = {"title": name, **with_names_apart(kept, apart)}
    return {**told, "$ref": f"#/components/schemas/{name}"}
