"""Lessons: players, levels, the families of exercises, and the verb that composes a sheet."""
