"""The studio: Shelf, Desk and Stand in a browser, served from this machine."""
