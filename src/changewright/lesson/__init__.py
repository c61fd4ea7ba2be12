"""Exercise families, levels and players: what to compose and what it promises."""
