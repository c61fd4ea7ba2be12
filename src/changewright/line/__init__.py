"""The composing engine: slots, rules, preferences, one exact trellis, and refusals."""
