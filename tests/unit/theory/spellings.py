"""Invented spellings by rule, each with the degrees that a player hears in it.

Source: common practice, no source, where no other is named; "primer" is the open textbook "Music
Theory for the 21st-Century Classroom", chapter Jazz Chord Basics.
"""

__all__ = ["REFUSED", "SPELLINGS", "spelled"]

SPELLINGS = """
# triads and the four words for each
1 3 5 : C Cmaj CMa CM Cmajor Cma CMAJ
1 b3 5 : Cm C- Cmi Cmin Cminor C− C– CMIN CMin
1 3 #5 : C+ Caug Caugmented C(#5) C+5 C(+5) C5+ C＋ Cmaj(#5)
1 b3 b5 : Cdim C° Co Cº Cdiminished Cm(b5) Cmb5 C-(b5) Cmin(♭5)
1 3 b5 : C(b5) C-5 C(-5) C5- Cmaj(b5)
1 b3 #5 : Cm(#5) Cm+ Cm#5 C-(#5) Cmi+5
1 5 : C5 C(no3) Cno3 C(omit3) Comit3 C(no3rd) C(no 3) C5th
1 : C(no3,no5) C(no3,5) Cno3no5
1 3 : C(no5) Cno5 C(omit 5) Csubtract5
1 b3 : Cm(no5) C-no5
# the major mark qualifies the seventh (primer); a sign alone means it, a word does not
1 3 5 7 : Cmaj7 CM7 CMa7 Cma7 CΔ7 CΔ C△7 C∆7 C∆ C^7 C^ Cj7 Cj CMaj7 CMAJ7 CMA7 Cmajor7 C7M C7maj
1 3 5 7 : C(maj7) C(#7) C(+7) C maj7 C maj 7 CΔ⁷ C(addmaj7) Cmj7 CMj7
1 3 5 7 9 : Cmaj9 CM9 CMa9 Cma9 CΔ9 C^9 Cj9 Cj79 Cmaj7(9) Cmaj7/9 Cmaj/9 Cmaj7(add9) CΔ79
1 3 5 7 9 13 : Cmaj13 CM13 CΔ13 Cj7913 Cmaj9(13) Cmaj7(9,13)
1 3 5 7 13 : Cmaj7(13) Cmaj7(add13) C6(maj7) Cmaj7/6 C6Δ7
1 3 5 7 #11 : Cmaj7(#11) CΔ7(#11) Cmaj7#11 CΔ#11 Cmaj7#4 Cmaj7(♯11) CM7+11 Cmaj7(add#11)
1 3 5 7 9 #11 : Cmaj9(#11) Cmaj7(9,#11) Cj7911# CΔ9#11 Cmaj7(9 #11)
1 3 #5 7 : Cmaj7(#5) C+(maj7) CΔ7(#5) C+M7 C+j7 C+Δ Caugmaj7 Cmaj7#5 Cmaj7+5 Caug,M7
1 3 b5 7 : Cmaj7(b5) CΔ7(b5) CM7b5 Cmaj7-5
1 3 5 7 #9 : Cj79# Cmaj7(#9) CΔ7#9
# sixths
1 3 5 6 : C6 CM6 Cma6 Cmaj6 C(add6) Cadd6 C(6) Cadd13 CΔ6
1 3 5 6 9 : C6/9 C69 C6(9) C6(add9) C6add9 C6,9 C6⁄9 Cmaj6/9 C6 9
1 3 5 6 9 #11 : C6911# C6/9(#11) C69#11 C6/9#11
1 b3 5 6 : Cm6 C-6 Cmi6 Cmin6 Cm(6) CMIN6
1 b3 5 6 9 : Cm6/9 C-69 Cm69 Cmi6(9)
1 b3 5 b6 : Cm(b6) Cmb6 C-(b6) Cm(b13) C-b6
# dominants; a bare 9, 11 or 13 implies the seventh (primer)
1 3 5 b7 : C7 Cdom7 Cdom C(7) C 7 C7th C⁷ Cadd7
1 3 5 b7 9 : C9 C79 C7(9) C7/9 C7add9 Cdom9
1 3 5 b7 9 13 : C13 C7913 C9(13) C7(9,13) C9/13 C9/6
1 3 5 b7 13 : C7(13) C7add13 C7/6 C7(add6) C713
1 5 b7 9 11 : C11
1 3 5 b7 9 11 : C7911 C7(9,11) C9(11) C9(add11)
1 3 5 b7 11 : C7(add11) C7add4
1 3 5 b7 b9 : C7(b9) C7b9 C7-9 C7(-9) C79b C7(9-) C7♭9 C7(♭9) C7 b9 C7[b9] C9- C7flat9
1 3 5 b7 #9 : C7(#9) C7#9 C7+9 C79# C7(9+) C7♯9 C7(add#9) C7add#9 C7(b10)
1 3 5 b7 #11 : C7(#11) C7#11 C7+11 C7#4
1 3 5 b7 9 #11 : C9(#11) C9#11 C7911# C7(9,#11) C9+11 C11+ C+11 Caug11
1 3 5 b7 9 #11 13 : C13(#11) C13#11 C7911#13
1 3 5 b7 b13 : C7(b13) C7b13 C7-13 C7b6
1 3 5 b7 9 b13 : C7913b C9(b13) C9b13
1 3 5 b7 b9 b13 : C7(b9,b13) C7b9b13 C79b13b C7(b9b13) C7(♭9♭13) C7-9-13 C7(b9)(b13)
1 3 5 b7 b9 13 : C13(b9) C13b9 C7(b9,13) C79b13 C13-9
1 3 5 b7 #9 13 : C13(#9) C79#13
1 3 5 b7 #9 #11 : C7(#9,#11) C79#11# C7#9#11
1 3 5 b7 b9 #11 : C7(b9,#11) C7b9#11 C7(#11,b9) C7(b9/#11)
1 3 b5 b7 : C7(b5) C7b5 C7-5 Cb5,7 C7flat5 C7 alter b5 C7alterb5
1 3 b5 b7 9 : C9(b5) C9b5 C9-5
1 3 b5 b7 b9 : C7b5b9 C7(b5,b9) C7-5-9
1 3 #5 b7 : C7(#5) C7#5 C+7 C7+ C7+5 Caug7 C7aug C7(5+) C+7th
1 3 #5 b7 9 : C9(#5) C+9 C9#5 C9+ C+79 C9+5 Caug9
1 3 #5 b7 #9 : C7(#5,#9) C7#5#9 C7#9#5 C+7(#9) C+79# C+7#9
1 3 #5 b7 b9 : C7(#5,b9) C+79b C7#5b9 C7b9+ C7b9#5 C7+b9
1 3 #5 b7 9 #11 : C+7911#
1 3 b7 b9 #9 #11 b13 : C7alt Calt C7(alt) C7 alt. C7altered Caltered C7 Alt
# minor sevenths
1 b3 5 b7 : Cm7 C-7 Cmi7 Cmin7 Cminor7 C−7 Cm(7) C MI7 Cmin 7
1 b3 5 b7 9 : Cm9 C-9 Cmi9 C-79 Cm7(9) Cm7/9
1 b3 5 b7 9 11 : Cm11 C-11 Cmi11 C-7911 Cm9(11)
1 b3 5 b7 11 : Cm7(11) Cm7add11 C-7(11) Cm7add4
1 b3 5 b7 9 11 13 : Cm13 C-13 C-791113
1 b3 5 b7 9 13 : C-7913 Cm9(13) Cm7(9,13)
1 b3 5 b7 b9 : C-79b Cm7(b9) Cm7b9
1 b3 #5 b7 : Cm7(#5) C-7(#5) Cm7+ Cm7+5
1 b3 5 7 : Cm(maj7) Cmi(Ma7) C-Δ7 C-Δ C-(maj7) CmM7 Cm(#7) Cm(+7) Cm+7 CmMaj7 C-maj7 C-j7 Cm7M
1 b3 5 7 : Cm,M7 Cm/maj7 Cmmaj7 Cminmaj7 C−△7 Cm-maj7 Cmin-maj7
1 b3 5 7 9 : Cm(maj9) C-Δ9 CmM9 C-j79 Cm9(maj7) Cm(maj7,9) Cm9maj7
1 b3 5 7 9 13 : C-j7913 Cm(maj7)(9,13)
1 b3 5 7 9 #11 : C-j7911# Cm(maj7)(9,#11)
# half-diminished and diminished
1 b3 b5 b7 : Cm7(b5) Cø7 Cø C-7(b5) C-7b5 Cmi7(b5) Cm7-5 Cm7b5 CØ7 C% C%7 Chalfdim Chalf-dim7 C⌀
1 b3 b5 b7 9 : Cm9(b5) Cø9 Cm7b59 Cø7(9) Cm9b5
1 b3 b5 b7 11 : Cm11(b5) Cø11 Cm11b5
1 b3 b5 b7 b9 : Cm7b5b9 Cø7(b9) Cm7b59b
1 b3 b5 bb7 : C°7 Cdim7 Co7 Cº7 C˚7 Cdiminished7 C07
1 b3 b5 bb7 9 : C°9 Cdim7(9) Co7(add9)
1 b3 b5 bb7 b13 : C°7(b13) Cdim7b13
1 b3 b5 7 : C°(maj7) Cdim(maj7) CoM7 C°Δ7
1 b3 b5 bb7 7 : C°7(maj7) Co7(addmaj7) Cdim7(add7)
# sus
1 4 5 : Csus4 Csus C4 Csus(4) Csuspended C sus
1 2 5 : Csus2 Csus9 Csus(2)
1 2 4 5 : Csus24 Csus2sus4 Csus2/4
1 4 5 b7 : C7sus4 C7sus Csus7 Csus4,7 Csus47 C7/4 C4/7 C7(4) C7(sus4) C7 sus Csus(7)
1 4 5 b7 9 : C9sus4 C9sus Csus79 C7sus4(9) C7(9)sus
1 4 5 b7 9 13 : C13sus4 C13sus Csus7913 Csus13 C9sus(13)
1 4 5 b7 b9 : C7sus4(b9) Csus(b9) C7susb9 C7sus4b9 C7b9sus C7(b9)sus4 Csusb9 C(b9)sus4
1 4 5 b7 b9 13 : C13sus4(b9) C13b9sus4
1 2 5 b7 : C7sus2 C9sus2
# adds
1 3 5 9 : C(add9) Cadd9 C(add2) C2 Cadd2 C(9) Cadd9th
1 b3 5 9 : Cm(add9) C-(add9) Cmadd9 Cm(add2) Cm2
1 3 5 11 : C(add11) Cadd4 Cadd11
1 3 5 #11 : C(#11) C(add#11) Cadd#11
1 3 5 9 #11 : C(add9,#11) Cadd9(#11)
"""

