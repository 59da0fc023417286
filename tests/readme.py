"""What of README.md and ``service/DETAILS.md`` follows from the code: ``python -m tests.readme``
writes it anew.

Each lies between a comment ``<!-- made: NAME -->`` and ``<!-- end -->``. The sample request and
its answer are cut from ``openapi/examples``, which ``python -m service openapi --write openapi``
keeps.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from service.analysis.faults import CATALOGUE, FaultDefinition
from service.analysis.pose.layouts import LAYOUTS
from service.analysis.types import View
from service.intake.formats import FORMATS

ROOT: Final = Path(__file__).parents[1]
README: Final = ROOT / "README.md"
DETAILS: Final = ROOT / "service" / "DETAILS.md"
COMMAND: Final = "python -m tests.readme"
_SAMPLE: Final = ROOT / "openapi" / "examples" / "down-the-line-with-club"
_POSITION: Final = "P4"
_WIDTH: Final = 100
_FAULT: Final = "trail_heel_kick"
_LEFT_OUT_OF_A_FINDING: Final = ("chance", "agreement", "moved_by", "span", "reason")
_LEFT_OUT_OF_EVIDENCE: Final = ("title", "note")
FORMAT_TEST: Final = "test_a_format_as_it_comes_gives_the_recording_of_the_plain_points"
_FORMAT_TESTS: Final = f"`{FORMAT_TEST}[FORMAT-declared]`\nin `tests/intake/test_formats.py`"
_PART: Final = re.compile(r"(<!-- made: (\w+) -->\n).*?(<!-- end -->)", re.DOTALL)


def fault_table() -> str:
    """What each fault needs and from where it is seen."""
    rows = [(d.title, _words(d.views, " or "), _needs(d)) for d in CATALOGUE.values()]
    return _table(("fault", "seen", "needs"), rows)


def layout_table() -> str:
    """The skeletons that a request may name."""
    rows = [
        (f"`{layout.name}`", layout.title, "yes" if "left_heel" in layout.joints else "no")
        for layout in LAYOUTS.values()
    ]
    return _table(("layout", "what it is", "feet"), rows)


def format_table() -> str:
    """The pose libraries' formats that are read as they come, and the test that shows each."""
    rows = [
        (
            f"`{name}`",
            f"{found.title} ({found.source})",
            "yes" if found.detectable else "no, declare it",
        )
        for name, found in FORMATS.items()
    ]
    table = _table(("format", "what it is", "told by itself"), rows)
    return f"{table}\n\nShown by {_FORMAT_TESTS}."


def sample_request() -> str:
    """The example request with one joint of one frame."""
    request = json.loads(Path(f"{_SAMPLE}-request.json").read_text(encoding="utf-8"))
    frame = request["keypoints"][0]
    told = {name: value for name, value in request.items() if not isinstance(value, list | dict)}
    told["keypoints"] = [[frame[0], f"... {len(frame)} joints"], "... one list a frame"]
    told["club_points"] = {name: ["... one point a frame"] for name in request["club_points"]}
    lines = ",\n".join(f"  {json.dumps(name)}: {json.dumps(value)}" for name, value in told.items())
    return f"```json\n{{\n{lines}\n}}\n```"


def sample_answer() -> str:
    """The example answer with one position and one finding."""
    answer = json.loads(Path(f"{_SAMPLE}-answer.json").read_text(encoding="utf-8"))
    position = next(p for p in answer["positions"] if p["name"] == _POSITION)
    finding = next(f for f in answer["findings"] if f["fault"] == _FAULT)
    evidence = _without(finding["evidence"][0], _LEFT_OUT_OF_EVIDENCE)
    told = _without(finding, _LEFT_OUT_OF_A_FINDING) | {"evidence": [evidence, "..."]}
    shown = {
        "swing_found": answer["swing_found"],
        "view": answer["view"],
        "positions": [position, "..."],
        "findings": [told, "..."],
    }
    return f"```json\n{_laid_out(shown)}\n```"


def _laid_out(value: Any, indent: str = "") -> str:
    """JSON that is short to read: an object or a list in one line where it fits into one, and what
    has no parts of its own side by side."""
    line = json.dumps(value)
    if len(indent) + len(line) <= _WIDTH or not isinstance(value, dict | list):
        return line
    within = f"{indent}  "
    if isinstance(value, list):
        parts = [_laid_out(each, within) for each in value]
    else:
        parts = [f"{json.dumps(name)}: {_laid_out(each, within)}" for name, each in value.items()]
    begin, end = "[]" if isinstance(value, list) else "{}"
    return f"{begin}\n{_side_by_side(parts, within)}\n{indent}{end}"


def _side_by_side(parts: Sequence[str], indent: str) -> str:
    lines = [f"{indent}{parts[0]}"]
    for part in parts[1:]:
        longer = f"{lines[-1]}, {part}"
        if "\n" in longer or len(longer) > _WIDTH:
            lines[-1] += ","
            lines.append(f"{indent}{part}")
        else:
            lines[-1] = longer
    return "\n".join(lines)


PARTS: Final[Mapping[Path, Mapping[str, Callable[[], str]]]] = {
    README: {"faults": fault_table, "request": sample_request, "answer": sample_answer},
    DETAILS: {"layouts": layout_table, "formats": format_table},
}


def written_anew(page: Path, text: str) -> str:
    """The text of a page with every made part as the code has it today.

    Raises
    ------
    ValueError
        When the text lacks a part of the page or has one that is not of this page.
    """
    parts = PARTS[page]
    found = [part[2] for part in _PART.finditer(text)]
    if sorted(found) != sorted(parts):
        raise ValueError(f"{page.name} should have the parts {sorted(parts)}, not {sorted(found)}")
    return _PART.sub(lambda part: f"{part[1]}{parts[part[2]]()}\n{part[3]}", text)


def _needs(fault: FaultDefinition) -> str:
    by_view = {view: _points(fault, view) for view in fault.views}
    if len(set(by_view.values())) == 1:
        return next(iter(by_view.values()))
    return "; ".join(f"{_words((view,), '')}: {points}" for view, points in by_view.items())


def _points(fault: FaultDefinition, view: View) -> str:
    names = [point.name.lower().replace("_", " ") for point in fault.needs(view)]
    told = list(dict.fromkeys(_with_its_other_side(name, names) for name in names))
    return ", ".join(told) or "both wrists, for the times of the positions"


def _with_its_other_side(name: str, names: Sequence[str]) -> str:
    """``both knees`` for a knee where the other is needed too."""
    joint = name.rpartition(" ")[2]
    if {f"lead {joint}", f"trail {joint}"} <= set(names):
        return f"both {joint}s"
    return name


def _words(views: Sequence[View], between: str) -> str:
    return between.join(view.value.replace("_", " ") for view in views)


def _without(told: dict[str, Any], names: Sequence[str]) -> dict[str, Any]:
    return {name: value for name, value in told.items() if name not in names}


def _table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    lines = [heads, ["---"] * len(heads), *rows]
    return "\n".join(f"| {' | '.join(cells)} |" for cells in lines)


if __name__ == "__main__":
    for page in PARTS:
        page.write_text(written_anew(page, page.read_text(encoding="utf-8")), encoding="utf-8")
        print(page)
