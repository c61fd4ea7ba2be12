"""The verbs find again what they sounded before, unless they are told not to."""

from pathlib import Path

import pytest
from typer.testing import CliRunner

from changewright.cli.main import app
from changewright.errors import EngineError
from changewright.sound import kept

BAND = ("band", "quayside-blues", "--bars", "1", "--times", "1", "--tempo", "240")
LESSON = ("lesson", "quayside-blues", "--for", "flute", "--family", "root-up", "--tempo", "240")


def run(*args: str) -> int:
    return CliRunner().invoke(app, args).exit_code


@pytest.fixture
def sounded(monkeypatch: pytest.MonkeyPatch) -> list[Path]:
    """Every folder that was sounded into on behalf of a shelf."""
    found: list[Path] = []
    true = kept.stream_stems

    def heard(*args: object) -> object:
        found.append(Path(str(args[1])))
        return true(*args)  # type: ignore[arg-type]

    monkeypatch.setattr(kept, "stream_stems", heard)
    return found


@pytest.mark.parametrize("verb", [BAND, LESSON])
def test_a_verb_sounds_the_same_music_once(
    verb: tuple[str, ...], tmp_path: Path, sounded: list[Path]
) -> None:
    cache = str(tmp_path / "cache")
    for folder in ("one", "two"):
        assert run(*verb, "-o", str(tmp_path / folder), "--cache", cache) == 0
    assert len(sounded) == 1
    one, two = (list((tmp_path / f).rglob("*.flac")) for f in ("one", "two"))
    assert {p.name: p.read_bytes() for p in one} == {p.name: p.read_bytes() for p in two}
    assert len(one) >= 4


def test_fresh_sounds_anew_and_keeps_nothing(tmp_path: Path, sounded: list[Path]) -> None:
    cache = tmp_path / "cache"
    assert run(*BAND, "-o", str(tmp_path / "b"), "--cache", str(cache), "--fresh") == 0
    assert (tmp_path / "b" / "mix.flac").is_file()
    assert not cache.exists()
    assert not sounded


def test_the_cache_says_what_it_holds_and_is_emptied(tmp_path: Path) -> None:
    cache = tmp_path / "cache"
    assert run(*BAND, "-o", str(tmp_path / "b"), "--cache", str(cache)) == 0
    told = CliRunner().invoke(app, ["cache", "--cache", str(cache)]).stdout
    assert "1 performances as stems" in told
    gone = CliRunner().invoke(app, ["cache", "--cache", str(cache), "--empty"]).stdout
    assert "Thrown away" in gone
    after = CliRunner().invoke(app, ["cache", "--cache", str(cache)]).stdout
    assert " 0 performances" in after
    assert (tmp_path / "b" / "mix.flac").is_file()


def test_a_track_of_a_book_is_sounded_once_for_all_versions(
    tmp_path: Path, sounded: list[Path]
) -> None:
    """The job's result goes with the program's version; the sound doesn't."""
    from changewright.chart.shelf import shelf_chart
    from changewright.chart.writer import write_chart
    from changewright.jobs.kept import Kept
    from changewright.usecases.book_tracks import TrackTask, sound_track

    task = TrackTask(write_chart(shelf_chart("quayside-blues")), "F", 1, 1, 300)
    first = sound_track(task, Kept(tmp_path))
    assert sound_track(task, Kept(tmp_path)) == first
    assert first["flac"].startswith(b"fLaC")
    assert len(sounded) == 1


def test_the_studio_finds_again_what_was_sounded(
    tmp_path: Path, sounded: list[Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    from changewright.studio import making
    from changewright.usecases.lesson import LessonRequest

    monkeypatch.setenv("CHANGEWRIGHT_CACHE", str(tmp_path / "cache"))
    request = LessonRequest("quayside-blues", "flute", families=("root-up",), tempo_bpm=240)
    for folder in ("one", "two"):
        making._write(request, tmp_path / folder)
    assert len(sounded) == 1
    assert len(list((tmp_path / "two").rglob("*.flac"))) >= 4


def test_a_failure_leaves_no_folder_and_no_entry(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*args: object) -> None:
        raise EngineError("the note bank lacks the voice piano")

    monkeypatch.setattr(kept, "stream_stems", fail)
    assert run(*BAND, "-o", str(tmp_path / "b"), "--cache", str(tmp_path / "cache")) == 1
    assert not list(tmp_path.iterdir())