REFUSED = {
    "": 1, "H7": 1, "cm7": 1, "Fmajj7": 5, "C7(b9": 3, "C7b9)": 5, "C7()": 4, "Cmo7": 3,
    "C7#": 3, "C7b": 3, "C7##9": 4, "C#13x": 5, "Cq": 2, "C8": 2, "C/": 2, "C7,": 3, "C3": 2,
    "Cm5": 3, "C7m": 3, "C7/H": 4, "Cadd": 5, "Cno": 4, "C|": 3, "|C": 1, "C|D|E": 4, "Cmalt": 3,
    "C/E/G": 5, "C7(b9,)": 6, "1": 1, "maj7": 1, "C12": 2, "C95": 3, "C511": 3, "C27": 3,
    "C13114": 4, "C74": 3, "C4°": 3, "Cøj7": 3, "Cdommaj7": 5, "C7nob5": 6, "Cno7": 4, "Cno35": 5,
    "C7no4": 5, "Csus4-": 6, "C7alt°": 6, "C97": 3, "Cb11b11b": 5, "CaltM7": 5,
}  # fmt: skip
"""What can't be read, with the column of the offending character."""


def spelled() -> list[tuple[str, str]]:
    """Every spelling with its degrees."""
    return [
        (spelling, degrees.strip())
        for line in SPELLINGS.splitlines()
        if line and not line.startswith("#")
        for degrees, spellings in [line.split(":", 1)]
        for spelling in _apart(spellings)
    ]


def _apart(text: str) -> list[str]:
    """Spellings stand apart by a space before a C."""
    return [("C" + part).strip() for part in (" " + text.strip()).split(" C")[1:]]
