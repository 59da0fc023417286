"""Every published source that this project follows, in one place; docstrings cite it by key.

A docstring writes the key in square brackets, ``[grober2006]``; a catalogue entry or a layout that
a reader sees writes it out with :func:`cite`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final


@dataclass(frozen=True)
class Reference:
    """A published source: ``short`` as it is told in an answer, ``full`` as one looks it up."""

    short: str
    full: str


# Authors, titles, pages and identifiers are written from memory.
BIBLIOGRAPHY: Final[Mapping[str, Reference]] = MappingProxyType(
    {
        "bazarevsky2020": Reference(
            "V. Bazarevsky et al., BlazePose: On-device Real-time Body Pose Tracking, 2020.",
            "V. Bazarevsky, I. Grishchenko, K. Raveendran, T. Zhu, F. Zhang and M. Grundmann, "
            "BlazePose: On-device Real-time Body Pose Tracking, 2020, arXiv:2006.10204.",
        ),
        "caddieset2025": Reference(
            "S. Jung et al., CaddieSet, CVPR Workshops 2025.",
            "S. Jung et al., CaddieSet: A Golf Swing Dataset with Human Joint Features and Ball "
            "Information, CVPR Workshops 2025, pp. 5988-5996.",
        ),
        "cao2021": Reference(
            "Z. Cao et al., OpenPose: Realtime Multi-Person 2D Pose Estimation using Part "
            "Affinity Fields, IEEE TPAMI (BODY_25).",
            "Z. Cao, G. Hidalgo, T. Simon, S.-E. Wei and Y. Sheikh, OpenPose: Realtime "
            "Multi-Person 2D Pose Estimation using Part Affinity Fields, IEEE Transactions on "
            "Pattern Analysis and Machine Intelligence 43(1):172-186, 2021, arXiv:1812.08008.",
        ),
        "cohen1960": Reference(
            "Cohen 1960",
            "J. Cohen, A coefficient of agreement for nominal scales, Educational and "
            "Psychological Measurement 20:37-46, 1960.",
        ),
        "dersimonian1986": Reference(
            "DerSimonian & Laird 1986",
            "R. DerSimonian and N. Laird, Meta-analysis in clinical trials, Controlled Clinical "
            "Trials 7:177-188, 1986.",
        ),
        "drillis1966": Reference(
            "Drillis & Contini 1966",
            "R. Drillis and R. Contini, Body Segment Parameters, New York University, 1966, as "
            "given in [winter].",
        ),
        "fang2023": Reference(
            "H.-S. Fang et al., AlphaPose, and the Halpe Full-Body data set that it introduces.",
            "H.-S. Fang et al., AlphaPose: Whole-Body Regional Multi-Person Pose Estimation and "
            "Tracking in Real-Time, IEEE Transactions on Pattern Analysis and Machine "
            "Intelligence, 2023, arXiv:2211.03375.",
        ),
        "fleiss1969": Reference(
            "Fleiss, Cohen & Everitt 1969",
            "J. L. Fleiss, J. Cohen and B. S. Everitt, Large sample standard errors of kappa and "
            "weighted kappa, Psychological Bulletin 72:323-327, 1969.",
        ),
        "gneiting2013": Reference(
            "Gneiting & Ranjan 2013",
            "T. Gneiting and R. Ranjan, Combining predictive distributions, Electronic Journal of "
            "Statistics 7:1747-1782, 2013.",
        ),
        "grober2006": Reference(
            "Grober & Cholewicki 2006, arXiv physics/0611291",
            "R. D. Grober and J. Cholewicki, Towards a biomechanical understanding of tempo in "
            "the golf swing, 2006, arXiv:physics/0611291.",
        ),
        "hyman1983": Reference(
            "Hyman 1983",
            "J. M. Hyman, Accurate monotonicity preserving cubic interpolation, SIAM Journal on "
            "Scientific and Statistical Computing 4, 1983.",
        ),
        "jhuang2013": Reference(
            "Jhuang et al. 2013",
            "H. Jhuang, J. Gall, S. Zuffi, C. Schmid and M. J. Black, Towards understanding action "
            "recognition, ICCV 2013.",
        ),
        "jin2020": Reference(
            "S. Jin et al., Whole-Body Human Pose Estimation in the Wild, ECCV 2020.",
            "S. Jin et al., Whole-Body Human Pose Estimation in the Wild, ECCV 2020, "
            "arXiv:2007.11858.",
        ),
        "lin2014": Reference(
            "T.-Y. Lin et al., Microsoft COCO: Common Objects in Context, ECCV 2014.",
            "T.-Y. Lin, M. Maire, S. Belongie, J. Hays, P. Perona, D. Ramanan, P. Dollár and "
            "C. L. Zitnick, Microsoft COCO: Common Objects in Context, ECCV 2014, "
            "doi:10.1007/978-3-319-10602-1_48.",
        ),
        "stone1961": Reference(
            "Stone 1961",
            "M. Stone, The opinion pool, Annals of Mathematical Statistics 32(4):1339-1342, 1961.",
        ),
        "weir2005": Reference(
            "Weir 2005",
            "J. P. Weir, Quantifying test-retest reliability using the intraclass correlation "
            "coefficient and the SEM, Journal of Strength and Conditioning Research 19:231-240, "
            "2005.",
        ),
        "winter": Reference(
            "Winter, Biomechanics and Motor Control of Human Movement",
            "D. A. Winter, Biomechanics and Motor Control of Human Movement, Wiley.",
        ),
        "zhang2013": Reference(
            "W. Zhang et al., From Actemes to Action, ICCV 2013.",
            "W. Zhang, M. Zhu and K. G. Derpanis, From Actemes to Action: A Strongly-supervised "
            "Representation for Detailed Action Understanding, ICCV 2013.",
        ),
    }
)
"""Sources by key."""


def cite(key: str) -> str:
    """A source as it is told in an answer.

    Raises
    ------
    KeyError
        When the bibliography has no such key.

    >>> cite("grober2006")
    'Grober & Cholewicki 2006, arXiv physics/0611291'
    """
    return BIBLIOGRAPHY[key].short
