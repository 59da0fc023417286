"""What one measure looked like in many clips, beside its truth."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from service.analysis.types import BoolArray, FloatArray


@dataclass(frozen=True)
class Rows:
    """What one measure looked like in clips of one view, beside its truth.

    Attributes
    ----------
    features : array of shape (n, n_features), float32
    value, uncertainty, truth : arrays of shape (n,)
        In the measure's unit.
    source : array of shape (n,)
        Number of the source a clip comes from.
    estimated : boolean array of shape (n,)
        Whether its points err as a real estimator's do.
    """

    features: NDArray[np.float32]
    value: FloatArray
    uncertainty: FloatArray
    truth: FloatArray
    source: NDArray[np.int64]
    estimated: BoolArray

    def __len__(self) -> int:
        return len(self.value)

    def only(self, chosen: BoolArray) -> Rows:
        """The rows for which a mask of shape (n,) is true."""
        return Rows(
            self.features[chosen],
            self.value[chosen],
            self.uncertainty[chosen],
            self.truth[chosen],
            self.source[chosen],
            self.estimated[chosen],
        )
