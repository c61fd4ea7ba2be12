"""The composing engine: slots, rules and preferences over an exact weighted trellis."""
