"""What all verbs share at the terminal: JSON for machines, tables for people."""

import json
import sys
from typing import Any

from rich.console import Console

__all__ = ["console", "print_json"]


def console() -> Console:
    """A console on standard output; plain, and never narrower than a chart needs, when piped."""
    out = Console(highlight=False)
    if not out.is_terminal:
        out = Console(highlight=False, width=110)
    return out


def print_json(document: dict[str, Any] | list[Any]) -> None:
    """Print one JSON document to standard output, in UTF-8, keys in their documented order."""
    sys.stdout.write(json.dumps(document, ensure_ascii=False, allow_nan=False, indent=1) + "\n")
