"""`nestwright parcel`: carry one parcel along its way, before it is sent."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from nestwright.cli.options import PaperLanguage, number
from nestwright.errors import InputError

__all__ = ["parcel"]


def parcel(
    file: Annotated[Path, typer.Argument(help="The parcel file.", show_default=False)],
    delay: Annotated[
        float,
        typer.Option("--delay", parser=number("--delay", 0, 480), metavar="HOURS", help="Hours that it comes late."),
    ] = 0.0,
    out: Annotated[
        Path | None, typer.Option("--out", help="Draw the journey, as .svg or .png.", show_default=False)
    ] = None,
    papers: Annotated[
        Path | None,
        typer.Option("--papers", help="Write packing instruction, label and card, as .pdf.", show_default=False),
    ] = None,
    language: PaperLanguage = "en",
    risk: Annotated[
        bool, typer.Option("--risk", help="Its risk over many parcels instead, as `nestwright parcels risk`.")
    ] = False,
    by_day: Annotated[
        str | None,
        typer.Option("--by-day", help="The same for days of dispatch, 2027-01-11..2027-01-22.", show_default=False),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Carry a parcel of garden and ants along its way, on paper.

    Prints temperature, humidity and air at the garden over the legs, the limit of the species card that goes first and
    when, what the journey costs the garden, and what that rests on. It gives no permission: ask authority and carrier.
    """
    if risk or by_day:
        from nestwright.cli.parcel_risk import risk as over_many

        if delay or out is not None or papers is not None:
            flag = "--delay" if delay else "--out" if out is not None else "--papers"
            raise InputError("goes with one parcel, not with many", field=flag, allowed="without --risk and --by-day")
        over_many(file, by_day=by_day, json=json)
        return
    from nestwright.cli.pictures import check_picture_name, write_picture
    from nestwright.files import check_place, write_whole

    if out is not None:
        check_picture_name(out)
    if papers is not None:
        from nestwright.papers.words import words_of

        words_of(language)
        check_place(papers, ".pdf", field="--papers")

    from nestwright.cli.progress import progress_bar
    from nestwright.parcel.carry import carry
    from nestwright.parcel.file import read_parcel

    read = read_parcel(file)
    with progress_bar(json) as bar:
        task = bar.add_task("carrying the parcel", total=1.0)
        passage = carry(read, delay_hours=delay, progress=lambda share: bar.update(task, completed=share))
    if out is not None:
        from nestwright.charts.parcel import parcel_chart

        write_picture(parcel_chart(passage), out)
    if papers is not None:
        from nestwright.papers.parcel import parcel_papers

        write_whole(papers, parcel_papers(read, passage, language))
    if json:
        from nestwright.cli.output import print_json

        print_json(passage)
        return
    from nestwright.cli.parcel_text import print_passage

    print_passage(passage)
    for written in (out, papers):
        if written is not None:
            print(f"\nWritten: {written}")
