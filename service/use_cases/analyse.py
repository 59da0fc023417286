"""A request analysed: the one way in for HTTP, the command line and the examples."""

from __future__ import annotations

import logging
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from service.analysis.analyse import analyse, analyse_many
from service.analysis.judging.classifier import Classifier
from service.analysis.judging.manifest import ManifestError, ModelError
from service.analysis.types import Intent, SwingAnalysis, SwingRecording
from service.intake.recording import Limits, read_clip
from service.observing.metrics import Metrics
from service.observing.traces import step
from service.report.clip import Clip
from service.settings import Settings

Watch = Callable[[SwingAnalysis, float], None]
"""Told an analysis and the seconds that it took."""

_log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Analyser:
    """What every analysis takes: made once, then handed to whoever analyses.

    Attributes
    ----------
    classifier
        The trained model; ``None`` where rules judge alone.
    limits
        How short and how long a clip may be.
    why_rules
        Why rules judge alone; empty where they don't.
    watch
        Told every analysis.
    """

    classifier: Classifier | None
    limits: Limits
    why_rules: str = ""
    watch: Watch | None = None

    @classmethod
    def of(cls, settings: Settings) -> Analyser:
        """With the model of the folder that the settings name.

        Where that folder has no model that can be served, rules judge alone, and log and
        `/readyz` say why.

        Raises
        ------
        ManifestError
            When what the folder says of its models can't be believed.
        """
        limits = Limits(settings.min_frames, settings.max_frames)
        try:
            return cls(Classifier.load(settings.model_dir), limits)
        except ManifestError:
            raise
        except ModelError as error:
            _log.warning("rules judge alone: %s", error)
            return cls(None, limits, why_rules=str(error))

    @property
    def model_version(self) -> str | None:
        """Version of the trained model; ``None`` where rules judge alone."""
        return self.classifier.identity.version if self.classifier else None

    def watched_by(self, metrics: Metrics) -> Analyser:
        """The same, every swing counted."""
        classifier = self.classifier and replace(self.classifier, watch=metrics.features)
        return replace(self, classifier=classifier, watch=metrics.analysis)

    def analyse(self, recording: SwingRecording) -> SwingAnalysis:
        """Analyse a clip that was read."""
        begin = time.perf_counter()
        with step("analyse"):
            analysis = analyse(recording, self.classifier)
        if self.watch is not None:
            self.watch(analysis, time.perf_counter() - begin)
        return analysis

    def analyse_many(self, recordings: Sequence[SwingRecording]) -> list[SwingAnalysis]:
        """Analyse clips that were read, each as :meth:`analyse` does; each is told to have taken
        its share of the time."""
        begin = time.perf_counter()
        analyses = analyse_many(recordings, self.classifier)
        if self.watch is not None:
            for analysis in analyses:
                self.watch(analysis, (time.perf_counter() - begin) / len(analyses))
        return analyses

    def analyse_body(self, body: bytes, unless_told: Intent = Intent.FULL_SPEED) -> Clip:
        """Analyse a request given as JSON text, of that intent where it names none.

        Raises
        ------
        MalformedJson, InvalidRequest
            When the request can't be read (see :mod:`service.intake.errors`).
        """
        with step("parse"):
            recording, reference = read_clip(body, self.limits, unless_told)
        return Clip(reference, recording, self.analyse(recording))

    def analyse_each(self, recordings: Sequence[SwingRecording]) -> list[SwingAnalysis | Exception]:
        """As :meth:`analyse_many`, where one may break the analysis: what broke it is in its place,
        and the others are not to blame.
        """
        try:
            return list(self.analyse_many(recordings))
        except Exception:
            return [self._analysis(recording) for recording in recordings]

    def _analysis(self, recording: SwingRecording) -> SwingAnalysis | Exception:
        try:
            return self.analyse(recording)
        except Exception as error:
            return error
