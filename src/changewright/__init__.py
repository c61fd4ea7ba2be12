"""Read the changes, write the next right thing to play, and hear what was really played.

Importing this package does no work: no file is opened, no engine is loaded.
"""

__all__ = ["__version__"]

__version__ = "0.1.0"
