"""What every command does at a terminal: patience, progress, faults as words, exit codes.

The only module that prints.
"""

import json
import signal
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from types import FrameType
from typing import Any, NoReturn

import click

from nestplan.faults import OUT_OF_REACH, Fault, Faults, Note

NEEDS_A_PERSON = 1


class Patience:
    """How long the search may go on: until Ctrl-C, or until the seconds are over.

    The first Ctrl-C ends the search and the plan is finished with the best so far. A second
    one, or one while files are written, ends the command; old files stay.
    """

    def __init__(self, seconds: float | None) -> None:
        self.seconds = seconds
        self.ends_at = None if seconds is None else time.monotonic() + seconds
        self.interrupted = False
        self.too_late = False
        self.at_files = False

    def __enter__(self) -> "Patience":
        self.before = signal.signal(signal.SIGINT, self._on_interrupt)
        return self

    def __exit__(self, *_: object) -> None:
        signal.signal(signal.SIGINT, self.before)

    def _on_interrupt(self, number: int, frame: FrameType | None) -> None:
        if self.interrupted or self.at_files:
            raise KeyboardInterrupt
        self.interrupted = True

    def over(self) -> bool:
        """Whether the search should end now."""
        if self.ends_at is not None and time.monotonic() > self.ends_at:
            self.too_late = True
        return self.interrupted or self.too_late

    def writing(self) -> None:
        """From here on Ctrl-C leaves the old files."""
        self.at_files = True

    def notes(self) -> list[Note]:
        """What a reader of the plan must know about the search's end."""
        if self.interrupted:
            text = "the search was interrupted: the nest is the best found until then"
            return [Note(level="look", where="nest", text=text)]
        if self.too_late:
            text = (
                f"--seconds {self.seconds:g} ended the search before its steps were used: another "
                "run may give another nest"
            )
            return [Note(level="know", where="nest", text=text)]
        return []


@contextmanager
def faults_to_words(as_json: bool) -> Iterator[None]:
    """Turn faults into three lines each on stderr and the contract's exit code."""
    try:
        yield
    except (Fault, Faults) as trouble:
        faults = trouble.each if isinstance(trouble, Faults) else [trouble]
        for fault in faults:
            click.echo(f"nestplan: {fault}", err=True)
        if as_json:
            say_json({"faults": [{"what": f.what, "where": f.where, "do": f.do} for f in faults]})
        sys.exit(trouble.code)
    except KeyboardInterrupt:
        click.echo(
            "nestplan: stopped; nothing was written, earlier files are as they were", err=True
        )
        sys.exit(OUT_OF_REACH)


@contextmanager
def progress_line() -> Iterator[Callable[[Any], None]]:
    """One line on stderr that rewrites itself, on a terminal only."""
    if not sys.stderr.isatty():
        yield lambda progress: None
        return
    last = 0.0

    def watch(progress: Any) -> None:
        nonlocal last
        if time.monotonic() - last < 0.2:
            return
        last = time.monotonic()
        over = 100 * (progress.length_mm / progress.bound_mm - 1) if progress.bound_mm > 0 else 0
        line = (
            f"nest  {progress.length_mm:.1f} mm, {over:.1f} % over the bound   "
            f"{100 * progress.share:3.0f} %   Ctrl-C keeps the best"
        )
        click.echo(f"\r{line:<78}", nl=False, err=True)

    try:
        yield watch
    finally:
        click.echo("\r" + " " * 78 + "\r", nl=False, err=True)


def now() -> str:
    """The time for the stock's book, ISO 8601 with its offset; never for a plan's files."""
    return datetime.now().astimezone().isoformat(timespec="seconds")


def leave(notes: tuple[Note, ...]) -> NoReturn:
    """Exit 1 when a note needs a person, else 0."""
    sys.exit(NEEDS_A_PERSON if any(note.level != "know" for note in notes) else 0)


def say(text: str) -> None:
    """Print a result."""
    click.echo(text.rstrip("\n"))


def say_json(data: object) -> None:
    """Print a result as JSON."""
    say(json.dumps(data, indent=2, ensure_ascii=False))
