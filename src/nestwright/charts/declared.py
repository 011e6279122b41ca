"""How pictures are declared: with Altair, which is told not to hold each piece against the grammar while it is made.

That took half of the time of a picture; tests hold every kind of picture against the grammar instead.
"""

import altair as alt
from altair.utils.schemapi import disable_debug_mode

__all__ = ["alt"]

disable_debug_mode()
