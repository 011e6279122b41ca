"""A dossier of 100 pages: proof, map and record at hand, the paper set. python benchmarks/papers.py

The baseline is typst alone on as many pages of the same words and one table a page, without our template, tags or
PDF/A: what is above it is the price of those, of the data on their way as JSON, and of reading every text.
"""

from __future__ import annotations

import time
from datetime import date, timedelta
from io import BytesIO

from pypdf import PdfReader

import cases

COLONIES, VISITS = 44, 120
GOAL = 5.0
"""Seconds for 100 pages."""
NOTE = "leaves taken, brood seen"


def dossier() -> tuple[float, int]:
    """Seconds by the clock for the dossier, and its pages."""
    from nestwright.charts.section import section_svg
    from nestwright.climate.proof import prove
    from nestwright.climate.room_window import window
    from nestwright.climate.rooms import read_room
    from nestwright.habitat.file import read_habitat
    from nestwright.papers.dossier import dossier_pdf
    from nestwright.papers.dossier_content import ColonyRecord, DesignRecord
    from nestwright.wording.proof import limit_rows
    from nestwright.workshop.visits import VisitEntry

    habitat = read_habitat(cases.WORKSHOP / "habitats" / "single-pot.toml")
    proof, field = prove(habitat, read_room("21 degC, 45 %")), window(habitat, points=40)
    first = date(2020, 1, 1)
    visits = tuple(
        VisitEntry(first + timedelta(days=3 * n), garden_ml=100.0 + n, garden_error_pct=10.0, note=NOTE)
        for n in range(VISITS)
    )
    colonies = tuple(
        ColonyRecord(f"Colony {n}", habitat.species, "", (("P-1", first),), visits, ()) for n in range(COLONIES)
    )
    record = DesignRecord("habitats/single-pot.toml", (), colonies, ())
    section, limits = section_svg(habitat), limit_rows(proof, year=False)
    began = time.perf_counter()
    pdf = dossier_pdf(habitat, section, proof, limits, field, record, date(2026, 1, 1))
    return time.perf_counter() - began, len(PdfReader(BytesIO(pdf)).pages)


def bare(pages: int) -> float:
    """Seconds of typst alone for as many pages of tables of the same rows."""
    import typst

    rows = "".join(f"[2020-01-{n % 28 + 1:02d}], [{100 + n} mL ± 10 %], [], [], [{NOTE}]," for n in range(44))
    page = f"#table(columns: (auto, 1fr, 1fr, 1fr, 1fr), stroke: none, {rows})"
    source = "#set text(size: 8.6pt)\n" + "\n#pagebreak()\n".join([page] * pages)
    began = time.perf_counter()
    typst.compile(source.encode(), format="pdf", ignore_system_fonts=True)
    return time.perf_counter() - began


def main() -> None:
    dossier()  # templates and fonts are read once
    seconds, pages = dossier()
    alone = bare(pages)
    print(f"dossier of {pages} pages: {seconds:.2f} s, {100 * seconds / pages:.2f} s for 100 (goal {GOAL:g} s)")
    print(f"typst alone, {pages} pages of tables: {alone:.2f} s; ratio {seconds / alone:.1f}")


if __name__ == "__main__":
    main()
