"""Takes filed with their players: who may be recorded, what was recorded, what was heard in it.

All of it lies in the roster's store. A take's id is the key that the player's browser drew for it,
so that what is sent twice is kept once. Its ``lesson`` says what was played:
``3fa9c2.../2/90/Bb`` is exercise 2 of a lesson, at 90 in B flat.
"""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Literal

from changewright.errors import ChangewrightError, InputError, NotKept, StoreError, TakeError
from changewright.jobs.bounded import Hand, Stopped
from changewright.store.leaving import erase_take
from changewright.store.records import Access, Consent, Correction, Heard, Student, Take
from changewright.store.store import Store
from changewright.studio.folder import Asked, Folder
from changewright.studio.part import Part
from changewright.usecases.roster import (
    KEPT_FOR,
    hearing_and_evidence,
    keep_hearing,
    keep_recording,
)

__all__ = ["RECORDING", "Filing", "KeptTake", "Leave", "hear"]

RECORDING = "recording"
"""What a consent is to."""

Leave = Literal["given", "ask", "guardian", "nobody"]
"""Whether a lesson's player may be recorded: agreed; he can agree himself; a guardian must agree
first; or the lesson is nobody's."""

_REFUSED = {
    "ask": (
        "nobody has agreed to this recording yet",
        "Read what recording means and agree to it first.",
    ),
    "guardian": (
        "no guardian has agreed to recordings of this player",
        "The teacher notes the guardian's word on the player's page.",
    ),
    "nobody": (
        "this lesson is nobody's, so that a recording could be filed with nobody",
        "Make it for a player of the roster.",
    ),
}


@dataclass(frozen=True, slots=True)
class KeptTake:
    """A take and all that is known of it; ``heard`` is None until it was listened to, ``sound``
    None where the recording has expired."""

    take: Take
    sound: Path | None
    heard: dict[str, Any] | None
    correction: Correction | None = None

    @property
    def key(self) -> str:
        """Its name in addresses."""
        return self.take.id

    @property
    def place(self) -> tuple[str, int]:
        """The lesson and the exercise that it was recorded for."""
        lesson, number, *_ = self.take.lesson.split("/")
        return lesson, int(number)


