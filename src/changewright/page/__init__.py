"""Engraving: a sheet to a page, pages to a PDF."""
