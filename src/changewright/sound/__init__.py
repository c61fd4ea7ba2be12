"""Stems: events to samples with the note bank."""
