"""What tests of odd footage look at in a swing."""

from tests.swings import clip


def filmed(view, fps=60.0):
    return clip(view, fps=fps)[1]


def codes(result):
    return {remark.code for remark in result.quality.remarks}


def told(result, code):
    return next(remark for remark in result.quality.remarks if remark.code == code)


def not_judged(result):
    """The reasons of faults that are not judged."""
    return {f.fault: f.reason.code for f in result.findings if f.reason}
