"""One fault in one swing."""

from __future__ import annotations

from service.analysis.faults import FaultDefinition
from service.analysis.judging.calibration import UNCALIBRATED, LogisticCalibration
from service.analysis.judging.rules import judge
from service.analysis.measured import MeasuredSwing
from service.analysis.types import Finding


def finding_of(
    definition: FaultDefinition,
    swing: MeasuredSwing,
    calibration: LogisticCalibration = UNCALIBRATED,
) -> Finding:
    """What is found of a fault in a swing, however it is calibrated."""
    ((finding,),) = judge((definition,), (swing,), lambda _fault, _view: calibration)
    return finding
