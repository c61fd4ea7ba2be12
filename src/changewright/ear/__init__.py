"""Listening: a recording to notes, notes to their place on the chorus, and the verdict."""
