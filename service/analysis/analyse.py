"""The whole story in one short function."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final

from service.analysis.backswing import stopped_at
from service.analysis.judging.classifier import Classifier
from service.analysis.judging.rules import judge_all
from service.analysis.measured import MeasuredSwing, measure_swings
from service.analysis.shots import shots_with_swing, without_stray_club
from service.analysis.types import Finding, Remark, StoppedAt, SwingAnalysis, SwingRecording

CHUNK: Final[int] = 64
"""Swings that are analysed together; more would only take more memory."""


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
    return analyse_many((recording,), classifier)[0]


def analyse_many(
    recordings: Sequence[SwingRecording], classifier: Classifier | None = None
) -> list[SwingAnalysis]:
    """Analyse many clips, each as :func:`analyse` does: what can be done for :data:`CHUNK` of them
    at once is done once.

    Returns
    -------
    list of analyses in the order of the recordings
    """
    chunks = (recordings[k : k + CHUNK] for k in range(0, len(recordings), CHUNK))
    return [analysis for chunk in chunks for analysis in _analyse(chunk, classifier)]


def _analyse(
    films: Sequence[SwingRecording], classifier: Classifier | None
) -> Iterator[SwingAnalysis]:
    shots = shots_with_swing(films)
    recordings = [without_stray_club(shot.recording) for shot in shots]
    analyses = _analyse_shots(recordings, classifier)
    for shot, analysis in zip(shots, analyses, strict=True):
        yield shot.told_of_film(analysis)


def _analyse_shots(
    recordings: Sequence[SwingRecording], classifier: Classifier | None
) -> Iterator[SwingAnalysis]:
    measured = measure_swings(recordings)
    swings = [swing for swing in measured if isinstance(swing, MeasuredSwing)]
    estimated = classifier.estimate_all(swings) if classifier else swings
    findings = judge_all(estimated, classifier.calibration) if classifier else judge_all(estimated)
    judged = zip(estimated, findings, strict=True)
    for recording, swing in zip(recordings, measured, strict=True):
        if isinstance(swing, MeasuredSwing):
            analysis = _judged(recording, *next(judged), classifier)
        else:
            analysis = replace(swing, model=classifier.identity if classifier else None)
        stop = _stopped_at(recording, swing)
        told = analysis if stop is None else replace(analysis, stopped_at=stop)
        yield _remarked(told, recording.remarks)


def _stopped_at(
    recording: SwingRecording, swing: MeasuredSwing | SwingAnalysis
) -> StoppedAt | None:
    asked = recording.stop_at
    if asked is None:
        return None
    if isinstance(swing, SwingAnalysis):
        return StoppedAt(asked, reason=swing.reason)
    return stopped_at(swing, asked)


def _judged(
    recording: SwingRecording,
    swing: MeasuredSwing,
    findings: tuple[Finding, ...],
    classifier: Classifier | None,
) -> SwingAnalysis:
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
        findings=findings,
        model=classifier.identity if classifier else None,
        intent=recording.intent,
        club=recording.club,
        times=recording.times,
        familiarity=swing.familiarity,
    )


def _remarked(analysis: SwingAnalysis, remarks: tuple[Remark, ...]) -> SwingAnalysis:
    """The analysis with what is to be said of how the clip was read before all other remarks."""
    if not remarks:
        return analysis
    quality = replace(analysis.quality, remarks=(*remarks, *analysis.quality.remarks))
    return replace(analysis, quality=quality)
