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
    click.echo(f'Type "{BACK}" to go back to the question before.', err=True)
    _ask_all(list(QUESTIONS), answers)
    while True:
        text = asked_text(answers_to_values(answers))
        try:
            parse_scene(text, "your answers")
        except InputError as wrong:
            click.echo(f"\nThese do not fit together: {wrong.one_line()}", err=True)
            again = _to_ask_again(wrong)
            if not again:
                raise
            _ask_all(again, answers)
        else:
            return text


def _ask_all(questions: list[Question], answers: dict[str, Any]) -> None:
    """Ask in order; going back asks the one before again, with the answer that it had."""
    place, asked = 0, list[int]()
    while place < len(questions):
        question = questions[place]
        if question.skipped(answers):
            answers.pop(question.key, None)
            place += 1
            continue
        given = _ask(question, answers)
        if given == BACK:
            place = asked.pop() if asked else place
            continue
        answers[question.key] = given
        asked.append(place)
        place += 1


def _ask(question: Question, answers: dict[str, Any]) -> object:
    click.echo(f"\n{question.hint}", err=True)
    ways = question.choices(answers)
    asks = f"{question.asks} ({', '.join(ways)})" if ways else question.asks
    usual = question.usual_text(answers)
    if ways and usual not in ways:
        usual = ways[0]
    while True:
        text = str(click.prompt(asks, default=usual, err=True)).strip()
        if text == BACK:
            return BACK
        try:
            return question.read(text, answers)
        except ValueError as wrong:
            click.echo(f"  {wrong}", err=True)


def _to_ask_again(wrong: InputError) -> list[Question]:
    """Return the questions about the key that an error names."""
    key = wrong.where.rsplit(", ", 1)[-1]
    if key == "screen.centre":
        return [q for q in QUESTIONS if q.key.startswith("lit.")]
    return [q for q in QUESTIONS if q.key == key or q.key.startswith(f"{key}.")]
