"""The rhythm section: bass, comping and drums by rule, one declarative file a feel."""
