"""Readings posted over HTTP: only with the token, only what can be, answered after they are in the record.

Statuses: RFC 9110 (HTTP semantics) sections 15.5.2, 15.5.14, 15.5.21; RFC 6750 section 3 (bearer tokens); RFC 6585
section 4 (429). The client is httpx, the server a real one in a process of its own.
"""

import contextlib
import json
import re
import socket
import sqlite3
import threading
import time

import httpx
import pytest
from live_brokers import PATIENCE, Listener, impatient, values_in, wait_for

from nestwright.sensing.live.values import live_value
from nestwright.workshop.folder import create_workshop
from nestwright.workshop.live_token import good_token, has_token, new_token

GOOD = {"logger": "shelf", "channel": "temperature", "value": 23.5}


@pytest.fixture
def workshop(tmp_path):
    return create_workshop(tmp_path / "w", "UTC")


@pytest.fixture
def door(workshop, request):
    """A client with the token at the door, and the listener behind it; a test's parameter is called in its process."""
    token = new_token(workshop)
    one = Listener(workshop.folder, "--http", "0", first=getattr(request, "param", None))
    address = re.search(r"http://\S+", one.process.stdout.readline())[0]
    assert address.startswith("http://127.0.0.1:")
    with httpx.Client(headers={"Authorization": f"Bearer {token}"}, timeout=30) as client:
        yield (
            lambda body, **more: client.post(address, **({"json": body} if body is not None else {}), **more),
            one,
            address,
        )
    one.process.kill()
    one.process.wait()


def test_kept_before_it_is_answered(workshop, door):
    post, one, _ = door
    for n in range(20):
        answer = post({**GOOD, "value": 20 + n / 10})
        assert answer.status_code == 200, answer.text
        assert answer.json() == {"kept": 1}
        assert 20 + n / 10 in values_in(workshop.folder, "temperature")
    code, said = one.end()
    assert code == 0
    assert "20 kept" in said


def test_a_list_and_what_comes_twice(workshop, door):
    post, _, _ = door
    at = time.time() - 60
    many = [{**GOOD, "value": 68 + n, "unit": "degF", "at": at + n} for n in range(9)]
    for _ in range(2):
        assert post(many).json() == {"kept": 9}
    assert values_in(workshop.folder) == pytest.approx([20 + n * 5 / 9 for n in range(9)])


def test_all_or_nothing(workshop, door):
    post, _, _ = door
    answer = post([GOOD, {**GOOD, "value": "warm"}])
    assert answer.status_code == 422
    assert answer.json() == {"error": "reading 2, value: is no number; found 'warm'"}
    assert post(GOOD).status_code == 200
    humid = {"logger": "shelf", "channel": "temperature", "quantity": "humidity", "value": 50}
    answer = post([{**GOOD, "channel": "humidity", "value": 40}, humid])
    assert answer.status_code == 422
    assert "is temperature degC in the record and came as humidity %" in answer.json()["error"]
    assert values_in(workshop.folder) == [23.5]


def test_false_clock_is_told(workshop, door):
    post, _, _ = door
    answer = post({**GOOD, "at": 0})
    assert answer.status_code == 200
    assert answer.json()["clock_off_s"] == pytest.approx(time.time(), abs=120)
    assert values_in(workshop.folder) == [23.5]


@pytest.mark.parametrize(
    "given", ["", "Bearer", "Bearer wrong", "Basic {token}", "{token}", "Bearer {token}x", "Bearer ü"]
)
def test_without_the_token(workshop, door, given):
    post, one, _ = door
    token = new_token(workshop)  # the one before is void at once, without a new start
    assert post(GOOD).status_code == 401
    header = given.format(token=token).encode("utf-8")
    answer = post(GOOD, headers=[(b"Authorization", header)])
    assert answer.status_code == 401
    assert answer.headers["WWW-Authenticate"] == "Bearer"
    assert "Authorization: Bearer TOKEN" in answer.json()["error"]
    assert post(GOOD, headers={"Authorization": f"bearer {token}"}).status_code == 200
    assert values_in(workshop.folder) == [23.5]
    assert token not in one.end()[1]


