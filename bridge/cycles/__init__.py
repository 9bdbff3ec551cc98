"""Layers and where they are home together."""
