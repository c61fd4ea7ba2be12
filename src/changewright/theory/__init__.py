"""Pitch, interval, key, chord, scale, instrument: pure values and tables."""
