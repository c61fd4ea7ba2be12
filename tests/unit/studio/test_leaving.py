"""Erased at the terminal, a player leaves the studio's folder as well."""

import shutil
from pathlib import Path

from changewright.cli.roster import erase
from changewright.store.records import Student
from changewright.studio.folder import Folder
from changewright.studio.guests import Guests
from changewright.studio.serve import FOLDER
from tests.unit.studio.manners import TENOR, Made, store_of


def test_the_terminals_erase_takes_lessons_and_takes_along(
    with_lesson: Made, tmp_path: Path
) -> None:
    store_of(tmp_path).close()
    root = tmp_path / FOLDER
    for part in ("lessons", "requests"):
        shutil.copytree(with_lesson.root / part, root / part)
    [mine] = [one for one in Folder(root).requests() if one.id == with_lesson.at[9:]]
    for left in (root / "variants" / mine.id / "1" / "90-Bb", root / "coming" / f"{mine.id}-1-a"):
        left.mkdir(parents=True)
    Folder(root).keep_request(mine.for_player("0" * 16))
    other = mine.for_player("0" * 16).id
    token = Guests(root).invite(TENOR.id)

    erase(TENOR.nickname, yes=True, home=tmp_path)

    assert [one.id for one in Folder(root).requests()] == [other], "others stay"
    assert not (root / "lessons" / mine.id).exists()
    assert list((root / "variants").iterdir()) == list((root / "coming").iterdir()) == []
    assert Guests(root).player_of(token) is None
    assert store_after(tmp_path) == ()


def store_after(home: Path) -> tuple[Student, ...]:
    from datetime import UTC, datetime

    from changewright.usecases.roster import roster

    store = roster(home, lambda: datetime.now(UTC))
    try:
        return store.all(Student)
    finally:
        store.close()
