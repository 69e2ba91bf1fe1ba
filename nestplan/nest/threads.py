"""Work on several threads at once, while somebody may ask to stop."""

from collections.abc import Callable, Iterable
from concurrent.futures import FIRST_EXCEPTION, Executor, wait

POLL_S = 0.1


def all_done(
    pool: Executor, works: Iterable[Callable[[], None]], meanwhile: Callable[[], None]
) -> None:
    """Let every work be done; `meanwhile` is called every tenth of a second, and at the end.

    raises: what a work raises.
    """
    running = {pool.submit(work) for work in works}
    while running:
        done, running = wait(running, timeout=POLL_S, return_when=FIRST_EXCEPTION)
        for future in done:
            future.result()
        meanwhile()
