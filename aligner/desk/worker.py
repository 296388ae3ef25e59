"""Aligning in the background, so that a decision is answered at once and the page hears later what it changed."""

from __future__ import annotations

from threading import Condition, Thread

from aligner.desk.talk import Talk
from aligner.errors import AlignerError


class Worker:
    """Keeps a talk aligned under its latest decisions, in a thread of its own."""

    def __init__(self, talk: Talk) -> None:
        self.talk = talk
        self.fault = ""
        self.done = 0.0
        self._wanted = 1
        self._finished = 0
        self._stopped = False
        self._changed = Condition()
        self._thread = Thread(target=self._work, name="aligning", daemon=True)

    def start(self) -> None:
        """Begin with the first alignment."""
        self._thread.start()

    def wake(self) -> None:
        """The decisions have changed."""
        with self._changed:
            self._wanted += 1
            self._changed.notify_all()

    def stop(self) -> None:
        """Begin nothing more."""
        with self._changed:
            self._stopped = True
            self._changed.notify_all()

    @property
    def busy(self) -> bool:
        """Whether an alignment is still to come."""
        return self._finished < self._wanted

    def wait(self, seconds: float) -> bool:
        """Wait until everything decided is aligned; returns whether it is."""
        with self._changed:
            return self._changed.wait_for(lambda: not self.busy, seconds)

    def _work(self) -> None:
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._stopped or self._finished < self._wanted)
                if self._stopped:
                    return
                target = self._wanted
            try:
                self.talk.align(self._progress)
                self.fault = ""
            except AlignerError as error:
                self.fault = str(error)
            except Exception as error:  # a fault of the program must not silence the desk
                self.fault = f"a fault of the program, not of your files ({type(error).__name__}: {error})."
            with self._changed:
                self._finished = target
                self._changed.notify_all()

    def _progress(self, done: float) -> None:
        self.done = done
