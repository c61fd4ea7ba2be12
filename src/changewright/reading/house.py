"""How a teacher settles what teachers disagree on."""

from dataclasses import dataclass
from typing import Literal

__all__ = ["HouseRules"]


@dataclass(frozen=True, slots=True)
class HouseRules:
    """Settings for choosing scales, one set per teacher; the first named is the default.

    Source of questions and defaults: domain reference 3.4, C1 to C8. ``level`` is the student's,
    1 to 8: scales meant for a later level are left out, and from level 5 a half-diminished two
    takes its natural 9th (C4). ``altered`` puts the altered scale first on a five that goes to
    a major home, from level 5 on (C3).
    """

    level: int = 4
    major_home: Literal["ionian", "lydian"] = "ionian"
    five_of_two: Literal["mixo_b9b13", "mixo_b13", "altered"] = "mixo_b9b13"
    altered: bool = False
    half_diminished: Literal["by level", "locrian", "locrian_n2"] = "by level"
    diminished: Literal["by function", "whole_half"] = "by function"
    blues_four: Literal["mixolydian", "lydian_dom"] = "mixolydian"
    minor_home: Literal["by symbol", "melodic_minor", "dorian", "aeolian"] = "by symbol"

    def __post_init__(self) -> None:
        if not 1 <= self.level <= 8:
            raise ValueError(f"levels run from 1 to 8, not {self.level}")

    def preferred(self, row: str) -> str | None:
        """The scale this teacher puts first on a row of the table, None to leave the table's."""
        sevens = "locrian_n2" if self.level >= 5 else None
        choices: dict[str, str | None] = {
            "T1": self.major_home,
            "D4": self.five_of_two,
            "D1": "altered" if self.altered and self.level >= 5 else None,
            "T7": sevens if self.half_diminished == "by level" else self.half_diminished,
            "X1": None if self.diminished == "by function" else self.diminished,
            "X2": None if self.diminished == "by function" else self.diminished,
            "D11": self.blues_four,
            "T8": None if self.minor_home == "by symbol" else self.minor_home,
            "T9": None if self.minor_home == "by symbol" else self.minor_home,
        }
        early = {"D8", "D9", "D22", "D21"}
        if self.level <= 3 and row in early:
            return "mixolydian"
        return choices.get(row)
