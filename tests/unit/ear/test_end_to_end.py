from dataclasses import replace
from pathlib import Path

import soundfile

from changewright.ear.audio import load_audio
from changewright.ear.hearing import Fault
from changewright.ear.judge import judge
from changewright.ear.transcribe import transcribe
from tests.unit.ear.exercises import clock_of, recorded, root_up, slots


def test_a_recorded_take_with_three_known_mistakes_gets_exactly_those_three(tmp_path: Path) -> None:
    sheet = root_up()
    played = slots(sheet, latency_s=0.08)
    beat = clock_of(sheet).quarter_s
    played[9] = replace(played[9], midi=played[9].midi + 1)
    late = played[24]
    played[24] = replace(late, onset_s=late.onset_s + beat / 2, length_s=late.length_s / 3)
    del played[17]
    sound = recorded(played)
    soundfile.write(tmp_path / "take.wav", sound.samples, sound.rate)

    take = transcribe(load_audio(tmp_path / "take.wav"), instrument=sheet.instrument)
    hearing = judge(sheet, take, clock_of(sheet))

    assert hearing.judged, hearing.reason
    assert [(m.bar, m.beat, m.fault) for m in hearing.mistakes] == [
        (3, "2", Fault.WRONG_NOTE),
        (5, "2", Fault.NOT_HEARD),
        (7, "1", Fault.LATE),
    ]
