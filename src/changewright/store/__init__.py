"""The teacher's shelf: roster, tunes, takes, hearings and plans, with the recordings beside."""
