"""Commands that take an option of one value once: of two values given neither is dropped without a word."""

from __future__ import annotations

from collections import Counter
from typing import Any

import typer
from typer.core import TyperCommand

from nestwright.errors import InputError

__all__ = ["Commands"]


class _Once(TyperCommand):
    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        told = list(args)  # which reading uses up
        left = super().parse_args(ctx, args)
        _, _, order = self.make_parser(ctx).parse_args(args=told)
        counted: Counter[Any] = Counter(order)
        for option in [one for one, times in counted.items() if times > 1]:
            # a flag given again says nothing else, unless it has a counterpart
            if not option.multiple and (option.secondary_opts or not option.is_flag):
                raise InputError("is given more than once", field=option.opts[0], allowed="once")
        return left


class Commands(typer.Typer):
    """A group of commands with one look."""

    def __init__(self, **settings: Any) -> None:
        super().__init__(add_completion=False, rich_markup_mode=None, **settings)

    def command(self, name: str | None = None, **settings: Any) -> Any:
        return super().command(name, cls=_Once, **settings)
