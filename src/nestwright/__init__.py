"""Habitats for fungus-growing ants: designed, proved and kept."""

__version__ = "0.1.0"