def test_token_is_kept_as_its_hash_only(workshop):
    assert not has_token(workshop)
    assert not good_token(workshop, "")
    token = new_token(workshop)
    assert good_token(workshop, token)
    assert len(token) >= 43  # 256 bits in base64
    assert token.encode() not in workshop.database.read_bytes()
    wal = workshop.folder / "workshop.db-wal"
    assert not wal.exists() or token.encode() not in wal.read_bytes()


def test_too_large(workshop, door):
    post, _, _ = door
    body = b"[" + b" " * int(live_value("request_bytes")) + b"]"
    answer = post(None, content=body)
    assert answer.status_code == 413
    assert "larger than" in answer.json()["error"]
    # in pieces, without a length told before
    with contextlib.suppress(httpx.WriteError):
        answer = post(None, content=(b" " * 65_536 for _ in range(50)))
        assert answer.status_code == 413
    assert post(GOOD).status_code == 200


@pytest.mark.parametrize("body", [b"", b"{", b"\xff", b"[" * 100_000, b"NaN", b'{"logger": 1}'])
def test_junk(door, body):
    post, _, _ = door
    answer = post(None, content=body)
    assert answer.status_code == 422
    assert set(answer.json()) == {"error"}


def test_nothing_else_is_there(door):
    _, _, address = door
    root = address.removesuffix("/readings")
    for path in ("/", "/docs", "/redoc", "/openapi.json"):
        assert httpx.get(root + path).status_code == 404
    assert httpx.get(address).status_code == 405


def test_too_many_requests(door):
    post, _, address = door
    answers = []

    def many():
        with httpx.Client() as other:
            answers.extend(other.post(address).status_code for _ in range(200))

    senders = [threading.Thread(target=many) for _ in range(4)]
    for one in senders:
        one.start()
    for one in senders:
        one.join()
    assert set(answers) == {401, 429}
    time.sleep(1.1)
    assert post(GOOD).status_code == 200


@pytest.mark.parametrize("door", [impatient], indirect=True)
def test_held_database_is_told_and_kept_later(workshop, door):
    post, _, _ = door
    assert post(GOOD).status_code == 200
    at, answers = time.time() - 30, []
    with contextlib.closing(sqlite3.connect(workshop.database, isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        sending = threading.Thread(target=lambda: answers.append(post({**GOOD, "value": 21, "at": at})))
        sending.start()
        sending.join(PATIENCE + 15)
        other.execute("ROLLBACK")
    assert [a.status_code for a in answers] == [503]
    assert "try again" in answers[0].json()["error"]
    assert post({**GOOD, "value": 21, "at": at}).status_code == 200
    assert sorted(values_in(workshop.folder)) == [21, 23.5]


def test_port_that_is_taken(workshop):
    new_token(workshop)
    with socket.create_server(("127.0.0.1", 0)) as taken:
        one = Listener(workshop.folder, "--http", taken.getsockname()[1])
        said = one.process.communicate(timeout=30)[0]
    assert one.process.returncode == 2
    assert "cannot be listened on" in said


def test_kill_nine_while_readings_are_posted(workshop, door):
    post, one, _ = door
    answered, sending = [], True

    def send():
        n = 0
        while sending:
            body = [{"logger": "a", "channel": "n", "quantity": "other", "value": n, "at": time.time()}]
            with contextlib.suppress(httpx.HTTPError):
                if post(body).status_code == 200:
                    answered.append(n)
            n += 1
            if n > 5000:
                return

    thread = threading.Thread(target=send)
    thread.start()
    assert wait_for(lambda: len(answered) > 20)
    one.process.kill()
    sending = False
    thread.join()
    assert set(answered) <= set(values_in(workshop.folder))


def test_new_token_as_json(workshop):
    one = Listener(workshop.folder, "--new-token", "--json")
    assert good_token(workshop, json.loads(one.process.communicate(timeout=30)[0])["token"])
