"""The look that never stops: one thread looks at the record, keeps what it saw for the first page, and raises alarms.

The first page must answer at once however many colonies there are, so it never looks for itself: it shows the last look
and says when that was. A look uses the forecasts that are kept; those that are not are fitted by a job.
"""

from __future__ import annotations

import logging
import threading
import time
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import func, select

from nestwright.errors import FileError, InputError
from nestwright.web.jobs import Job, Jobs
from nestwright.workshop.database import NewerFormError, reading, writing
from nestwright.workshop.folder import Workshop
from nestwright.workshop.last_readings import LastReading, last_readings
from nestwright.workshop.look import Look
from nestwright.workshop.tables import change, logger

__all__ = ["Sight", "Watch", "newest_step"]

EVERY = 45.0
"""Seconds from one look to the next, so that with the page's own minute nothing stays unseen for two."""
REST = 10.0
"""At least so many times as long as a look took, the thread rests after it: a large record must not keep it busy."""
SHARE = 3.0
"""As `REST`, where somebody has recorded something meanwhile."""
QUIET, AT_LAST = 10.0, 300.0
"""Seconds without an act before forecasts are fitted anew, and after which they are in any case: in the midst of a
round of visits each fit would be of a record that is old when it ends."""
RECORD_EVERY = 300.0
"""Seconds after which alarms are brought to the look although nothing seems to have changed: numbers get worse."""
PATIENCE = 0.12
"""Seconds that a page waits for a look which knows what was just recorded."""


@dataclass(frozen=True)
class Sight:
    """What one look saw. `step`: the newest act that it knows. `loggers`: name by row."""

    look: Look
    readings: tuple[LastReading, ...]
    loggers: dict[int, str]
    step: int


def newest_step(connection: Any) -> int:
    """Number of the newest act of the record, 0 for none."""
    return int(connection.execute(select(func.max(change.c.step))).scalar() or 0)


