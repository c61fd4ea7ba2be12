"""The verbs at a terminal."""
