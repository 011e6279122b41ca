"""A real scheduler, its workers processes of their own: the same results, also when one is killed; cancel; faults."""

import sys
import threading
import time
from pathlib import Path

import pytest

from nestwright.errors import FileError, InputError
from nestwright.pieces import Threads, each, working_at
from nestwright.pieces.cluster import Cluster

sys.path.insert(0, str(Path(__file__).parent))
import worked


def test_results_are_those_of_this_process_in_order(cluster):
    seeds, shares = list(range(60)), []
    with working_at(Cluster(cluster.address)):
        told = each(worked.drawn, seeds, shares.append, otherwise=Threads)
    assert told == [worked.drawn(seed) for seed in seeds]
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


def test_a_worker_killed_at_its_work_costs_time_not_results(cluster, tmp_path):
    victim = cluster.worker()
    pieces = [(str(tmp_path), k, 0.15) for k in range(40)]

    def kill():
        while not list(tmp_path.glob(f"*-{victim.pid}")):
            time.sleep(0.02)
        victim.kill()

    with working_at(Cluster(cluster.address)):
        killer = threading.Thread(target=kill)
        killer.start()
        told = each(worked.noted, pieces, otherwise=Threads)
        killer.join()
    assert told == [(k, worked.drawn(k)) for k in range(40)]
    mine = {int(p.name.split("-")[0]) for p in tmp_path.glob(f"*-{victim.pid}")}
    again = {k for k in mine if len(list(tmp_path.glob(f"{k}-*"))) > 1}
    assert again, "the piece that the killed worker had was worked on by another"


def test_an_interrupt_cancels_what_is_queued_there(cluster, tmp_path):
    def stop(k, result):
        raise KeyboardInterrupt

    with working_at(Cluster(cluster.address)), pytest.raises(KeyboardInterrupt):
        each(worked.noted, [(str(tmp_path), k, 0.2) for k in range(40)], otherwise=Threads, arrived=stop)
    time.sleep(0.6)
    begun = len(list(tmp_path.iterdir()))
    time.sleep(0.6)
    assert len(list(tmp_path.iterdir())) == begun < 12


def test_an_error_comes_back_whole(cluster):
    with working_at(Cluster(cluster.address)), pytest.raises(FileError, match=r"a\.toml:2: no"):
        each(worked.refused, [3], otherwise=Threads)


def test_workers_with_another_program_are_refused(cluster, monkeypatch):
    monkeypatch.setattr(f"{Cluster.__module__}.importlib.metadata.version", lambda name: "0")
    with pytest.raises(InputError, match="have another program"), working_at(Cluster(cluster.address)):
        pass


@pytest.mark.parametrize(
    "address", ["", "nowhere", "tcp://h", "tcp://h:0", "http://h:1", "tcp://h:99999", "tcp://a b:1"]
)
def test_what_is_no_address_is_refused_before_anything_is_asked(address):
    with pytest.raises(InputError, match="no address"):
        Cluster(address)


def test_an_address_where_nobody_answers_is_one_message(monkeypatch):
    monkeypatch.setattr(f"{Cluster.__module__}.SECONDS_TO_ANSWER", 1)
    with pytest.raises(InputError, match="no cluster answers there"), working_at(Cluster("tcp://127.0.0.1:9")):
        pass
