"""What must work before a request is sent here."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from service.analysis.judging.features import FEATURE_NAMES
from service.analysis.types import SwingAnalysis
from service.api.health.readiness import Broken, Probe, Remembered, catalogue_probe
from service.demo import clip_body
from service.intake.recording import ANY_LENGTH, to_recording
from service.intake.request import read_request
from service.records.connection.readiness import DatabaseProbe
from service.settings import Settings
from service.use_cases.analyse import Analyser

_KNOWN_SWINGS: Final[tuple[str, ...]] = ("face_on", "down_the_line")


def probes(settings: Settings, analyser: Analyser) -> dict[str, Probe]:
    """Every check by its name."""
    made: dict[str, Probe] = {
        "catalogue": catalogue_probe,
        "analysis": Remembered(AnalysisProbe(analyser)),
        "model": Remembered(ModelProbe(analyser)),
    }
    if settings.database_url:
        made["database"] = DatabaseProbe(settings.database_url)
    return made


@dataclass(frozen=True)
class AnalysisProbe:
    """Analyses the swings of the demonstration, in which a swing must be found."""

    analyser: Analyser

    def __call__(self) -> str:
        """Say that they were found."""
        for name in _KNOWN_SWINGS:
            if not self._analysis(name).swing_found:
                raise Broken(f"no swing was found in the known clip {name}")
        return f"{len(_KNOWN_SWINGS)} known swings were found"

    def _analysis(self, name: str) -> SwingAnalysis:
        return self.analyser.analyse(to_recording(read_request(clip_body(name)), ANY_LENGTH))


@dataclass(frozen=True)
class ModelProbe:
    """Has every part of the trained model make an estimate."""

    analyser: Analyser

    def __call__(self) -> str:
        """Say what is served and that it works."""
        model = self.analyser.classifier
        nothing = np.zeros(len(FEATURE_NAMES), dtype=np.float32)
        for (measure, view), estimator in (model.estimators if model else {}).items():
            told = estimator.estimates(nothing[None], np.zeros(1))
            if not np.isfinite(told).all():
                raise Broken(f"the estimator of {measure} seen {view} gives no number")
        return describe(self.analyser)


def describe(analyser: Analyser) -> str:
    """What is served, in a few words."""
    model = analyser.classifier
    if model is None:
        return f"no trained model is served; rules judge alone: {analyser.why_rules}"
    told = f"version {model.identity.version} estimates {len(model.estimators)} measures by view"
    if not model.switched_off:
        return told
    off = ", ".join(f"{m} seen {v.value} ({why})" for (m, v), why in model.switched_off.items())
    return f"{told}; switched off: {off}"
