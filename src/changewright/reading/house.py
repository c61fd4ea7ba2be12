"""How a teacher settles what teachers disagree on. Defaults: domain reference 3.4."""

from dataclasses import dataclass
from typing import Literal

__all__ = ["HouseRules"]


@dataclass(frozen=True, slots=True)
class HouseRules:
    """Settings for choosing scales, one set per teacher; the default of each is the first named.

    ``level`` is the student's (1 to 8): alternatives that need a higher level are left out.
    """

    level: int = 4
    major_tonic: Literal["ionian", "lydian"] = "ionian"
    five_of_two: Literal["mixo_b9b13", "mixo_b13", "altered"] = "mixo_b9b13"
    half_diminished: Literal["locrian", "locrian_n2"] = "locrian"
    diminished: Literal["functional", "whole_half"] = "functional"
    blues_four: Literal["mixolydian", "lydian_dom"] = "mixolydian"

    def __post_init__(self) -> None:
        if not 1 <= self.level <= 8:
            raise ValueError(f"levels run from 1 to 8, not {self.level}")
