"""A lesson's recap: what its swings, and those of the lessons before, come to."""

from service.use_cases.recap.building import Presentation, build_recap, recap_of, recap_page
from service.use_cases.recap.settled import settled_findings
from service.use_cases.recap.visits import MOST_SWINGS, Visit

__all__ = [
    "MOST_SWINGS",
    "Presentation",
    "Visit",
    "build_recap",
    "recap_of",
    "recap_page",
    "settled_findings",
]
