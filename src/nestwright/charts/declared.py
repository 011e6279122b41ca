"""How pictures are declared: with Altair, which is told not to hold each piece against the grammar while it is made.

That took half of the time of a picture; tests hold every kind of picture against the grammar instead.
"""

from __future__ import annotations

from typing import Any

import altair as alt
from altair.utils.schemapi import disable_debug_mode

__all__ = ["Layer", "alt"]

disable_debug_mode()


class Layer(alt.Chart):
    """A layer that is not changed once it is made.

    Altair copies every layer to its last word at each level that is put around it; of this one it copies the outside.
    """

    def __deepcopy__(self, memo: Any) -> Layer:
        return self.copy(deep=False)
