from concurrent.futures import ThreadPoolExecutor

import pytest

from changewright.errors import EngineError, InputError
from changewright.jobs.kept import Kept
from changewright.jobs.running import Workers, core_count, key_of
from tests.unit.jobs.works import Sum, add, count_runs, die, refuse


def test_results_come_in_the_order_of_the_tasks(tmp_path):
    kept = Kept(tmp_path)
    with Workers(1) as workers:
        keys = workers.run(add, [Sum(n, 1) for n in (5, 3, 5)], kept)
    assert [kept.read(key, "sum") for key in keys] == [b"6", b"4", b"6"]


def test_one_process_and_two_give_the_same_keys_and_results(tmp_path):
    one, two = Kept(tmp_path / "one"), Kept(tmp_path / "two")
    tasks = [Sum(n, n) for n in range(6)]
    with Workers(1) as workers:
        first = workers.run(add, tasks, one)
    with Workers(2) as workers:
        second = workers.run(add, tasks, two)
        by = {two.read(key, "by") for key in second}
    assert first == second
    assert [one.read(k, "sum") for k in first] == [two.read(k, "sum") for k in second]
    assert by.isdisjoint({one.read(k, "by") for k in first})


def test_work_is_done_once(tmp_path):
    kept, log = Kept(tmp_path / "kept"), tmp_path / "log"
    tasks = [Sum(n, 0, str(log)) for n in (1, 2, 1)]
    told: list[int] = []
    with Workers(1) as workers:
        workers.run(count_runs, tasks, kept)
        workers.run(count_runs, [*tasks, Sum(3, 0, str(log))], kept, told.append)
    assert log.read_text().split() == ["1", "2", "3"]
    assert told == [3, 1]


def test_a_task_reads_the_results_of_earlier_works(tmp_path):
    kept = Kept(tmp_path)
    with Workers(1) as workers:
        (first,) = workers.run(add, [Sum(1, 2)], kept)
        (second,) = workers.run(add, [Sum(10, 20, before=first)], kept)
    assert kept.read(second, "sum") == b"33"


@pytest.mark.parametrize("count", [1, 2])
def test_the_first_fault_in_order_is_told_and_the_rest_is_kept(tmp_path, count):
    kept = Kept(tmp_path)
    with Workers(count) as workers, pytest.raises(InputError, match="bar 3, beat 1"):
        workers.run(refuse, [Sum(1, 0), Sum(2, 0)], kept)
    assert kept.has(key_of(refuse, Sum(1, 0)))
    with Workers(1) as workers, pytest.raises(EngineError, match="drew nothing"):
        workers.run(refuse, [Sum(4, 0)], kept)


def test_a_dead_worker_is_told_in_words(tmp_path):
    with Workers(2) as workers, pytest.raises(EngineError, match="run the command again"):
        workers.run(die, [Sum(1, 0)], Kept(tmp_path))


def test_any_executor_serves(tmp_path):
    kept = Kept(tmp_path)
    with ThreadPoolExecutor(2) as pool, Workers(2, pool) as workers:
        keys = workers.run(add, [Sum(n, 1) for n in range(4)], kept)
    assert [kept.read(key, "sum") for key in keys] == [b"1", b"2", b"3", b"4"]


def test_a_stop_keeps_what_is_finished(tmp_path):
    kept, log = Kept(tmp_path / "kept"), tmp_path / "log"
    tasks = [Sum(n, 0, str(log)) for n in range(5)]

    def stop(count: int) -> None:
        if count and len(log.read_text().split()) == 3:
            raise KeyboardInterrupt

    with Workers(1) as workers, pytest.raises(KeyboardInterrupt):
        workers.run(count_runs, tasks, kept, stop)
    with Workers(1) as workers:
        workers.run(count_runs, tasks, kept)
    assert log.read_text().split() == ["0", "1", "2", "3", "4"]


def test_nobody_works_with_no_hands():
    assert core_count() >= 1
    with pytest.raises(InputError, match="one or more"):
        Workers(0)
