"""A request analysed: the one way in for HTTP, the command line and the examples."""

from __future__ import annotations

import logging
from collections.abc import Sequence
from dataclasses import dataclass

from service.analysis.analyse import analyse, analyse_many
from service.analysis.judging.classifier import Classifier
from service.analysis.judging.manifest import ManifestError, ModelError
from service.analysis.types import SwingAnalysis, SwingRecording
from service.intake.recording import Limits, read_clip
from service.report.clip import Clip
from service.settings import Settings

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
    """

    classifier: Classifier | None
    limits: Limits
    why_rules: str = ""

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

    def analyse(self, recording: SwingRecording) -> SwingAnalysis:
        """Analyse a clip that was read."""
        return analyse(recording, self.classifier)

    def analyse_body(self, body: bytes) -> Clip:
        """Analyse a request given as JSON text.

        Raises
        ------
        MalformedJson, InvalidRequest
            When the request can't be read (see :mod:`service.intake.errors`).
        """
        recording, reference = read_clip(body, self.limits)
        return Clip(reference, recording, self.analyse(recording))

    def analyse_bodies(self, bodies: Sequence[bytes]) -> list[Clip | Exception]:
        """Analyse many requests, each as :meth:`analyse_body` does; what went wrong in one is in
        its place, and the others are not to blame.
        """
        read = [self._read(body) for body in bodies]
        recordings = [each[0] for each in read if not isinstance(each, Exception)]
        analyses = iter(self._analyses(recordings))
        return [
            each if isinstance(each, Exception) else _clip(*each, next(analyses)) for each in read
        ]

    def _read(self, body: bytes) -> tuple[SwingRecording, str | None] | Exception:
        try:
            return read_clip(body, self.limits)
        except Exception as error:
            return error

    def _analyses(self, recordings: Sequence[SwingRecording]) -> list[SwingAnalysis | Exception]:
        try:
            return list(analyse_many(recordings, self.classifier))
        except Exception:  # one of them; the others are not to blame
            return [self._analysis(recording) for recording in recordings]

    def _analysis(self, recording: SwingRecording) -> SwingAnalysis | Exception:
        try:
            return self.analyse(recording)
        except Exception as error:
            return error


def _clip(
    recording: SwingRecording, reference: str | None, analysis: SwingAnalysis | Exception
) -> Clip | Exception:
    return analysis if isinstance(analysis, Exception) else Clip(reference, recording, analysis)
