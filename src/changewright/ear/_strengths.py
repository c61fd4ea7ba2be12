"""What worked, and what to do next week."""

from changewright.ear._words import bars_text
from changewright.ear.hearing import BarHearing, Hearing

__all__ = ["strength", "suggestion"]

Said = tuple[str, tuple[int, ...]]
STEADY_S = 0.03
LONG_RUN = 4


def strength(hearing: Hearing) -> Said | None:
    """The thing that worked best: a run of whole bars, steady time, or the landings."""
    run = _longest_run(hearing)
    if len(run) >= LONG_RUN or (run and len(run) == len(hearing.bars)):
        where = bars_text(run).capitalize()
        text = f"{where} are all there: every note that is written, in its place."
        return text, tuple(run)
    timing = hearing.timing
    if timing.counted >= 8 and timing.spread_s <= STEADY_S:
        bars = tuple(b.number for b in hearing.bars)
        return "Your time is steady: the notes sit in one place against the beat.", bars
    landed = [f for f in hearing.findings if f.ask.kind == "lands"]
    met = [f.ask.bar for b in hearing.bars for f in b.met if f.ask.kind == "lands"]
    if landed and len(met) * 2 >= len(landed):
        return f"The landings work: {len(met)} of {len(landed)} arrive where asked.", tuple(met)
    if run:
        return f"{bars_text(run).capitalize()} came out as written; that is your anchor.", tuple(
            run
        )
    return None


def _longest_run(hearing: Hearing) -> list[int]:
    best: list[int] = []
    run: list[int] = []
    for bar in hearing.bars:
        run = [*run, bar.number] if _whole(bar) else []
        best = run if len(run) > len(best) else best
    return best


def _whole(bar: BarHearing) -> bool:
    return bool(bar.met) and not bar.missed and not bar.shift_beats and not bar.unsure


_NEXT = {
    "form": "Sing the roots through the whole chorus before you play a note.",
    "stop": "Record one take next week in which you never stop, whatever happens.",
    "start": "Start three takes in a row right on the first beat, then play on.",
    "drift": "Record one chorus with the click on 2 and 4 only.",
    "wrong": "Name each chord tone aloud in time once, then play.",
    "late": "Play only the note on beat 1 of each bar for a chorus, then fill in the rest.",
    "not heard": "Play the line once all legato, so that no note can drop out.",
    "other": "Play it once slowly with your eyes on the page, and once from memory.",
}


def suggestion(hearing: Hearing, troubles: list[str]) -> Said:
    """One thing for next week: about the second trouble if there is one, else the first."""
    if troubles:
        kind = troubles[1] if len(troubles) > 1 else troubles[0]
        return _NEXT[kind], ()
    unheard = [b.number for b in hearing.bars if b.unsure]
    if unheard:
        text = (
            f"{bars_text(unheard).capitalize()} could not be heard clearly in places; listen to "
            "those yourself, and record nearer to the microphone."
        )
        return text, tuple(unheard)
    return "Play the same on another day in another key, before you go any faster.", ()
