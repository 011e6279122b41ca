"""The window as a buyer reads it: a field of rooms, the part in which the habitat may stand filled, theirs marked."""

from __future__ import annotations

from nestwright.climate.results import CELSIUS, WindowMap

__all__ = ["stand_svg"]

WIDTH, HEIGHT = 300.0, 230.0
LEFT, TOP, RIGHT, BOTTOM = 44.0, 8.0, 8.0, 40.0
YES, NO, INK = "#7fa9cf", "#f3f0e6", "#22261f"


def stand_svg(window: WindowMap, room: tuple[float, float], words: tuple[str, str, str]) -> str:
    """SVG. `room`: degC and humidity 0 to 1, marked by a ring. `words`: of the two axes, and of the ring."""
    t = window.temperature - CELSIUS
    h = 100 * window.relative_humidity
    t0, t1, h0, h1 = float(t[0]), float(t[-1]), float(h[0]), float(h[-1])
    wide, high = WIDTH - LEFT - RIGHT, HEIGHT - TOP - BOTTOM

    def x(value: float) -> float:
        return LEFT + wide * (value - t0) / (t1 - t0)

    def y(value: float) -> float:
        return TOP + high * (h1 - value) / (h1 - h0)

    dt, dh = wide / max(1, len(t) - 1), high / max(1, len(h) - 1)
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH:.0f} {HEIGHT:.0f}" '
        f'width="{WIDTH:.0f}" height="{HEIGHT:.0f}" font-family="Libertinus Serif" font-size="11" fill="{INK}">',
        f'<rect x="{LEFT}" y="{TOP}" width="{wide}" height="{high}" fill="{NO}"/>',
    ]
    for j in range(len(h)):
        held = window.worst[:, j] >= 0
        k = 0
        while k < len(t):
            if held[k]:
                end = k
                while end + 1 < len(t) and held[end + 1]:
                    end += 1
                left = max(LEFT, x(float(t[k])) - dt / 2)
                right = min(LEFT + wide, x(float(t[end])) + dt / 2)
                top = max(TOP, y(float(h[j])) - dh / 2)
                bottom = min(TOP + high, y(float(h[j])) + dh / 2)
                size = f'width="{right - left:.1f}" height="{bottom - top + 0.4:.1f}"'
                out.append(f'<rect x="{left:.1f}" y="{top:.1f}" {size} fill="{YES}"/>')
                k = end
            k += 1
    for value in range(int(-(-t0 // 5) * 5), int(t1) + 1, 5):
        out.append(
            f'<line x1="{x(value):.1f}" y1="{TOP + high}" x2="{x(value):.1f}" y2="{TOP + high + 4}" stroke="{INK}"/>'
        )
        out.append(f'<text x="{x(value):.1f}" y="{TOP + high + 15}" text-anchor="middle">{value}</text>')
    for value in range(int(-(-h0 // 20) * 20), int(h1) + 1, 20):
        out.append(f'<line x1="{LEFT - 4}" y1="{y(value):.1f}" x2="{LEFT}" y2="{y(value):.1f}" stroke="{INK}"/>')
        out.append(f'<text x="{LEFT - 7}" y="{y(value) + 4:.1f}" text-anchor="end">{value}</text>')
    out.append(f'<text x="{LEFT + wide / 2}" y="{HEIGHT - 8}" text-anchor="middle">{words[0]}</text>')
    middle = TOP + high / 2
    out.append(f'<text x="12" y="{middle}" text-anchor="middle" transform="rotate(-90 12 {middle})">{words[1]}</text>')
    if t0 <= room[0] <= t1 and h0 <= 100 * room[1] <= h1:
        cx, cy = x(room[0]), y(100 * room[1])
        ring = f'cx="{cx:.1f}" cy="{cy:.1f}"'
        out.append(f'<circle {ring} r="6" fill="none" stroke="#ffffff" stroke-width="4"/>')
        out.append(f'<circle {ring} r="6" fill="none" stroke="{INK}" stroke-width="2"/>')
        anchor, at = ("end", cx - 10) if cx > LEFT + wide * 0.6 else ("start", cx + 10)
        out.append(f'<text x="{at:.1f}" y="{cy + 4:.1f}" text-anchor="{anchor}" font-weight="600">{words[2]}</text>')
    out.append("</svg>")
    return "".join(out)
