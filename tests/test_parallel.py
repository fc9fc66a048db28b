"""Work on several frames at once comes back in order, is bounded, and ends with its caller."""

from __future__ import annotations

import threading

import pytest

from ghostprep.parallel import in_order


@pytest.mark.parametrize("workers", [1, 2, 5])
def test_results_come_in_the_order_of_their_items(workers: int) -> None:
    assert list(in_order(lambda n: n * n, range(40), workers=workers)) == [n * n for n in range(40)]


@pytest.mark.parametrize("workers", [2, 3])
def test_no_more_than_twice_the_workers_wait(workers: int) -> None:
    """Memory does not grow with the clip: items are fetched as results are taken."""
    fetched = 0

    def items():
        nonlocal fetched
        for n in range(100):
            fetched += 1
            yield n

    results = in_order(lambda n: n, items(), workers=workers)
    for taken in range(1, 60):
        next(results)
        assert taken + workers <= fetched <= taken + 2 * workers
    results.close()


def test_work_is_done_at_the_same_time() -> None:
    """Two workers meet at a barrier, which one alone would never pass."""
    barrier = threading.Barrier(2)
    assert list(in_order(lambda n: barrier.wait(20) >= 0, range(4), workers=2)) == [True] * 4


def test_what_fails_is_raised_where_its_result_is_taken() -> None:
    def work(n: int) -> int:
        if n == 3:
            raise ValueError("frame 3 is damaged")
        return n

    results = in_order(work, range(10), workers=2)
    assert [next(results) for _ in range(3)] == [0, 1, 2]
    with pytest.raises(ValueError, match="frame 3 is damaged"):
        next(results)


@pytest.mark.parametrize(("cores", "held"), [(3, 6), (20, 16), (1, 1), (None, 1)])
def test_by_default_a_thread_a_core_works_and_eight_at_most(
    cores: int | None, held: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("os.cpu_count", lambda: cores)
    fetched: list[int] = []
    items = (fetched.append(n) or n for n in range(100))
    results = in_order(lambda n: n, items)
    assert next(results) == 0
    # twice as many as threads, but one alone works item by item
    assert len(fetched) == held
    results.close()
