"""The mark of a text that is translated later, where it is shown."""

__all__ = ["N_"]


def N_(text: str) -> str:  # noqa: N802 - gettext's usual mark
    """The text itself."""
    return text
