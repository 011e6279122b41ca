"""Write docs/guide/commands.md from the program's own help (`make docs`)."""

from pathlib import Path

import typer

from nestwright.cli.main import COMMANDS, app, load

PAGE = Path(__file__).parent / "guide" / "commands.md"
TOP = """# Commands

Made by `make docs` from the program's own help; do not edit. Exit codes: 0 done (whatever the verdict), 1 a fault of
the program, 2 input that cannot be used, 130 stopped by the user. A result goes to the standard output, a message about
a fault to the error output, with `--json` [as data](json.md) to the standard output too. Files are written whole or not
at all. An option of one value is given once.

"""


def help_of(command: object, name: str) -> str:
    """The help text of one command at 100 columns, whatever the terminal."""
    context = command.make_context(name, [], resilient_parsing=True, max_content_width=100, terminal_width=100)  # type: ignore[attr-defined]
    return "\n".join(line.rstrip() for line in command.get_help(context).splitlines())  # type: ignore[attr-defined]


def page() -> str:
    """The whole page."""
    parts = [TOP, "## nestwright\n\n```text\n", help_of(typer.main.get_command(app), "nestwright"), "\n```\n"]
    for name in COMMANDS:
        command = load(name)
        parts += [f"\n## {name}\n\n```text\n", help_of(command, f"nestwright {name}"), "\n```\n"]
        for part, inner in getattr(command, "commands", {}).items():
            parts += [f"\n### {name} {part}\n\n```text\n", help_of(inner, f"nestwright {name} {part}"), "\n```\n"]
    return "".join(parts)


if __name__ == "__main__":
    PAGE.write_text(page())
    print(f"wrote {PAGE.relative_to(PAGE.parents[2])}")
