"""The options of `make`, built from the one table that tells of them, and how values are read."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path
from typing import Any, Literal, TypeVar, get_args, get_origin, get_type_hints

import click

from ghostprep.cli import PATH
from ghostprep.prepare.recipe import Option, Recipe

Command = TypeVar("Command", bound=Callable[..., Any])


class ReadBy(click.ParamType[object]):
    """A value that is read by a function which raises ValueError where the text is none."""

    def __init__(self, read: Callable[[str], object], name: str) -> None:
        self._read = read
        self.name = name

    def convert(self, value: object, param: click.Parameter | None, ctx: click.Context | None) -> object:
        """Return what the text says; what is no text has been read already."""
        if not isinstance(value, str):
            return value
        try:
            return self._read(value)
        except ValueError as error:
            self.fail(str(error), param, ctx)


def recipe_options(*names: str) -> Callable[[Command], Command]:
    """Give a command the options of these names, in the recipe's order; all of them if none is named."""
    hints = get_type_hints(Recipe, include_extras=True)
    chosen = [field for field in fields(Recipe) if field.name in names or not names]

    def decorate(command: Command) -> Command:
        for field in reversed(chosen):  # the last decorator is shown first
            told = hints[field.name]
            command = _option(field.name, field.default, get_args(told)[0], told.__metadata__[0])(command)
        return command

    return decorate


def _option(name: str, default: object, kind: object, option: Option) -> Callable[[Command], Command]:
    flag = f"--{name.replace('_', '-')}"
    if kind is bool:
        if default:
            return click.option(f"{flag}/--no-{flag[2:]}", default=True, show_default=True, help=option.help)
        return click.option(flag, is_flag=True, help=option.help)
    return click.option(
        flag,
        type=_type(kind, option),
        metavar=option.shown,
        help=option.help,
        default=default,
        show_default=default is not None,
    )


def _type(kind: object, option: Option) -> click.ParamType[Any]:
    if option.reads is not None:
        return ReadBy(option.reads, option.shown or "TEXT")
    if get_origin(kind) is Literal:
        return click.Choice(get_args(kind))
    if Path in get_args(kind):
        return PATH
    return click.INT if int in get_args(kind) else click.STRING


def length_in(text: str, units: str, *, where: str) -> float:
    """Return the millimetres of a length, in `units` if it names no unit; InputError: it is no length."""
    from ghostprep.errors import InputError
    from ghostprep.scene import parse_length

    bare = re.fullmatch(r"[\d\s./-]+", text.strip()) is not None
    try:
        return parse_length(f"{text} {units}" if bare else text, units)
    except ValueError as error:
        raise InputError(str(error), where=where) from None
