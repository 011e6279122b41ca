"""Zones, links and sources as arrays; their steady and transient solution."""

from nestwright.compiled import keep_compiled

keep_compiled()
