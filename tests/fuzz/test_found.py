"""What fuzzing found, kept so that it stays mended."""

import pytest

from tests.fuzz.targets import check_text

TEXTS = {
    "a key that comes in a later section and is gone when the first comes back": (
        "form: A B A\nsection A\n| Dm11 |\nsection B\nkey Ebm\n| Ebm11 |\n"
    ),
    "a form that plays a jump and leaves out where it leads": (
        "form: A\nsection A\n| F |\nto coda\n| G |\nback to the top, then the coda\n"
        "section B\ncoda\n| F |\n"
    ),
    "a slash with a length": "|F\t/:3|",
}


@pytest.mark.parametrize("case", TEXTS)
def test_texts(case: str) -> None:
    check_text(TEXTS[case])
