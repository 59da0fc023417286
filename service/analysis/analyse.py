"""The whole story in one short function."""

from __future__ import annotations

from dataclasses import replace

from service.analysis.backswing import stopped_at
from service.analysis.judging.classifier import Classifier
from service.analysis.judging.rules import judge_all
from service.analysis.measured import measure_swing
from service.analysis.types import Remark, StoppedAt, SwingAnalysis, SwingRecording


def analyse(recording: SwingRecording, classifier: Classifier | None = None) -> SwingAnalysis:
    """Analyse one clip: condition, orient, find positions, measure, estimate, judge.

    Parameters
    ----------
    classifier : Classifier, optional
        The trained part; without one the rules judge what was measured.

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
    measured = measure_swing(recording)
    model = classifier.identity if classifier else None
    asked = recording.stop_at
    if isinstance(measured, SwingAnalysis):
        unseen = None if asked is None else StoppedAt(asked, reason=measured.reason)
        return replace(measured, model=model, stopped_at=unseen)
    swing = classifier.estimate(measured) if classifier else measured
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
        findings=judge_all(swing, classifier.calibration) if classifier else judge_all(swing),
        model=model,
        intent=recording.intent,
        club=recording.club,
        times=recording.times,
        familiarity=swing.familiarity,
        stopped_at=None if asked is None else stopped_at(swing, asked),
    )