@dataclass(frozen=True, slots=True)
class Filing:
    """The takes of a studio's players; recordings are kept for ``keep_for``."""

    folder: Folder
    store: Store
    keep_for: timedelta = KEPT_FOR

    # players

    def player(self, asked: Asked) -> Student | None:
        """Whom a lesson is for; None for nobody, or somebody who has left the roster."""
        found = self.store.all(Student, id=asked.player) if asked.player else ()
        return found[0] if found else None

    def nickname(self, asked: Asked) -> str:
        """The name of whom a lesson is for, empty for nobody."""
        player = self.player(asked)
        return "" if player is None else player.nickname

    def consent(self, player: Student) -> Consent | None:
        """The consent to recordings that stands."""
        given = self.store.all(Consent, student=player.id, what=RECORDING)
        return next((c for c in reversed(given) if c.withdrawn is None), None)

    def leave(self, lesson_id: str) -> Leave:
        """Whether the player of a lesson may be recorded."""
        return self.leave_of(self.player(self.folder.asked(lesson_id)))

    def leave_of(self, player: Student | None) -> Leave:
        """Whether a player may be recorded; nobody may not."""
        if player is None:
            return "nobody"
        if self.consent(player) is not None:
            return "given"
        return "guardian" if player.is_minor else "ask"

    def check_leave(self, lesson_id: str) -> None:
        """Raise :class:`InputError` where the player of a lesson may not be recorded."""
        leave = self.leave(lesson_id)
        if leave != "given":
            what, remedy = _REFUSED[leave]
            raise InputError(what, remedy=remedy)

    def agree(self, lesson_id: str) -> None:
        """Note that a grown-up player agrees to be recorded; nobody else can, here."""
        leave = self.leave(lesson_id)
        if leave == "ask":
            player = self.player(self.folder.asked(lesson_id))
            if player is not None:
                self.store.add(Consent(player.id, RECORDING, "the player", self.today()))
        elif leave != "given":
            self.check_leave(lesson_id)

    def today(self) -> Any:
        """The day here, for dates that people read."""
        return self.store.now().astimezone().date()

    # takes

    def keep(
        self, lesson_id: str, number: int, key: str, media: str, sound: bytes, part: Part
    ) -> Take:
        """Keep a recording under its key; the same key again gives back what is there.

        Raises :class:`InputError` where the player may not be recorded.
        """
        self.check_leave(lesson_id)
        player = self.player(self.folder.asked(lesson_id))
        if player is None:  # pragma: no cover - he left the roster this instant
            raise NotKept("this player is no longer on the roster")
        there = self.store.all(Take, id=key)
        if there:
            if there[0].student != player.id or not there[0].lesson.startswith(lesson_id):
                raise TakeError("this take is another's", remedy="Record it again.")
            return there[0]
        now = self.store.now()
        told = part.told
        take = Take(
            player.id,
            now,
            media.removeprefix("."),
            expires=now.date() + self.keep_for,
            lesson=f"{lesson_id}/{number}/{told['tempo']}/{told['key']}",
            id=key,
        )
        try:
            return keep_recording(self.store, player, take, lambda: sound, part.folder, part.number)
        except StoreError:
            # sent twice at the same moment: whoever was first has kept it
            there = self.store.all(Take, id=key, student=player.id)
            if not there:
                raise
            return there[0]

    def take(self, lesson_id: str, number: int, key: str) -> KeptTake | None:
        """One take of an exercise, or None where there is none."""
        found = self.store.all(Take, id=key)
        if not found or not found[0].lesson.startswith(f"{lesson_id}/{number}/"):
            return None
        return self.kept(found[0])

    def by_key(self, key: str) -> KeptTake | None:
        """A take that was recorded here, by its key alone."""
        found = self.store.all(Take, id=key)
        return self.kept(found[0]) if found and found[0].lesson else None

    def kept(self, take: Take) -> KeptTake:
        """All that is known of a take."""
        heard = self.store.all(Heard, take=take.id)
        said = self.store.all(Correction, take=take.id)
        sound = self.store.blobs.path(take.blob) if take.blob else None
        document = heard[0].hearing if heard else None
        return KeptTake(take, sound, document, said[0] if said else None)

    def takes(self, lesson_id: str, number: int) -> tuple[Take, ...]:
        """The takes of an exercise, the latest first."""
        asked = self.folder.asked(lesson_id)
        mine = self.store.all(Take, student=asked.player) if asked.player else ()
        wanted = [t for t in mine if t.lesson.startswith(f"{lesson_id}/{number}/")]
        return tuple(reversed(wanted))

    def of_player(self, player: Student) -> tuple[Take, ...]:
        """The takes of a player, the latest first."""
        return self.store.all(Take, student=player.id)[::-1]

    def to_hear(self) -> tuple[Take, ...]:
        """The takes that wait for the teacher's word, the latest first."""
        said = {one.take for one in self.store.all(Correction)}
        waiting = (one for one in self.store.all(Take) if one.lesson and one.id not in said)
        return tuple(waiting)[::-1]

    def unheard(self) -> tuple[Take, ...]:
        """The takes that were kept and not yet listened to, the earliest first."""
        heard = {one.take for one in self.store.all(Heard)}
        return tuple(t for t in self.store.all(Take) if t.lesson and t.blob and t.id not in heard)

    def file(self, take: Take, heard: dict[str, Any], evidence: tuple[Any, ...] = ()) -> None:
        """Keep what was heard in a take; of one that was deleted meanwhile, nothing."""
        if self.store.all(Take, id=take.id):
            keep_hearing(self.store, take, heard, evidence)

    def correct(self, take: Take, bars: dict[str, str], words: str) -> Correction:
        """Keep what the teacher heard in a take, in place of what he said before."""
        before = self.store.all(Correction, take=take.id)
        now = self.store.now()
        if before:
            return self.store.edit(before[0], at=now, bars=bars, words=words)
        return self.store.add(Correction(take.id, now, bars, words))

    def delete(self, take: Take) -> None:
        """Delete a take for good: the recording, what was heard in it, and all that was said."""
        erase_take(self.store, take)

    def witness(self, take: Take, who: str, what: str) -> None:
        """Note who came to a recording."""
        self.store.witness(Access(take.id, datetime.now(UTC), who, what))

    def accesses(self, take: Take) -> tuple[Access, ...]:
        """Who came to a recording, the latest first."""
        return tuple(reversed(self.store.all(Access, take=take.id)))


def hear(hand: Hand, kept: KeptTake, part: Part) -> tuple[dict[str, Any], tuple[Any, ...]]:
    """Have a take listened to: the hearing's document and what it says of skills, or a document
    with nothing but a ``fault``."""
    if kept.sound is None:
        return {"fault": "The recording is no longer there."}, ()
    try:
        fault, heard, evidence = hand.do(_hear, kept.sound, part.folder, part.number, kept.take)
    except Stopped:
        fault = (
            "Listening to this recording took more time or memory than a take may. "
            "Record one chorus of one instrument, and send it as WAV or FLAC."
        )
        heard, evidence = {}, ()
    return ({"fault": fault}, ()) if fault else (heard, evidence)


def _hear(
    sound: Path, lesson: Path, number: int, take: Take
) -> tuple[str, dict[str, Any], tuple[Any, ...]]:
    """A fault travels as text: an error with arguments of its own would not survive the way."""
    with TemporaryDirectory(prefix="take-") as making:
        named = Path(making) / f"recording.{take.media}"  # a decoder goes by the name
        named.symlink_to(sound.absolute())
        try:
            return "", *hearing_and_evidence(named, lesson, number, take)
        except TakeError as fault:
            told = f"{fault.what}. {fault.remedy}".strip()
        except ChangewrightError as fault:
            told = str(fault)
        return told.replace(str(named), "your recording"), {}, ()
