"""A take at the Desk: beside its page, corrected by the teacher, and who came to it."""

import re
from secrets import token_hex

import pytest

from changewright.store.records import Access, Correction, Heard, Take
from changewright.studio.app import takes
from changewright.usecases.roster import progress_of
from tests.unit.studio.manners import SAME, TENOR, Made
from tests.unit.studio.test_stand import midi_take


def taken(fresh: Made, wrong_bar: int | None = 5) -> str:
    """A take with one wrong bar; its key."""
    fresh.client.post(f"{fresh.at}/consent", headers=SAME)
    key = token_hex(16)
    sound = midi_take(fresh, wrong_bar=wrong_bar)
    answer = fresh.client.post(f"{fresh.at}/1/takes?key={key}", content=sound, headers=SAME)
    assert answer.status_code == 200
    return key


def words_of(html: str) -> dict[int, str]:
    return {int(n): w for w, n in re.findall(r'<li class="(\w+)" value="(\d+)"', html)}


def test_a_take_stands_beside_its_page(fresh: Made) -> None:
    key = taken(fresh)
    assert f"/takes/{key}" in fresh.client.get("/").text
    assert f"/takes/{key}" in fresh.client.get(f"/players/{TENOR.id}").text
    html = fresh.client.get(f"/takes/{key}").text
    assert html.count("<svg") == 3
    assert f"/takes/{key}/sound" in html
    assert html.count("as you heard it") == 12


def test_the_teachers_word_stands(fresh: Made) -> None:
    key = taken(fresh)
    before = progress_of(fresh.store, TENOR).path(fresh.studio.filing.today())
    told = {"bar-5": "met", "bar-6": "missed", "bar-7": "met", "words": "A late slur, not a miss."}
    assert fresh.client.post(f"/takes/{key}/word", data=told, headers=SAME).status_code == 303
    [kept] = fresh.store.all(Correction)
    assert kept.bars == {"5": "met", "6": "missed"}, "bar 7 was met anyway"
    html = fresh.client.get(f"{fresh.at}/1/takes/{key}").text
    assert "A late slur" in html
    assert [bar for bar, word in words_of(html).items() if word != "met"] == [6]
    again = {"words": "Heard it again."}
    fresh.client.post(f"/takes/{key}/word", data=again, headers=SAME)
    [kept] = fresh.store.all(Correction)
    assert (kept.bars, kept.words) == ({}, "Heard it again.")
    assert f"/takes/{key}" not in fresh.client.get("/").text, "nothing waits any more"
    assert before, "the take said something of a skill"


def test_what_is_no_word_is_refused(fresh: Made) -> None:
    key = taken(fresh)
    answer = fresh.client.post(f"/takes/{key}/word", data={"bar-5": "splendid"}, headers=SAME)
    assert answer.status_code == 422
    assert fresh.store.all(Correction) == ()


def test_who_listened_is_noted_once_a_listening(fresh: Made) -> None:
    key = taken(fresh)
    at = f"{fresh.at}/1/takes/{key}/sound"
    assert fresh.client.get(at).status_code == 200
    for span in ("bytes=0-", "bytes=100-200", "bytes=200-"):
        assert fresh.client.get(at, headers={"range": span}).status_code == 206
    assert [(a.take, a.who, a.what) for a in fresh.store.all(Access)] == [
        (key, "the teacher", "listened")
    ] * 2
    assert fresh.client.get(f"/takes/{key}").text.count("the teacher listened") == 2


def test_a_take_is_deleted_for_good_at_the_desk(fresh: Made) -> None:
    key = taken(fresh)
    fresh.client.post(f"/takes/{key}/word", data={"words": "x"}, headers=SAME)
    answer = fresh.client.post(f"/takes/{key}/delete", headers=SAME)
    assert answer.headers["location"] == f"/players/{TENOR.id}"
    for kind in (Take, Heard, Correction, Access):
        assert fresh.store.all(kind) == ()
    assert list(fresh.store.blobs.digests()) == []
    assert fresh.client.get(f"/takes/{key}").status_code == 404


@pytest.mark.parametrize("key", ["x", "A" * 32, "0" * 32, "..%2f..%2fpassword"])
def test_a_take_that_is_not_there(fresh: Made, key: str) -> None:
    assert fresh.client.get(f"/takes/{key}").status_code == 404
    assert fresh.client.post(f"/takes/{key}/word", headers=SAME).status_code == 404


def test_another_players_key_opens_nothing(fresh: Made) -> None:
    """The same key sent for another lesson neither shows nor replaces what is there."""
    key = taken(fresh)
    other = fresh.client.post(f"{fresh.at}/change", data={"way": "another"}, headers=SAME)
    at = other.headers["location"]
    assert fresh.client.get(f"{at}/1/takes/{key}").status_code == 404
    answer = fresh.client.post(f"{at}/1/takes?key={key}", content=b"MThd", headers=SAME)
    assert answer.status_code == 422
    assert len(fresh.store.all(Take)) == 1


def test_a_studio_that_was_stopped_hears_what_it_kept(fresh: Made) -> None:
    """A take without a hearing is one that the studio was killed over."""
    key = taken(fresh)
    heard = fresh.store.all(Heard)[0].hearing
    fresh.store.delete(fresh.store.all(Heard)[0])
    assert takes.take_up(fresh.studio) == 1
    assert fresh.store.all(Heard)[0].hearing["bars"] == heard["bars"]
    assert takes.take_up(fresh.studio) == 0
    assert fresh.client.get(f"/takes/{key}").status_code == 200
