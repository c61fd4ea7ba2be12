"""A player leaves for good: what the studio's folder holds of him, beside the roster's rows."""

import shutil
from pathlib import Path

from changewright.studio.folder import Folder
from changewright.studio.guests import Guests

__all__ = ["forget_player"]


def forget_player(root: Path, player: str) -> int:
    """Delete the lessons of a player of the roster in a studio's folder, their variants, takes that
    were coming in, and his links; returns how many lessons there were."""
    Guests(root).revoke(player)
    folder, count = Folder(root), 0
    for asked in folder.requests():
        if asked.player == player:
            folder.forget(asked.id)
            for coming in (root / "coming").glob(f"{asked.id}-*"):
                shutil.rmtree(coming, ignore_errors=True)
            count += 1
    return count
