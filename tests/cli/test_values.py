import click
import pytest

from ghostprep.cli.make import command
from ghostprep.cli.options import ReadBy
from ghostprep.prepare.recipe import Recipe


def test_a_text_that_is_no_value_is_wrong_usage() -> None:
    with pytest.raises(click.BadParameter, match="'soon' is no number"):
        ReadBy(_number, "N").convert("soon", None, None)


def test_what_is_no_text_has_been_read_already() -> None:
    assert ReadBy(_number, "N").convert(7, None, None) == 7


def test_make_without_options_is_the_recipe_of_a_script_without_options() -> None:
    given = command.make_context("make", ["clip.mp4"]).params
    assert Recipe(**{name: given[name] for name in Recipe.__dataclass_fields__}) == Recipe()


def test_a_value_that_is_read_is_called_as_its_option_shows_it() -> None:
    read = [param for param in command.params if isinstance(param.type, ReadBy)]
    assert len(read) > 5
    for param in read:
        assert isinstance(param, click.Option)
        assert param.type.name == (param.metavar or "TEXT")


def _number(text: str) -> int:
    if not text.isdigit():
        raise ValueError(f"{text!r} is no number")
    return int(text)
