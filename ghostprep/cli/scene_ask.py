"""``ghostprep scene --ask``: puts the questions and takes the answers."""

from __future__ import annotations

from typing import Any

import click

from ghostprep.errors import InputError
from ghostprep.scene.ask import QUESTIONS, Question, answers_to_values
from ghostprep.scene.load import parse_scene
from ghostprep.scene.starter import filled_text


def ask_measures() -> str:
    """Ask for every measure and return the text of the scene file.

    Answers that contradict each other are told at the end and asked for again.
    """
    answers: dict[str, Any] = {}
    for question in QUESTIONS:
        if not _skipped(question, answers):
            answers[question.key] = _ask(question, answers)
    while True:
        text = filled_text(answers_to_values(answers))
        try:
            parse_scene(text, "your answers")
        except InputError as wrong:
            click.echo(f"\nThese do not fit together: {wrong.one_line()}", err=True)
            again = _to_ask_again(wrong)
            if not again:
                raise
            for question in again:
                if not _skipped(question, answers):
                    answers[question.key] = _ask(question, answers)
        else:
            return text


def _skipped(question: Question, answers: dict[str, Any]) -> bool:
    first = {"box.opening.height": "box.opening.width", "box.opening.sill": "box.opening.width"}
    first["shelf.cord"] = "shelf.depth"
    needs = first.get(question.key)
    return needs is not None and answers.get(needs) is None


def _ask(question: Question, answers: dict[str, Any]) -> object:
    units = str(answers.get("units", "mm"))
    click.echo(f"\n{question.hint}", err=True)
    ways = question.choices(answers)
    asks = f"{question.asks} ({', '.join(ways)})" if ways else question.asks
    usual = question.usual_text(units)
    if ways and usual not in ways:
        usual = ways[0]
    while True:
        text = click.prompt(asks, default=usual, err=True)
        try:
            return question.read(str(text), units, answers)
        except ValueError as wrong:
            click.echo(f"  {wrong}", err=True)


def _to_ask_again(wrong: InputError) -> list[Question]:
    """Return the questions about the key that an error names."""
    key = wrong.where.rsplit(", ", 1)[-1]
    if key == "screen.centre":
        return [q for q in QUESTIONS if q.key.startswith("lit.")]
    return [q for q in QUESTIONS if q.key == key or q.key.startswith(f"{key}.")]
