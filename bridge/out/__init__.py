"""Exporters: one module a format, each writing from the one list of what a song contains."""
