"""Short scripts that know several rooms: read, lesson, hear, demo."""
