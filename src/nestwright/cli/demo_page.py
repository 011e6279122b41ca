"""The page that the demo writes: one static file that asks nothing of any other place."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING

from nestwright.cli.output import CAUTIONS, figure, share_text
from nestwright.cli.proof_text import proof_sentence, water_and_heat
from nestwright.wording.proof import limit_rows

if TYPE_CHECKING:
    from nestwright.climate.results import WindowMap, YearProof

__all__ = ["page", "picture_html", "table_html"]

SHORT = 24
"""Letters in a cell that is not broken."""

STYLE = """
:root { color-scheme: light dark; --ink: #22261f; --paper: #fbfaf6; --line: #cfcabb; --quiet: #5c6156; }
@media (prefers-color-scheme: dark) { :root { --ink: #e9e6dc; --paper: #1d201b; --line: #454a40; --quiet: #a9ad9f; } }
body { font: 17px/1.5 system-ui, sans-serif; color: var(--ink); background: var(--paper); margin: 0; }
main { max-width: 62rem; margin: 0 auto; padding: 2rem 1.25rem 4rem; }
h1 { font-weight: 600; font-size: 1.6rem; margin: 0 0 .25rem; }
h2 { font-weight: 600; font-size: 1.15rem; margin: 2.5rem 0 .75rem; }
p, li { max-width: 44rem; }
.quiet, figcaption { color: var(--quiet); }
.scroll { overflow-x: auto; }
table { margin-bottom: 1rem; border-collapse: collapse; font-variant-numeric: tabular-nums; }
th, td { text-align: left; padding: .3rem 1rem .3rem 0; border-bottom: 1px solid var(--line); }
th { font-weight: 600; }
.whole { white-space: nowrap; }
td:not(.whole) { min-width: 11rem; }
@media (max-width: 40rem) { body { font-size: 16px; } table { font-size: .9em; } }
section { border-top: 1px solid var(--line); margin-top: 3rem; padding-top: 2rem; }
figure { margin: 0 0 1.5rem; }
figure img { max-width: 100%; height: auto; background: #fff; }
code { font-size: .92em; }
"""


def page(year: YearProof, window: WindowMap, habitat_file: str, room_file: str, steady: str, colony: str = "") -> str:
    """HTML of the demo's result: the verdict, the limits, the three pictures, and how to get each again.

    `colony` is the HTML of the colony's part, which stands before the cautions.
    """
    proof = year.mean
    head, rows = limit_rows(proof, year=True)
    weeks = "".join(
        f"<li>week of {escape(week.date[:10])}: {escape(week.limit)}, {figure(week.hours_outside, 0)} h outside</li>"
        for week in year.worst_weeks
    )
    share = window.share_inside
    inside = "" if share is None else f" Of the room's hours {share_text(share * 100)} lie inside."
    water = "".join(f"<li>{escape(line)}</li>" for line in water_and_heat(proof))
    cautions = "".join(f"<p>{escape(text)}</p>" for text in CAUTIONS.values())
    return f"""<!doctype html>
<html lang="en">
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{escape(proof.habitat)}: proof over a year</title>
<style>{STYLE}</style>
<main>
<h1>{escape(proof.habitat)}, revision {escape(proof.revision)}</h1>
<p class="quiet">for {escape(proof.species)}, in {escape(proof.room)}</p>
<p>{escape(" ".join(proof_sentence(proof)))}</p>
<h2>Limits, each at its worst hour of the year</h2>
<div class="scroll">{table_html(head, rows)}</div>
<h2>Water and heat</h2>
<ul>{water}</ul>
<h2>The year</h2>
{picture_html("year", "Temperature, humidity and carbon dioxide through the year.")}
{f"<p>Worst weeks:</p><ul>{weeks}</ul>" if weeks else "<p>No week with an hour outside a limit.</p>"}
<p><code>{escape(f"nestwright climate {habitat_file} --room {room_file} --year")}</code></p>
<h2>The window</h2>
{picture_html("window", "Room air at which the habitat holds its limits, with the year's hours laid over it." + inside)}
<p><code>{escape(f"nestwright window {habitat_file} --room {room_file} --out window.svg")}</code></p>
<h2>The section</h2>
{picture_html("section", f"Cross-section in a room at {steady}.")}
<p><code>{escape(f"nestwright section {habitat_file}")}</code></p>
{colony}<h2>Cautions</h2>
{cautions}
</main>
</html>
"""


def table_html(head: list[str], rows: list[list[str]]) -> str:
    """A table. Short cells stay on one line, so that no date is broken; a wide table is moved sideways."""

    def cell(text: str) -> str:
        return f"<td{' class=whole' if len(text) <= SHORT else ''}>{escape(text)}</td>"

    top = "".join(f"<th scope=col>{escape(name)}</th>" for name in head)
    body = "".join("<tr>" + "".join(map(cell, row)) + "</tr>" for row in rows)
    return f"<table><thead><tr>{top}</tr></thead><tbody>{body}</tbody></table>"


def picture_html(name: str, words: str) -> str:
    """A picture of the demo with its words below it."""
    text = escape(words)
    return f'<figure><img src="pictures/{name}.svg" alt="{text}"><figcaption>{text}</figcaption></figure>'
