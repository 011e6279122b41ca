"""`nestwright parts FILE`: what a habitat is made of, checked against what was proved, and the files to make it by."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from nestwright.errors import InputError

if TYPE_CHECKING:
    from nestwright.habitat.findings import Finding
    from nestwright.parts.making import Made
    from nestwright.parts.process import Broken


def parts(
    file: Annotated[Path, typer.Argument(help="The habitat file.", show_default=False)],
    out: Annotated[
        Path | None,
        typer.Option("--out", help="A new folder for the files; without it none are written.", show_default=False),
    ] = None,
    only: Annotated[
        str, typer.Option("--only", help="Only parts of a kind, or one by its name, or KIND/NAME.", show_default=False)
    ] = "",
    format_: Annotated[
        str,
        typer.Option(
            "--format",
            help="Files to write, with commas: step, stl, 3mf, dxf, svg, gltf, drawing; else all.",
            show_default=False,
        ),
    ] = "",
    step: Annotated[str, typer.Option("--step", help="Form of STEP: 242 or 214.")] = "242",
    kerf: Annotated[
        str | None,
        typer.Option(
            "--kerf",
            help="Width of the laser's cut, as \"0.15 mm\"; else that of the workshop's machines.toml.",
            show_default=False,
        ),
    ] = None,
    unmarked: Annotated[bool, typer.Option("--unmarked", help="Engrave no names on what the laser cuts.")] = False,
    serial: Annotated[
        str,
        typer.Option(
            "--serial",
            help="Serial number of the build, engraved beside the names of what the laser cuts.",
            show_default=False,
        ),
    ] = "",
    assembly: Annotated[
        Path | None,
        typer.Option("--assembly", help="Write the assembly instruction, as .pdf.", show_default=False),
    ] = None,
    language: Annotated[str, typer.Option("--language", help="Of the assembly instruction: en or de.")] = "en",
    as_json: Annotated[bool, typer.Option("--json", help="Print the result as JSON.")] = False,
) -> None:
    """Turn a habitat into its parts: list, checks against what was proved, cautions, and files to make them by.

    A size that is more than 1 % off what was proved, two parts in one place, or a part that cannot be taken out is an
    error, and no file is written.
    """  # fmt: skip
    from nestwright.cli.making import machines_for
    from nestwright.cli.progress import progress_bar
    from nestwright.data import load_species
    from nestwright.habitat.file import read_habitat
    from nestwright.parts.ants import ant_findings
    from nestwright.parts.folder import formats_of
    from nestwright.parts.making import make_parts
    from nestwright.parts.process import broken_rules

    formats, width = formats_of(format_), _kerf(kerf)
    if step not in ("242", "214"):
        raise InputError("there is no such form of STEP", field="--step", found=repr(step[:20]), allowed="242, 214")
    if serial:
        _check_serial(serial, out, unmarked)
    if out is not None:
        from nestwright.new_folder import check_new_folder

        check_new_folder(out, "a habitat's parts")
    if assembly is not None:
        from nestwright.files import check_place
        from nestwright.papers.words import words_of

        if only:
            raise InputError("needs all parts", field="--assembly", allowed="without --only")
        words_of(language)
        check_place(assembly, ".pdf", field="--assembly")
    habitat = read_habitat(file)
    rules = machines_for(None, file, needed=False).processes
    with progress_bar(quiet=as_json) as bar:
        task = bar.add_task("making the parts", total=1.0)
        made = make_parts(habitat, only, report=lambda share: bar.update(task, completed=share * (0.5 if out else 1)))
        made.refuse()
        index = None
        if out is not None:
            from nestwright.parts.folder import write_parts

            index = write_parts(
                made, out, formats=formats, standard=step, kerf=width, named=not unmarked, serial=serial,
                processes=rules,
                report=lambda share: bar.update(task, completed=0.5 + share / 2, description="writing the files"),
            )  # fmt: skip
        if assembly is not None:
            from nestwright.files import write_whole
            from nestwright.papers.assembly import assembly_pdf

            bar.update(task, description="drawing the assembly")
            write_whole(assembly, assembly_pdf(made, language=language))
    carved = _engraved(made, serial) if index is not None and not unmarked else []
    broken = broken_rules(made.assembly, rules, made.measured)
    ants = ant_findings(habitat, made.assembly, load_species(habitat.species), rules) if not only else ()
    if as_json:
        from nestwright.cli.output import print_json

        steps = None
        if assembly is not None:
            from nestwright.papers.assembly import steps_of

            steps = [one.to_dict() for one in steps_of(made)]
        print_json({**_as_dict(made, broken, ants, index), "engraved": carved, "assembly": steps})
    else:
        _print(made, broken, ants, index, out)
        if serial and index is not None:
            without = [one["part"] for one in carved if serial not in one["text"]]
            left = f"; no room on {', '.join(without)}" if without else ""
            print(
                f"Engraved with {serial}: {len(carved) - len(without)} of {len(carved)} parts that the laser cuts{left}"
            )
        if assembly is not None:
            print(f"Written: {assembly}")
        if told := _against(broken, ants):
            print(f"\n{told}")


def _check_serial(serial: str, out: Path | None, unmarked: bool) -> None:
    from nestwright.parts.strokes import not_engraved

    if out is None or unmarked:
        raise InputError("has nothing to be engraved on", field="--serial", allowed="with --out, without --unmarked")
    if len(serial) > 40:
        raise InputError("is too long", field="--serial", found=f"{len(serial)} characters", allowed="up to 40")
    if left := not_engraved(serial):
        allowed = "letters, digits, blanks and - . / ,"
        raise InputError("has signs that cannot be engraved", field="--serial", found=repr(left), allowed=allowed)


def _engraved(made: Made, serial: str) -> list[dict[str, str]]:
    """What is engraved on each part that the laser cuts, "" where there is no room."""
    from nestwright.parts.files_flat import engraving

    cut = [p for p in made.assembly.parts if p.name in made.solids and p.way == "laser" and p.sheet is not None]
    return [{"part": part.name, "text": engraving(part, serial)[0]} for part in cut if part.kind != "mesh"]


def _against(broken: tuple[Broken, ...], ants: tuple[Finding, ...]) -> str:
    """The last line where a rule is broken: the files are there, but they are not to be made as they are."""
    worst = [one.severity for one in broken] + [one.severity for one in ants]
    count = worst.count("error")
    if not count:
        return ""
    many = "1 RULE IS BROKEN" if count == 1 else f"{count} RULES ARE BROKEN"
    return f"{many}, see Rules above: do not make these parts before the design is changed."


def _kerf(text: str | None) -> float | None:
    if text is None:
        return None
    from nestwright.units import UnitProblem, parse_quantity

    try:
        width = parse_quantity(text, "gap")
    except UnitProblem as problem:
        raise InputError(problem.message, field="--kerf", found=problem.found, allowed=problem.allowed,
                         nearest=problem.nearest) from None  # fmt: skip
    if width > 0.005:
        raise InputError("is no width of a laser's cut", field="--kerf", found=text, allowed="0 mm to 5 mm")
    return width


def _as_dict(made: Made, broken: tuple[Broken, ...], ants: tuple[Finding, ...], index: Any) -> dict[str, Any]:
    from nestwright.parts.cautions import making_cautions
    from nestwright.parts.folder import part_dict

    return {
        "habitat": made.assembly.habitat,
        "revision": made.assembly.revision,
        "habitat_sha256": made.assembly.sha256,
        "parts": [part_dict(made, part) for part in made.assembly.parts],
        "mass_g": made.mass * 1e3,
        "volume_mL": made.volume * 1e6,
        "compared": [row.to_dict() for row in made.compared],
        "overlaps": [one.to_dict() for one in made.overlaps],
        "taken_apart": made.taken.to_dict() if made.taken else None,
        "rules": [one.to_dict() for one in broken],
        "ants": [one.to_dict() for one in ants],
        "cautions": list(making_cautions(made.assembly)),
        "files": index["files"] if index else [],
    }


def _print(made: Made, broken: tuple[Broken, ...], ants: tuple[Finding, ...], index: Any, out: Path | None) -> None:
    from nestwright.cli.output import console, figure, heading, plain, significant, table
    from nestwright.parts.cautions import making_cautions
    from nestwright.parts.making import size_text

    say, assembly = console(), made.assembly
    say.print(
        f"[bold]{plain(assembly.habitat)}[/bold], revision {plain(assembly.revision)}: {len(assembly.parts)} parts"
    )
    rows = []
    for part in assembly.parts:
        size = made.measured.get(part.name)
        rows.append(
            (part.name, part.way, part.material, str(part.quantity), size_text(size) if size else "",
             significant(size.mass * 1e3, 3) if size else "")
        )  # fmt: skip
    say.print(table(("part", "way", "material", "count", "size mm", "mass g"), rows, left=(0, 1, 2)))
    say.print(
        f"Together {significant(made.mass, 3)} kg without fittings, {significant(made.volume * 1e6, 3)} mL of material."
    )
    notes = [(p.name, p.note) for p in assembly.parts if p.note]
    if notes:
        say.print(heading("Notes"))
        say.print(table(("", ""), notes, left=(0, 1)))
    if made.compared:
        _print_checks(made, say)
    if broken or ants:
        say.print(heading("Rules"))
        for one in broken:
            say.print(plain(f"({one.severity}) {one.message}"))
        for finding in ants:
            say.print(plain(f"({finding.severity}) {finding}"))
    say.print(heading("Cautions"))
    for text in making_cautions(assembly):
        say.print(plain(text))
    if index is not None:
        megabytes = sum(one["bytes"] for one in index["files"]) / 1e6
        say.print(
            f"\nWritten: {len(index['files'])} files, {figure(megabytes, 1)} MB, and parts.json, in {plain(str(out))}"
        )


def _print_checks(made: Made, say: Any) -> None:
    from nestwright.cli.output import figure, heading

    say.print(heading("Made as proved"))
    worst = max(abs(row.off) for row in made.compared)
    say.print(
        f"{len(made.compared)} sizes measured on the solids are what the proof used, within {figure(worst * 100, 1)} %."
    )
    steps = made.taken.steps if made.taken else ()
    sideways = sum(way != "up" for _, way in steps)
    say.print(
        f"No two parts share space. All come out: {len(steps) - sideways} groups straight up, {sideways} sideways, "
        "parts that are glued or pressed together as one."
    )
