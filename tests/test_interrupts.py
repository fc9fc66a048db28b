"""Requests to end, by the clock: the first is heard, those that follow while it is cleared up are not."""

from __future__ import annotations

import pytest

from ghostprep import interrupts


@pytest.mark.parametrize(
    ("times", "heard"),
    [([5.0], [5.0]), ([5.0, 5.1, 7.9], [5.0]), ([5.0, 8.1], [5.0, 8.1]), ([5.0, 7.0, 9.0, 11.0], [5.0, 9.0])],
)
def test_a_second_request_within_three_seconds_is_not_heard(
    times: list[float], heard: list[float], monkeypatch: pytest.MonkeyPatch
) -> None:
    listener, ended = interrupts._Listener(), []
    for now in times:
        monkeypatch.setattr(interrupts.time, "monotonic", lambda now=now: now)
        try:
            listener.hear(2, None)
        except KeyboardInterrupt:
            ended.append(now)
    assert ended == heard
