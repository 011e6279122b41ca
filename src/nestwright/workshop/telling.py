"""What is owed to each way of telling, told: sent is what was taken, and what was not stays owed."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from nestwright.workshop.alarms import Alarm, claim, kept_alarms, owed, release, taken
from nestwright.workshop.changes import now
from nestwright.workshop.database import reading, writing
from nestwright.workshop.folder import Workshop
from nestwright.workshop.notices import PAUSE, NoticeError, Notices, mail_of, post, send_mail

__all__ = ["Outcome", "tell_owed", "tell_test"]


@dataclass(frozen=True)
class Outcome:
    """Of one way of telling: how many alarms it was to take, and why it did not ("" when it did)."""

    way: str
    alarms: int
    failure: str = ""

    def to_dict(self) -> dict[str, Any]:
        return {"way": self.way, "alarms": self.alarms, "failure": self.failure}


def tell_owed(workshop: Workshop, notices: Notices, pause: float = PAUSE) -> list[Outcome]:
    """Send what is owed; one mail and one POST for all alarms together. An alarm that ended before it could be told is
    told as ended. Nothing when another process is sending at this moment."""
    with reading(workshop.engine) as connection:
        if not any(owed(connection).get(way) for way in notices.ways):
            return []
    with writing(workshop.engine) as connection:
        if not claim(connection, now()):
            return []
    try:
        return [one for way in notices.ways if (one := _tell(workshop, notices, way, pause)) is not None]
    finally:
        with writing(workshop.engine) as connection:
            release(connection)


def _tell(workshop: Workshop, notices: Notices, way: str, pause: float) -> Outcome | None:
    with reading(workshop.engine) as connection:
        rows = owed(connection).get(way, [])
        known = {one.id: one for one in kept_alarms(connection, ended=True)}
    if not rows:
        return None
    alarms = [known[row] for row in rows if row in known]
    try:
        if alarms:
            _send(workshop, notices, way, alarms, pause)
    except NoticeError as problem:
        return Outcome(way, len(alarms), str(problem))
    with writing(workshop.engine) as connection:
        taken(connection, way, rows, now())
    return Outcome(way, len(alarms))


def _send(workshop: Workshop, notices: Notices, way: str, alarms: list[Alarm], pause: float) -> None:
    # the same alarms in the same state make the same key: a second sending after a crash can be recognised
    told = ",".join(f"{one.id}:{one.worst!r}:{one.raised}:{one.ended}" for one in alarms)
    key = hashlib.sha256(f"{workshop.folder}|{told}".encode()).hexdigest()[:32]
    if way == "webhook" and notices.webhook is not None:
        post(notices.webhook, {"key": key, "test": False, "alarms": [_document(one) for one in alarms]}, pause)
    if way == "mail" and notices.mail is not None:
        open_now = [one for one in alarms if one.ended is None]
        lead = (open_now or alarms)[0].message
        n = len(alarms)
        subject = lead if n == 1 else f"{n} alarms: {lead}"
        lines = []
        for one in alarms:
            since = _moment(one.raised, workshop)
            end = "" if one.ended is None else f", ended {_moment(one.ended, workshop)}"
            lines += [f"{one.id}. {one.message}", f"   since {since}{end}", ""]
        lines += [
            "What to do about each: nestwright today",
            "Seen it: nestwright alarms ack NUMBER. Put off: nestwright alarms snooze NUMBER 3h",
        ]
        send_mail(notices.mail, mail_of(notices.mail, _subject(subject), lines, key), pause)


def _subject(text: str) -> str:
    """A subject in one line that a telephone shows whole."""
    clean = " ".join("".join(c if c.isprintable() else " " for c in text).split())
    return clean if len(clean) <= 150 else f"{clean[:147]}..."


def _document(one: Alarm) -> dict[str, Any]:
    return {
        "id": one.id,
        "kind": one.kind,
        "message": one.message,
        "raised": _iso(one.raised),
        "ended": None if one.ended is None else _iso(one.ended),
    }


def tell_test(notices: Notices, folder_name: str, pause: float = PAUSE) -> list[Outcome]:
    """Send a test by every way that is set up."""
    found = []
    for way in notices.ways:
        failure = ""
        try:
            if way == "mail":
                assert notices.mail is not None
                lines = [f"This is a test from the workshop {folder_name}. Alarms will come this way."]
                send_mail(notices.mail, mail_of(notices.mail, "Test of alarms", lines, ""), pause)
            else:
                assert notices.webhook is not None
                post(notices.webhook, {"key": "", "test": True, "alarms": []}, pause)
        except NoticeError as problem:
            failure = str(problem)
        found.append(Outcome(way, 0, failure))
    return found


def _iso(at: int) -> str:
    return datetime.fromtimestamp(at / 1000, UTC).isoformat(timespec="seconds")


def _moment(at: int, workshop: Workshop) -> str:
    return datetime.fromtimestamp(at / 1000, workshop.zone).strftime("%Y-%m-%d %H:%M")
