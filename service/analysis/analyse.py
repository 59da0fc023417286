"""The whole story in one short function."""

from __future__ import annotations

from dataclasses import replace

from service.analysis.judging.classifier import Classifier
from service.analysis.judging.features import feature_vector
from service.analysis.judging.rules import Court, judge_all
from service.analysis.measured import Examined, examine
from service.analysis.types import Finding, Remark, SwingAnalysis, SwingRecording


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
    return _remarked(_analyse(recording, classifier), recording.remarks)


def _remarked(analysis: SwingAnalysis, remarks: tuple[Remark, ...]) -> SwingAnalysis:
    """The analysis with what is to be said of how the clip was read before all other remarks."""
    if not remarks:
        return analysis
    quality = replace(analysis.quality, remarks=(*remarks, *analysis.quality.remarks))
    return replace(analysis, quality=quality)


def _analyse(recording: SwingRecording, classifier: Classifier | None) -> SwingAnalysis:
    found = examine(recording)
    model = classifier.identity if classifier else None
    if isinstance(found, SwingAnalysis):
        return replace(found, model=model)
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
    )


def _judged(court: Court, found: Examined, classifier: Classifier | None) -> tuple[Finding, ...]:
    if classifier is None:
        return judge_all(court)
    vector, view = feature_vector(found), found.view.value
    return judge_all(court, lambda fault: classifier.opinion(fault, view, vector))
