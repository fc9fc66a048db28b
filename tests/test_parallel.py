"""Work on several frames at once comes back in order, is bounded, and ends with its caller."""

from __future__ import annotations

import threading

import pytest

from ghostprep.parallel import in_order


@pytest.fixture
def cores(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> int | None:
    """So many cores, or as many as the test's parameter says."""
    count: int | None = getattr(request, "param", 2)
    monkeypatch.setattr("os.cpu_count", lambda: count)
    return count


@pytest.mark.parametrize("cores", [1, 2, 5], indirect=True)
@pytest.mark.usefixtures("cores")
def test_results_come_in_the_order_of_their_items() -> None:
    assert list(in_order(lambda n: n * n, range(40))) == [n * n for n in range(40)]


@pytest.mark.parametrize("cores", [2, 3], indirect=True)
def test_no_more_than_twice_the_workers_wait(cores: int) -> None:
    """Memory does not grow with the clip: items are fetched as results are taken."""
    fetched = 0

    def items():
        nonlocal fetched
        for n in range(100):
            fetched += 1
            yield n

    results = in_order(lambda n: n, items())
    for taken in range(1, 60):
        next(results)
        assert taken + cores <= fetched <= taken + 2 * cores
    results.close()


@pytest.mark.usefixtures("cores")
def test_work_is_done_at_the_same_time() -> None:
    """Two workers meet at a barrier, which one alone would never pass."""
    barrier = threading.Barrier(2)
    assert list(in_order(lambda n: barrier.wait(20) >= 0, range(4))) == [True] * 4


@pytest.mark.usefixtures("cores")
def test_what_fails_is_raised_where_its_result_is_taken() -> None:
    def work(n: int) -> int:
        if n == 3:
            raise ValueError("frame 3 is damaged")
        return n

    results = in_order(work, range(10))
    assert [next(results) for _ in range(3)] == [0, 1, 2]
    with pytest.raises(ValueError, match="frame 3 is damaged"):
        next(results)


@pytest.mark.parametrize(("cores", "held"), [(3, 6), (20, 16), (1, 1), (None, 1)], indirect=["cores"])
@pytest.mark.usefixtures("cores")
def test_a_thread_a_core_works_and_eight_at_most(held: int) -> None:
    fetched: list[int] = []
    items = (fetched.append(n) or n for n in range(100))
    results = in_order(lambda n: n, items)
    assert next(results) == 0
    # twice as many as threads, but one alone works item by item
    assert len(fetched) == held
    results.close()
