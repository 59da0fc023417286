"""The trained model that this process serves, loaded once for all requests."""

from __future__ import annotations

import logging
from functools import cache
from pathlib import Path

from service.analysis.judging.classifier import Classifier, ModelError
from service.settings import Settings

_log = logging.getLogger(__name__)


def served_model() -> Classifier | None:
    """The model of the folder that the settings name; ``None`` when rules judge alone."""
    return _load(Settings().model_dir)


@cache
def _load(folder: Path) -> Classifier | None:
    try:
        return Classifier.load(folder)
    except ModelError as error:
        _log.warning("rules judge alone: %s", error)
        return None
