"""The whole story in one short function."""

from __future__ import annotations

from dataclasses import replace

from service.analysis.judging.classifier import Classifier
from service.analysis.judging.features import feature_vector
from service.analysis.judging.rules import judge_all
from service.analysis.measured import MeasuredSwing, measure_swing
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
    swing = measure_swing(recording)
    model = classifier.identity if classifier else None
    if isinstance(swing, SwingAnalysis):
        return replace(swing, model=model)
    return SwingAnalysis(
        swing_found=True,
        reason=None,
        view=swing.view,
        handedness=swing.handedness,
        quality=swing.quality,
        swings=swing.swings,
        positions=swing.positions,
        coordinate=swing.curve.at(recording.times),
        measures=swing.measures,
        findings=_judged(swing, classifier),
        model=model,
        intent=recording.intent,
        club=recording.club,
        times=recording.times,
    )


def _judged(swing: MeasuredSwing, classifier: Classifier | None) -> tuple[Finding, ...]:
    if classifier is None:
        return judge_all(swing)
    vector, view = feature_vector(swing), swing.view.value
    return judge_all(swing, lambda fault: classifier.predict(fault, view, vector))
