"""How a page says that something is wrong: what, where, the line with a caret, what to do."""

from typing import Any

from changewright.errors import ChangewrightError, InputError, Refusal

__all__ = ["fault_view"]

_NOTHING = {
    "what": "",
    "where": "",
    "line": None,
    "column": None,
    "bar": None,
    "source": "",
    "caret": "",
    "remedy": "",
}


def fault_view(fault: ChangewrightError | None) -> dict[str, Any]:
    """A fault as its page tells it; None is one that says nothing yet."""
    if fault is None:
        return dict(_NOTHING)
    if isinstance(fault, InputError):
        column = fault.where.column
        return {
            "what": fault.what,
            "where": str(fault.where),
            "line": fault.where.line,
            "column": column,
            "bar": fault.where.bar,
            "source": fault.source,
            "caret": " " * (column - 1) + "^" if fault.source and column else "",
            "remedy": fault.remedy,
        }
    if isinstance(fault, Refusal):
        first, _, repairs = str(fault).partition("\n")
        return {**_NOTHING, "what": first, "remedy": repairs}
    return {**_NOTHING, "what": str(fault)}
