"""Players of the roster at the Desk: the next lesson, the week, consent, and leaving for good."""

import io
import json
import re
import zipfile
from datetime import timedelta
from secrets import token_hex

import pytest
from starlette.testclient import TestClient

from changewright.store.leaving import expire_recordings
from changewright.store.records import Consent, Student, Take
from tests.unit.studio.manners import LESSON, SAME, TENOR, Made
from tests.unit.studio.test_stand import midi_take, told

AT = f"/players/{TENOR.id}"
CLARINET = {
    "nickname": "Clarinet, Monday",
    "instrument": "clarinet",
    "level": "2",
    "age_band": "13 to 15",
    "minutes": "25",
    "lesson_day": "0",
    "day": ["1", "3", "5"],
}


def add(client: TestClient, **changes: object) -> str:
    answer = client.post("/players", data={**CLARINET, **changes}, headers=SAME)
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


def test_a_player_is_put_on_the_roster(client: TestClient) -> None:
    at = add(client)
    html = client.get(at).text
    assert "clarinet · level 2 · 13 to 15 · lesson on Monday" in html
    assert "First lesson" in html
    assert f'href="{at}"' in client.get("/").text


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("nickname", ""),
        ("nickname", "x" * 61),
        ("nickname", TENOR.nickname.upper()),
        ("instrument", "kazoo"),
        ("level", "99"),
        ("age_band", "old"),
        ("minutes", "4"),
        ("minutes", "1e3"),
        ("day", []),
        ("day", ["7"]),
        ("lesson_day", "-1"),
        ("home_key", "H"),
    ],
)
def test_what_is_no_player_is_told(client: TestClient, field: str, value: object) -> None:
    answer = client.post("/players", data={**CLARINET, field: value}, headers=SAME)
    assert answer.status_code == 422, answer.text
    assert 'class="fault"' in answer.text
    assert "Clarinet, Monday" not in client.get("/").text


@pytest.mark.parametrize("player", ["x", "0" * 16, "0" * 17, "%2e%2e%2fpassword", TENOR.nickname])
def test_a_player_who_is_not_there(client: TestClient, player: str) -> None:
    assert client.get(f"/players/{player}").status_code == 404
    for way in ("", "/notes", "/week", "/consent", "/consent/withdraw", "/erase", "/revoke"):
        told = {"text": "x", "given_by": "x", "sure": "yes", **CLARINET}
        answer = client.post(f"/players/{player}{way}", data=told, headers=SAME)
        assert answer.status_code == 404, way


def test_a_lesson_takes_what_is_left_open_from_the_player(client: TestClient) -> None:
    player = add(client).rpartition("/")[2]
    wanted = {"chart": "quayside-blues@0", "player": player, "family": "root-up"}
    lesson = client.post("/lessons", data=wanted, headers=SAME).headers["location"]
    assert "clarinet · level 2" in client.get(lesson).text
    nobody = client.post("/lessons", data={**wanted, "player": ""}, headers=SAME)
    assert nobody.status_code == 422, "nobody has an instrument"
    stranger = client.post("/lessons", data={**wanted, "player": "0" * 16}, headers=SAME)
    assert stranger.status_code == 404


def test_a_tune_and_its_day_are_kept_and_stand_in_the_form(client: TestClient) -> None:
    form = {
        "nickname": TENOR.nickname,
        "instrument": TENOR.instrument,
        "age_band": "adult",
        "day": ["0", "2"],
        "tune": "rowlock-waltz@0",
        "concert": "2031-04-18",
    }
    assert client.post(AT, data=form, headers=SAME).status_code == 303
    html = client.get(AT).text
    assert "Rowlock Waltz by 18 April" in html
    assert re.search(r'value="rowlock-waltz@0" selected', html)
    assert client.post(AT, data={**form, "concert": "soon"}, headers=SAME).status_code == 422
    client.post("/undo", headers=SAME)
    assert "Rowlock Waltz by" not in client.get(AT).text


