"""Notes, lines, bars and sheets; the clock that performs them; MusicXML and MIDI of a sheet."""
