"""The whole story in one short function."""

from __future__ import annotations

from dataclasses import replace

from service.analysis.judging.classifier import Classifier
from service.analysis.judging.features import feature_vector
from service.analysis.judging.rules import Court, judge_all
from service.analysis.measured import Examined, examine
from service.analysis.types import Finding, SwingAnalysis, SwingRecording


def analyse(recording: SwingRecording, classifier: Classifier | None = None) -> SwingAnalysis:
    """Analyse one clip: condition, orient, find positions, measure, judge.

    Parameters
    ----------
    classifier : Classifier, optional
        The trained model; without one the rules judge alone.

    Returns
    -------
    SwingAnalysis
        With ``swing_found`` false and the reason when the clip holds no golf swing.
    """
    found = examine(recording)
    model = classifier.identity if classifier else None
    if isinstance(found, SwingAnalysis):
        return replace(
            found,
            model=model,
            intent=recording.intent,
            club=recording.club,
            times=recording.times,
        )
    court = Court(found.swing, found.taken, recording.times, found.view, recording.intent)
    return SwingAnalysis(
        swing_found=True,
        reason=None,
        view=found.view,
        handedness=found.handedness,
        quality=found.quality,
        swings=found.swings,
        positions=found.positions,
        coordinate=found.curve.at(recording.times),
        measures=found.measures,
        findings=_judged(court, found, classifier),
        model=model,
        intent=recording.intent,
        club=recording.club,
        times=recording.times,
    )


def _judged(court: Court, found: Examined, classifier: Classifier | None) -> tuple[Finding, ...]:
    if classifier is None:
        return judge_all(court)
    vector, view = feature_vector(found), found.view.value
    return judge_all(court, lambda fault: classifier.opinion(fault, view, vector))
