"""Hearing a take: transcription, placing on the chorus, judgement, and what a teacher would say."""
