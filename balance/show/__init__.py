"""Answers put before a person: text, tables, pages. Nothing is solved here."""
