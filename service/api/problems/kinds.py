"""Every kind of problem that the service tells of, as its page explains it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Final

from service.api.names import named
from service.intake.errors import MAX_ERRORS


@dataclass(frozen=True)
class ProblemKind:
    """A kind of problem: its page is served under ``/problems/`` and its slug."""

    slug: str
    status: int
    title: str
    meaning: str

    @property
    def type(self) -> str:
        """The problem type, a URI reference to the page that explains it."""
        return f"/problems/{self.slug}"


INVALID_REQUEST: Final = ProblemKind(
    "invalid-request",
    422,
    "The request breaks the contract",
    "The body is JSON, but some of its fields are missing, unknown or hold what they must not. "
    "`errors` has one entry a field: `pointer` is a JSON Pointer to it, `problem` says what is "
    f"wrong and `fix` what to send instead. At most {MAX_ERRORS} are told; `errors_omitted` "
    "counts the rest.",
)
MALFORMED_JSON: Final = ProblemKind(
    "malformed-json",
    400,
    "The body is not JSON",
    "The body is empty, cut off, not UTF-8, nested too deep or otherwise not JSON (RFC 8259).",
)
MALFORMED_GZIP: Final = ProblemKind(
    "malformed-gzip",
    400,
    "It is not gzip",
    "Content-Encoding, or the name of a file in the archive, says gzip (RFC 1952), but it is "
    "something else or cut off. Pack it again, or send it as it is without Content-Encoding.",
)
MALFORMED_PARQUET: Final = ProblemKind(
    "malformed-parquet",
    422,
    "A table can't be read",
    "A file of the archive should be Parquet, but is something else, is damaged or lacks the "
    "columns. Write it again with the columns that are documented.",
)
UNREADABLE_FILE: Final = ProblemKind(
    "unreadable-file",
    422,
    "A file can't be read",
    "A file of the archive is gone, is a link, has a name that is no UTF-8, or may not be read by "
    "the service.",
)
SMALLER: Final[str] = (
    "Cut the clip to a few seconds about the swing, or round coordinates to a tenth of a pixel; "
    "many swings go as a batch."
)
"""What to do about a body that is too large."""
BODY_TOO_LARGE: Final = ProblemKind(
    "body-too-large",
    413,
    "The body is too large",
    f"The body is larger than the service takes, as sent or once decompressed. {SMALLER}",
)
UNSUPPORTED_MEDIA_TYPE: Final = ProblemKind(
    "unsupported-media-type",
    415,
    "The body's type is not supported",
    "Send Content-Type: application/json.",
)
UNSUPPORTED_ENCODING: Final = ProblemKind(
    "unsupported-encoding",
    415,
    "The body's encoding is not supported",
    "Send the body as it is, or with Content-Encoding: gzip.",
)
NOT_FOUND: Final = ProblemKind(
    "not-found",
    404,
    "There is nothing here",
    "No resource has this path or name; /docs lists the paths.",
)
METHOD_NOT_ALLOWED: Final = ProblemKind(
    "method-not-allowed",
    405,
    "This path does not take that method",
    "The Allow header of the answer lists the methods it takes.",
)
NOT_ACCEPTABLE: Final = ProblemKind(
    "not-acceptable",
    406,
    "The results can't be had in that form",
    "The Accept header asks for none of the forms that there are: application/x-ndjson, text/csv "
    "and, where the service has the library for it, application/vnd.apache.parquet.",
)
NOT_READY: Final = ProblemKind(
    "not-ready",
    503,
    "The service is not ready",
    "A check made at start-up failed; `detail` says which. Send no requests to this instance.",
)
INVALID_PARAMETER: Final = ProblemKind(
    "invalid-parameter",
    422,
    "A parameter is wrong",
    "A parameter after the question mark, in the path or in a header is unknown, is there twice or "
    "holds what it must not; `parameters` names each, says why and what to send instead. A cursor "
    "is good only for the list and the filters that it came with.",
)
KEY_REUSED: Final = ProblemKind(
    "idempotency-key-reused",
    422,
    "The Idempotency-Key was used for another request",
    "A request with this key, but another path, query or body, was answered before. Nothing was "
    "kept. Send the same request again to get its first answer, or a new key with a new request.",
)
STALE_VERSION: Final = ProblemKind(
    "stale-version",
    412,
    "It was changed since you read it",
    "If-Match, If-None-Match or a fingerprint names another version than the present one (RFC "
    "9110, sections 13.1.1 and 13.1.2), so someone else has changed it meanwhile. Nothing was "
    "written: read it again, put your change to what it is now, and send that with the new ETag.",
)
PRECONDITION_REQUIRED: Final = ProblemKind(
    "precondition-required",
    428,
    "If-Match is missing",
    "A change must say which version it was made for (RFC 6585): send If-Match with the ETag of "
    "what you read.",
)
RECORDS_UNAVAILABLE: Final = ProblemKind(
    "records-unavailable",
    503,
    "The records can't be reached",
    "The database is off, busy, out of disk, lacks its tables or was not set up. Nothing was "
    "written. Analysing a swing without keeping it works meanwhile.",
)
COME_AGAIN: Final[Mapping[str, str]] = {"Retry-After": "5"}
"""Header of an answer that the records can't be reached: they may be well in so many seconds, a
judgement; who comes sooner adds to the load."""
PERHAPS_WRITTEN: Final = ProblemKind(
    "perhaps-written",
    503,
    "It is not known whether the change was made",
    "The database failed while it confirmed the change, so it may have been written or not. If you "
    "sent an Idempotency-Key, send the same request again with it: then nothing is kept twice. "
    "Without one, look whether it is there before you send it again.",
)
KEY_MISSING: Final = ProblemKind(
    "key-missing",
    401,
    "A key is asked for",
    "Send `Authorization: Bearer` with a key of your academy. There was none, or it is unknown, "
    "expired or revoked. Whoever runs the service makes keys with `python -m service keys create`.",
)
KEY_LACKS_SCOPE: Final = ProblemKind(
    "key-lacks-scope",
    403,
    "The key is not good for this",
    "The key is good, but was made for other things; `detail` names the scope that is missing. "
    "Whoever runs the service can make one with it.",
)
CONSENT_MISSING: Final = ProblemKind(
    "consent-missing",
    403,
    "Nobody consented to keeping this player's data",
    "Nothing was kept. Send the player's `consent` with the day it was given (`given_on`) and by "
    "whom (`by`: `player` or `guardian`), and `birth_year` where the player consents. For a minor "
    "a guardian must. Analysing a swing without keeping it takes no consent.",
)
TOO_MANY: Final = ProblemKind(
    "too-many-requests",
    429,
    "Too many requests",
    "The allowance is used up (RFC 6585, section 4), and nothing was done. Send the request again "
    "after the seconds in the Retry-After header; `RateLimit` tells with each answer what is left.",
)
UNKNOWN_HOST: Final = ProblemKind(
    "unknown-host",
    421,
    "The service has no such name",
    "The request was sent to a name under which the service may not be called. Whoever runs it "
    "lists its names in SWING_ALLOWED_HOSTS.",
)
PAGE_REFUSED: Final = ProblemKind(
    "page-refused",
    400,
    "A page may not call this",
    "A browser asked whether a page may send a request (a CORS preflight, Fetch standard), and it "
    "may not: the page's origin, the method or a header is none of those that are let in. Whoever "
    "runs the service lists origins in SWING_CORS_ORIGINS.",
)
NOT_COMPARABLE: Final = ProblemKind(
    "not-comparable",
    422,
    "These swings can't be compared",
    "Nothing can be said about the swings together: they are of different players or filmed from "
    "different views, one holds no golf swing, or a rehearsal was given for a swing at full "
    "speed; `detail` says which. What only some measures lack is told in the answer instead.",
)
TOO_BUSY: Final = ProblemKind(
    "too-busy",
    503,
    "The service has its hands full",
    "As many requests as it takes are waiting already, and nothing was done with this one. Send "
    "it again after the seconds in the Retry-After header.",
)
NO_SPACE: Final = ProblemKind(
    "no-space",
    507,
    "There is no room on disk",
    "The service could not put aside what it needs to answer. Nothing was kept. Send less at "
    "once, or try again later.",
)
INTERNAL_ERROR: Final = ProblemKind(
    "internal-error",
    500,
    "Something went wrong here",
    "The fault is the service's. Report the answer's X-Request-ID, under which it was logged.",
)

PROBLEMS: Final[Mapping[str, ProblemKind]] = {
    kind.slug: kind
    for kind in (
        INVALID_REQUEST,
        MALFORMED_JSON,
        MALFORMED_GZIP,
        MALFORMED_PARQUET,
        UNREADABLE_FILE,
        BODY_TOO_LARGE,
        UNSUPPORTED_MEDIA_TYPE,
        UNSUPPORTED_ENCODING,
        NOT_FOUND,
        METHOD_NOT_ALLOWED,
        NOT_ACCEPTABLE,
        NOT_READY,
        INVALID_PARAMETER,
        KEY_REUSED,
        STALE_VERSION,
        PRECONDITION_REQUIRED,
        RECORDS_UNAVAILABLE,
        PERHAPS_WRITTEN,
        NOT_COMPARABLE,
        TOO_BUSY,
        NO_SPACE,
        KEY_MISSING,
        KEY_LACKS_SCOPE,
        CONSENT_MISSING,
        TOO_MANY,
        UNKNOWN_HOST,
        PAGE_REFUSED,
        INTERNAL_ERROR,
    )
}
"""Every kind of problem by its slug."""

ProblemType = Annotated[
    str, named("ProblemType", (*(kind.type for kind in PROBLEMS.values()), "about:blank"))
]
