"""Lines and text of a drawing, as SVG. All text is escaped here."""

from __future__ import annotations

from html import escape

__all__ = ["line", "text"]


def line(ends: tuple[float, float, float, float], style: str) -> str:
    x1, y1, x2, y2 = ends
    return f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" {style}/>'


def text(
    x: float, y: float, content: str, *, anchor: str = "", size: int = 14, weight: int = 400, colour: str = ""
) -> str:
    more = f' text-anchor="{anchor}"' if anchor else ""
    more += f' font-size="{size}"' if size != 14 else ""
    more += f' font-weight="{weight}"' if weight != 400 else ""
    more += f' fill="{colour}"' if colour else ""
    return f'<text x="{x:.1f}" y="{y:.1f}"{more}>{escape(content)}</text>'
