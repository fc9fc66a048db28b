"""``ghostprep scene --ask``: puts the questions and takes the answers."""

from __future__ import annotations

from typing import Any

import click

from ghostprep.errors import InputError
from ghostprep.scene.ask import QUESTIONS, Question, answers_to_values
from ghostprep.scene.load import parse_scene
from ghostprep.scene.starter import asked_text

BACK = "<"
"""What is typed to go back to the question before."""


def ask_measures() -> str:
    """Ask for every measure and return the text of the scene file.

    Answers that contradict each other are told at the end and asked for again.
    """
    answers: dict[str, Any] = {}
    own: dict[str, str] = {}
    click.echo(f'Type "{BACK}" to go back to the question before.', err=True)
    _ask_all(0, len(QUESTIONS), answers, own)
    while True:
        text = asked_text(answers_to_values(answers))
        try:
            parse_scene(text, "your answers")
        except InputError as wrong:
            click.echo(f"\nThese do not fit together: {wrong.one_line()}", err=True)
            again = _to_ask_again(wrong)
            if not again:
                raise
            _ask_all(QUESTIONS.index(again[0]), QUESTIONS.index(again[-1]) + 1, answers, own)
        else:
            return text


def _ask_all(place: int, end: int, answers: dict[str, Any], own: dict[str, str]) -> None:
    """Ask the questions from `place` to `end`; going back reaches all before, each with its `own` answer."""
    while place < end:
        question = QUESTIONS[place]
        if question.skipped(answers):
            answers.pop(question.key, None)
        elif (given := _ask(question, answers, own)) == BACK:
            place = max((n for n in range(place) if not QUESTIONS[n].skipped(answers)), default=place)
            continue
        else:
            answers[question.key] = given
        place += 1


def _ask(question: Question, answers: dict[str, Any], own: dict[str, str]) -> object:
    click.echo(f"\n{question.hint}", err=True)
    ways = question.choices(answers)
    asks = f"{question.asks} ({', '.join(ways)})" if ways else question.asks
    # what was typed is offered again; a likely answer follows those before it, which may have changed
    usual = own.get(question.key) or question.usual_text(answers)
    if ways and usual not in ways:
        usual = ways[0]
    while True:
        text = str(click.prompt(asks, default=usual, err=True)).strip()
        if text == BACK:
            return BACK
        try:
            given = question.read(text, answers)
        except ValueError as wrong:
            click.echo(f"  {wrong}", err=True)
        else:
            if text != usual:
                own[question.key] = text
            return given


def _to_ask_again(wrong: InputError) -> list[Question]:
    """Return the questions about the key that an error names."""
    key = wrong.where.rsplit(", ", 1)[-1]
    if key == "screen.centre":
        return [q for q in QUESTIONS if q.key.startswith("lit.")]
    return [q for q in QUESTIONS if q.key == key or q.key.startswith(f"{key}.")]
