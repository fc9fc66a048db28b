"""The calls themselves: symlinks are not followed, and systems without folder handles are served too."""

import errno
import os
from pathlib import Path

import pytest

from ghostprep.card import CardOrder, fill_card, plan_card
from ghostprep.card.calls import SystemCalls
from ghostprep.card.work_folder import WORK

NOT_FOLLOWED = {errno.ELOOP, errno.ENOTDIR, errno.EEXIST}
needs_handles = pytest.mark.skipif(not hasattr(os, "O_NOFOLLOW"), reason="this system has no O_NOFOLLOW")


@needs_handles
@pytest.mark.parametrize("leads_to", ["folder", "file", "nothing"])
def test_symlinks_are_not_followed(tmp_path: Path, leads_to: str) -> None:
    (tmp_path / "folder").mkdir()
    (tmp_path / "file").write_bytes(b"keep me")
    (tmp_path / "card").mkdir()
    (tmp_path / "card" / "link").symlink_to(tmp_path / leads_to)
    calls = SystemCalls()
    at = calls.open_folder(tmp_path / "card")
    attempts = [
        lambda: calls.open_folder(tmp_path / "card" / "link"),
        lambda: calls.open_inner(at, "link"),
        lambda: calls.create(at, "link"),
        lambda: calls.open_back(at, "link", "cached"),
    ]
    for attempt in attempts:
        with pytest.raises(OSError, match="link") as caught:
            attempt()
        assert caught.value.errno in NOT_FOLLOWED
    calls.remove(at, "link")
    calls.close_folder(at)
    assert (tmp_path / "file").read_bytes() == b"keep me"
    assert not (tmp_path / "nothing").exists()


def test_without_folder_handles_the_same_stands_there(card, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("ghostprep.card.calls._HANDLES", False)
    order = CardOrder(tuple(card.loops), card.folder, replace=True)
    for _ in range(2):
        fill_card(plan_card(order))
    holds = card.holds()
    assert (holds["01_PURSE.MP4"], holds["02_LANTE.MP4"]) == tuple(p.read_bytes() for p in card.loops)
    assert holds.items() >= card.foreign.items()
    assert not (card.folder / WORK).exists()


@needs_handles
def test_a_folder_that_is_moved_away_is_still_the_one_written_to(card, tmp_path: Path) -> None:
    # as with a card that is let go of: its path then is a folder of the system disk
    class Moved(SystemCalls):
        def make_folder(self, at, name: str) -> None:
            card.folder.rename(tmp_path / "elsewhere")
            card.folder.mkdir()
            super().make_folder(at, name)

    plan = plan_card(CardOrder(tuple(card.loops), card.folder))
    fill_card(plan, calls=Moved())
    assert list(card.folder.iterdir()) == []
    assert (tmp_path / "elsewhere" / "01_PURSE.MP4").exists()


@needs_handles
@pytest.mark.parametrize(
    ("number", "told"),
    [
        (errno.EINVAL, False),
        (errno.ENOSYS, False),
        (errno.ENOTSUP, False),
        (errno.EIO, True),
        (errno.ENOSPC, True),
        (errno.ENODEV, True),
    ],
)
def test_a_folder_that_cannot_be_flushed_is_told_from_one_that_fails_to(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int, told: bool
) -> None:
    """fsync(2): EINVAL for what the file system has no flush for; EIO for a card that is gone."""

    def fsync(handle: int) -> None:
        raise OSError(number, os.strerror(number))

    calls = SystemCalls()
    at = calls.open_folder(tmp_path)
    monkeypatch.setattr(os, "fsync", fsync)
    if told:
        with pytest.raises(OSError, match=os.strerror(number)):
            calls.flush_folder(at)
    else:
        calls.flush_folder(at)
    calls.close_folder(at)


@pytest.mark.skipif(not hasattr(os, "O_DIRECT"), reason="this system has no O_DIRECT")
@pytest.mark.parametrize(
    ("way", "direct", "dropped"),
    [("direct", True, False), ("dropped", False, True), ("cached", False, False)],
)
def test_each_way_of_reading_back_asks_the_system_for_just_that(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, way, direct: bool, dropped: bool
) -> None:
    """O_DIRECT reads past the page cache, POSIX_FADV_DONTNEED drops it first (open(2), posix_fadvise(2))."""
    (tmp_path / "loop").write_bytes(b"x" * 4096)
    calls = SystemCalls()
    at = calls.open_folder(tmp_path)
    asked, advised = [], []
    real = os.open

    def opened(path, flags: int, **words) -> int:
        asked.append(flags)
        return real(path, flags & ~os.O_DIRECT, **words)  # not every file system has it

    monkeypatch.setattr(os, "open", opened)
    monkeypatch.setattr(os, "posix_fadvise", lambda *words: advised.append(words[1:]))
    os.close(calls.open_back(at, "loop", way))
    calls.close_folder(at)
    assert bool(asked[-1] & os.O_DIRECT) is direct
    assert advised == ([(0, 0, os.POSIX_FADV_DONTNEED)] if dropped else [])