class Watch:
    """Looks at a workshop from `start` to `stop`.

    `undelivered`: why notices could not be delivered, or alarms.toml not be used; `fault`: why the last look failed, in
    words; both empty when all is well.
    """

    def __init__(self, workshop: Workshop, jobs: Jobs) -> None:
        self.workshop, self.jobs = workshop, jobs
        self.sight: Sight | None = None
        self.undelivered: tuple[str, ...] = ()
        self.fault = ""
        self.fitting: Job | None = None
        self._fitted = ""
        self._fit_soon = False
        self._newest: int | None = None
        self._acted, self._unfitted_since = 0.0, float("inf")
        self._recorded: frozenset[tuple[str, str]] | None = None
        self._recorded_at = 0.0
        self._wake, self._ended = threading.Event(), threading.Event()
        self._looked = threading.Condition()
        self._starting = threading.Lock()
        self._thread: threading.Thread | None = None
        self._teller: threading.Thread | None = None

    def start(self) -> None:
        """Begin to look; once begun it goes on."""
        with self._starting:
            if self._thread is None:
                self._thread = threading.Thread(target=self._run, name="watch", daemon=True)
                self._thread.start()

    def stop(self) -> None:
        """Look no longer; a look that is under way is finished."""
        self._ended.set()
        self._wake.set()
        if self._thread is not None:
            self._thread.join(2.0)

    def seen(self, step: int) -> Sight | None:
        """The last look, one that knows the act `step` where it comes soon; None before the first."""
        self.start()
        if self.sight is None or self.sight.step < step:
            self._wake.set()
            with self._looked:
                self._looked.wait_for(lambda: self.sight is not None and self.sight.step >= step, PATIENCE)
        return self.sight

    def _run(self) -> None:
        while not self._ended.is_set():
            self._wake.clear()
            began = time.monotonic()
            self.look_once()
            took = time.monotonic() - began
            # an act of a person wakes it at once, but never back to back: who records has the better claim
            self._ended.wait(min(SHARE * took, 15.0))
            self._wake.wait(QUIET if self._fit_soon else max(EVERY, REST * took))

    def look_once(self) -> None:
        """One look; what goes wrong with it is told by `fault` and in the terminal, and raises nothing."""
        try:
            self._once()
            self.fault = ""
        except NewerFormError as error:
            if self.fault != str(error):  # once: it stays so until this program is started anew
                logging.getLogger("nestwright.web").error("%s", error)
            self.fault = str(error)
        except Exception as error:  # the next look may do better; a page that is silent for ever may not
            logging.getLogger("nestwright.web").exception("a look at the record failed")
            self.fault = str(error) if isinstance(error, InputError) else type(error).__name__

    def _once(self) -> None:
        from nestwright.errands.garden_loggers import garden_climate_of
        from nestwright.workshop.changes import now
        from nestwright.workshop.look import look

        workshop = self.workshop
        with reading(workshop.engine) as connection:
            step = newest_step(connection)
        found = look(workshop, now(), fit=False, prepare=lambda kept: garden_climate_of(workshop, kept))
        with reading(workshop.engine) as connection:
            readings = tuple(last_readings(connection, workshop.folder, found.at))
            loggers = {int(i): str(name) for i, name in connection.execute(select(logger.c.id, logger.c.name))}
        self._fit(found, step)
        try:
            # before the page sees it, so that what it shows to be done can be answered at once
            self._alarms(found)
        finally:
            with self._looked:
                self.sight = Sight(found, readings, loggers, step)
                self._looked.notify_all()

    def _fit(self, found: Look, step: int) -> None:
        """Begin to fit what is not kept, once for one state of the record: what cannot be fitted is not tried for
        ever, and what a person stopped stays so until something new is told."""
        names = found.unfitted
        self._fit_soon = not self._quiet(bool(names), step)
        if self._fit_soon:
            return
        key = f"forecasts/{found.today}/{step}"
        if not names or key == self._fitted or (self.fitting is not None and self.fitting.going):
            return
        self._fitted = key
        title = f"Forecast of {names[0]}" if len(names) == 1 else f"Forecasts of {len(names)} colonies"
        self.fitting = self.jobs.start(key, title, "/", lambda job: self._fit_all(job, names))

    def _quiet(self, unfitted: bool, step: int) -> bool:
        """Whether nobody has just recorded something, or what is not fitted has waited for long."""
        at = time.monotonic()
        if step != self._newest:
            self._acted = at - QUIET if self._newest is None else at
            self._newest = step
        self._unfitted_since = min(self._unfitted_since, at) if unfitted else float("inf")
        return at - self._acted >= QUIET or at - self._unfitted_since >= AT_LAST

    def _fit_all(self, job: Job, names: list[str]) -> date:
        from nestwright.errands.garden_loggers import garden_climate_of
        from nestwright.workshop.changes import now
        from nestwright.workshop.look import look

        def progress(name: str, share: float) -> None:
            if name in names:
                job.report((names.index(name) + share) / len(names))
                if share >= 1.0:
                    self._wake.set()

        workshop = self.workshop
        made = look(workshop, now(), progress=progress, prepare=lambda kept: garden_climate_of(workshop, kept))
        self._wake.set()
        return made.today

    def _alarms(self, found: Look) -> None:
        """Bring the alarms to a look, as `nestwright alarms check` does, when something changed or it is time."""
        from nestwright.workshop.alarms import owed, record_look
        from nestwright.workshop.notices import read_notices

        told = frozenset((one.key, one.state) for one in found.findings)
        late = time.monotonic() - self._recorded_at > RECORD_EVERY
        if told == self._recorded and not late:
            return
        notices = None
        faults: tuple[str, ...] = ()
        try:
            notices = read_notices(self.workshop.folder)
        except (InputError, FileError) as error:
            faults = (str(error).split("\n")[0],)
        with writing(self.workshop.engine) as connection:
            # a file that cannot be used now must not forgive what is owed
            ways = tuple(owed(connection)) if notices is None else notices.ways
            record_look(connection, found, ways)
        self._recorded, self._recorded_at = told, time.monotonic()
        if notices is None or not notices.ways:
            self.undelivered = faults
        elif self._teller is None or not self._teller.is_alive():
            # a mail server that does not answer must not hold up the next look
            self._teller = threading.Thread(target=self._tell, args=(notices,), name="tell", daemon=True)
            self._teller.start()

    def _tell(self, notices: Any) -> None:
        from nestwright.workshop.telling import tell_owed

        try:
            self.undelivered = tuple(one.failure for one in tell_owed(self.workshop, notices) if one.failure)
        except Exception:
            logging.getLogger("nestwright.web").exception("notices could not be sent")
