"""Charts: a tune's changes as written, read from text or MusicXML, and unrolled as played."""
