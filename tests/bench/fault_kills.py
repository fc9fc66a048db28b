"""Kills the decoders and encoders of a run, each at moments counted in their own calls."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any
from unittest import mock

from fault_calls import Calls
from fault_runs import Ground, Outcome, judged

from ghostprep.clip.child import Child

MOMENTS = 5


@dataclass
class Seen:
    """One ffmpeg of a run: what it was for, how often it was read, written or waited for, what loop came out."""

    role: str
    calls: int = 0
    loop: object = None


class Killer:
    """Counts what is done with each child, in the order in which they start; kills one of them."""

    def __init__(self, child: int = -1, at: int = -1) -> None:
        self.seen: list[Seen] = []
        self.killed = False
        self._numbers: dict[int, int] = {}
        self._child, self._at = child, at

    def born(self, child: Child, arguments: Any, *, feed: bool, take: bool) -> None:
        self._numbers[id(child)] = len(self.seen)
        other = "copier" if "copy" in arguments else "probe"
        self.seen.append(Seen("encoder" if feed else "decoder" if take else other))

    def used(self, child: Child) -> None:
        number = self._numbers[id(child)]
        if number == self._child and self.seen[number].calls == self._at:
            self.killed = child.process.poll() is None
            child.process.kill()
        self.seen[number].calls += 1


@contextlib.contextmanager
def watched(killer: Killer) -> Iterator[None]:
    """Tell `killer` of every child while the block runs."""
    real_init = Child.__init__

    def init(self: Child, arguments: Any, *, feed: bool = False, take: bool = False, **more: Any) -> None:
        real_init(self, arguments, feed=feed, take=take, **more)
        killer.born(self, arguments, feed=feed, take=take)

    def told(name: str) -> Callable[..., Any]:
        real = getattr(Child, name)

        def call(self: Child, *rest: Any, **more: Any) -> Any:
            killer.used(self)
            return real(self, *rest, **more)

        return call

    with (
        mock.patch.object(Child, "__init__", init),
        mock.patch.object(Child, "read_into", told("read_into")),
        mock.patch.object(Child, "write", told("write")),
        mock.patch.object(Child, "finish", told("finish")),
    ):
        yield


def children_of(ground: Ground) -> list[Seen]:
    """Return the children of a run in which none is killed."""
    ground.reset()
    killer = Killer()
    with watched(killer):
        status, said = ground.run(Calls(ground.watched))
    if status:
        raise RuntimeError(said)
    for child in killer.seen:
        child.loop = _loop(ground)
    return killer.seen


def _loop(ground: Ground) -> object:
    """Return what each report tells of the loop; a chart's tells nothing of one."""
    reports = [path for path in ground.outputs if path.suffix == ".json"]
    return [json.loads(path.read_text(encoding="utf-8")).get("loop") for path in reports]


def each_kill(
    ground: Ground, roles: tuple[str, ...] = ("decoder", "encoder", "probe", "copier")
) -> Iterator[Outcome]:
    """Kill each child at five moments, from its start to its last call."""
    for number, child in enumerate(children_of(ground)):
        if child.role in roles:
            for moment in sorted(
                {child.calls * i // MOMENTS for i in range(MOMENTS - 1)} | {child.calls - 1}
            ):
                yield one_kill(ground, number, moment, child)


def one_kill(ground: Ground, number: int, moment: int, child: Seen) -> Outcome:
    """Kill one child at one of its calls, and judge what was left."""
    ground.reset()
    killer = Killer(number, moment)
    try:
        with watched(killer):
            status, said = ground.run(Calls(ground.watched))
    except BaseException as error:
        status, said = -1, f"{type(error).__name__}: {error}"
    if not status and _loop(ground) != child.loop:
        status, said = -1, f"the loop is {_loop(ground)}, without the kill it was {child.loop}"
    what = f"{child.role} {number + 1}, call {moment + 1} of {child.calls}"
    return judged(ground, "killed" if killer.killed else "already ended", what, 9, status, said, gone=False)
