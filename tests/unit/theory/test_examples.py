"""Every example in the docstrings of theory and on its page runs."""

import doctest
import importlib
import pkgutil
from pathlib import Path

import pytest

import changewright.theory

PAGE = Path(__file__).parents[3] / "docs" / "theory.md"
MODULES = sorted(m.name for m in pkgutil.iter_modules(changewright.theory.__path__))


def test_the_page() -> None:
    found = doctest.testfile(str(PAGE), module_relative=False, encoding="utf-8")
    assert found.attempted > 30
    assert found.failed == 0


@pytest.mark.parametrize("name", MODULES)
def test_docstrings(name: str) -> None:
    module = importlib.import_module(f"changewright.theory.{name}")
    assert doctest.testmod(module).failed == 0


@pytest.mark.parametrize("name", MODULES)
def test_what_a_module_offers_is_there(name: str) -> None:
    module = importlib.import_module(f"changewright.theory.{name}")
    assert module.__all__ == sorted(module.__all__, key=lambda n: (not n.isupper(), n))
    assert all(hasattr(module, offered) for offered in module.__all__)