def test_a_week_is_planned_and_printed_and_seen_across_the_roster(client: TestClient) -> None:
    assert client.get(f"{AT}/week.pdf").status_code == 422, "there is none yet"
    add(client)
    assert client.post(f"{AT}/week", data={"hold": "yes"}, headers=SAME).status_code == 303
    assert client.get(f"{AT}/week.pdf").content.startswith(b"%PDF")
    assert client.get(f"{AT}/lesson-plan.pdf").content.startswith(b"%PDF")
    html = client.get("/week").text
    assert "20 min" in html
    assert "no plan" in html, "the clarinet has none"
    assert client.post("/week", headers=SAME).status_code == 303
    html = client.get("/week").text
    assert "no plan" not in html
    assert html.count("<strong>Lesson</strong>") == 2
    assert "no plan" in client.get("/week?from=2031-01-06").text
    assert client.get("/week?from=now").status_code == 422


def test_a_note_is_written_down(client: TestClient) -> None:
    for text, code in (("Lost the form in bar 9; count aloud.", 303), ("  ", 422)):
        assert client.post(f"{AT}/notes", data={"text": text}, headers=SAME).status_code == code
    assert "count aloud" in client.get(AT).text


def test_a_minor_is_recorded_only_after_a_guardians_word(fresh: Made) -> None:
    client = fresh.client
    player = add(client)
    wanted = {**LESSON, "player": player.rpartition("/")[2], "level": "2"}
    at = client.post("/lessons", data=wanted, headers=SAME).headers["location"]
    html = client.get(f"{at}/1").text
    assert "Nothing is recorded before a guardian has agreed" in html
    assert not told(html)["consent"]
    assert client.post(f"{at}/consent", headers=SAME).status_code == 422, "not by himself"
    key = token_hex(16)
    send = {"content": midi_take(fresh), "headers": SAME}
    assert client.post(f"{at}/1/takes?key={key}", **send).status_code == 422
    assert fresh.store.all(Take) == ()
    assert client.post(f"{player}/consent", data={"given_by": ""}, headers=SAME).status_code == 422
    client.post(f"{player}/consent", data={"given_by": "the mother"}, headers=SAME)
    assert told(client.get(f"{at}/1").text)["consent"]
    assert client.post(f"{at}/1/takes?key={key}", **send).status_code == 200
    client.post(f"{player}/consent/withdraw", headers=SAME)
    assert client.post(f"{at}/1/takes?key={token_hex(16)}", **send).status_code == 422
    assert [c.withdrawn is None for c in fresh.store.all(Consent)] == [False]


def test_a_recording_goes_by_itself_and_the_hearing_stays(fresh: Made) -> None:
    client, at, _ = fresh
    client.post(f"{at}/consent", headers=SAME)
    key = token_hex(16)
    client.post(f"{at}/1/takes?key={key}", content=midi_take(fresh), headers=SAME)
    [take] = fresh.store.all(Take)
    assert take.expires == take.received.date() + timedelta(days=365)
    expire_recordings(fresh.store, take.expires)
    assert client.get(f"{at}/1/takes/{key}/sound").status_code == 404
    html = client.get(f"{at}/1/takes/{key}").text
    assert "What worked" in html
    assert "<audio" not in html
    assert client.get(f"/takes/{key}").status_code == 200


def test_everything_kept_is_handed_over_and_goes_for_good(fresh: Made) -> None:
    client, at, root = fresh
    client.post(f"{at}/consent", headers=SAME)
    client.post(f"{at}/1/takes?key={token_hex(16)}", content=midi_take(fresh), headers=SAME)
    packed = zipfile.ZipFile(io.BytesIO(client.get(f"{AT}/export.zip").content))
    kept = json.loads(packed.read("player.json"))
    assert len(kept["takes"]) == len(kept["hearings"]) == len(kept["consents"]) == 1
    assert client.post(f"{AT}/erase", headers=SAME).status_code == 422, "not by a slip"
    assert client.get(AT).status_code == 200
    assert client.post(f"{AT}/erase", data={"sure": "yes"}, headers=SAME).status_code == 303
    assert client.get(AT).status_code == client.get(at).status_code == 404
    assert fresh.store.all(Student) == fresh.store.all(Take) == ()
    assert list(fresh.store.blobs.digests()) == []
    assert list((root / "lessons").iterdir()) == list((root / "requests").iterdir()) == []


def test_what_the_teacher_noted_can_be_taken_back(client: TestClient) -> None:
    client.post(f"{AT}/notes", data={"text": "Sore lip."}, headers=SAME)
    assert "Take back: add lesson note" in client.get("/").text
    assert client.post("/undo", headers=SAME).status_code == 303
    assert "Sore lip" not in client.get(AT).text
