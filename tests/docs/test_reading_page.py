"""Every example of the page on reading is true."""

import doctest
from pathlib import Path

PAGE = Path(__file__).resolve().parents[2] / "docs" / "reading.md"


def test_examples_of_the_reading_page() -> None:
    results = doctest.testfile(str(PAGE), module_relative=False)
    assert results.attempted > 25
    assert results.failed == 0
