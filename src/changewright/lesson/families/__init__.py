"""The families of exercises, one a module; each has a ``FAMILY``."""
