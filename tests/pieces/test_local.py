"""Pieces on this computer: in order, mended after a death, dropped at an interrupt, errors as they were raised."""

import sys
from pathlib import Path

import pytest

from nestwright.errors import FileError
from nestwright.pieces import Processes, Threads, each, working_at

sys.path.insert(0, str(Path(__file__).parent))
import worked


def two():
    return Processes(2)


def test_results_are_in_the_order_of_the_pieces_wherever_they_are_made():
    seeds, shares, came = list(range(40)), [], {}
    told = [worked.drawn(seed) for seed in seeds]
    assert each(worked.drawn, seeds, otherwise=lambda: Threads(3)) == told
    assert each(worked.drawn, seeds, shares.append, otherwise=two, arrived=came.__setitem__) == told
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert [came[k] for k in seeds] == told
    assert each(worked.drawn, [], otherwise=two) == []


def test_a_process_that_is_killed_costs_time_not_results(tmp_path):
    pieces = [(str(tmp_path), k) for k in range(5)]
    assert each(worked.killed_once, pieces, otherwise=two) == list(range(5))
    assert len(list(tmp_path.iterdir())) == 5


def test_all_errors_of_a_file_come_back_from_another_process():
    with working_at(two()), pytest.raises(FileError) as caught:
        each(worked.refused, [3], otherwise=Threads)
    assert str(caught.value) == "a.toml:1: no\na.toml:2: no"


def test_an_interrupt_drops_what_is_queued_and_ends_the_processes(tmp_path):
    def stop(k, result):
        raise KeyboardInterrupt

    place = two()
    with working_at(place):
        with pytest.raises(KeyboardInterrupt):
            each(worked.noted, [(str(tmp_path), k, 0.2) for k in range(30)], otherwise=two, arrived=stop)
        begun = len(list(tmp_path.iterdir()))
        # the place can be used on, as by a search that keeps its best so far
        assert each(worked.drawn, [5], otherwise=two) == [worked.drawn(5)]
    assert begun <= 4
    assert len(list(tmp_path.iterdir())) == begun
