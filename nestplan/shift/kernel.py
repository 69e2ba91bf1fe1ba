"""From an order of tasks and a route for each to a timetable, and the search over orders.

A timetable is made task by task: each step goes to the first place on its machine's day
where it fits, gaps between earlier tasks included, so a job may overtake one that dries.
What is compiled here is plain arithmetic on the arrays of `arrays.py`. Stays and hands are kept
by rising start.
"""

import numpy as np
from numba import njit

from nestplan.shift.arrays import NO_DUE, Ints

LATE, LATE_S, END_S, CHANGES = 0, 1, 2, 3


@njit(cache=True)
def timetable(  # type: ignore[no-untyped-def]
    order, route, step, first_step, first_route, due_s, ready_s, begun, change_s, mounted, hands,
    now_s, start, worth, m_start, m_end, m_film, m_count, h_start, h_end,
):  # fmt: skip
    """Fill `start` (tasks, most steps) and `worth` (4) for the tasks in `order`.

    Tasks that have begun are placed first, whatever the order says. The arrays after
    `worth` are room to work in.
    """
    longest = _longest(step)
    m_count[:] = 0
    worth[:] = 0
    held = 0
    for task in order:
        if begun[task, 0] >= 0:
            held = _fixed(
                task, route, step, first_step, first_route, begun, start,
                m_start, m_end, m_film, m_count, h_start, h_end, held,
            )  # fmt: skip
    for task in order:
        held = _place(
            task, route, step, first_step, first_route, due_s, ready_s, begun, change_s, mounted,
            hands, now_s, longest, start, worth, m_start, m_end, m_film, m_count, h_start, h_end,
            held,
        )  # fmt: skip
    worth[CHANGES] = _changes(change_s, mounted, m_film, m_count)


@njit(cache=True)
def _longest(step):  # type: ignore[no-untyped-def]
    """The longest that any step keeps a person."""
    longest = 0
    for k in range(len(step)):
        longest = max(longest, step[k, 2], step[k, 5])
    return longest


@njit(cache=True)
def _place(  # type: ignore[no-untyped-def]
    task, route, step, first_step, first_route, due_s, ready_s, begun, change_s, mounted, hands,
    now_s, longest, start, worth, m_start, m_end, m_film, m_count, h_start, h_end, held,
):  # fmt: skip
    """Put a task's steps that have not begun where they fit first, and count what it is worth."""
    row0 = first_step[first_route[task] + route[task]]
    row1 = first_step[first_route[task] + route[task] + 1]
    at = ready_s[task]
    for k in range(row1 - row0):
        row = step[row0 + k]
        if begun[task, k] >= 0:
            at = begun[task, k] + row[3]
            if k + 1 < row1 - row0 and begun[task, k + 1] < 0:
                at = max(at, ready_s[task] - step[row0 + k + 1, 1])
            continue
        at += row[1]
        at = _earliest(
            at, now_s, row, change_s, mounted, m_start, m_end, m_film, m_count,
            h_start, h_end, held, hands, longest,
        )  # fmt: skip
        held = _put(at, row, m_start, m_end, m_film, m_count, h_start, h_end, held)
        start[task, k] = at
        at += row[3]
    worth[END_S] = max(worth[END_S], at)
    if at > due_s[task]:
        worth[LATE] += 1
        worth[LATE_S] += at - due_s[task]
    return held


@njit(cache=True)
def _changes(change_s, mounted, m_film, m_count):  # type: ignore[no-untyped-def]
    """How often a film is mounted."""
    changes = 0
    for machine in range(len(change_s)):
        if change_s[machine] == 0:
            continue
        film = mounted[machine]
        for k in range(m_count[machine]):
            if m_film[machine, k] != film:
                changes += 1
                film = m_film[machine, k]
    return changes


@njit(cache=True)
def _fixed(  # type: ignore[no-untyped-def]
    task, route, step, first_step, first_route, begun, start,
    m_start, m_end, m_film, m_count, h_start, h_end, held,
):  # fmt: skip
    """Place the steps that have begun where they are."""
    row0 = first_step[first_route[task] + route[task]]
    for k in range(begun.shape[1]):
        if begun[task, k] < 0:
            break
        start[task, k] = begun[task, k]
        held = _put(
            begun[task, k], step[row0 + k], m_start, m_end, m_film, m_count, h_start, h_end, held
        )
    return held


@njit(cache=True)
def _earliest(  # type: ignore[no-untyped-def]
    at,
    now_s,
    row,
    change_s,
    mounted,
    m_start,
    m_end,
    m_film,
    m_count,
    h_start,
    h_end,
    held,
    hands,
    longest,
):
    """The first time from `at` on when the step fits its machine and the hands are there."""
    machine, busy, film = row[0], row[3], row[6]
    count = m_count[machine]
    first = np.searchsorted(m_start[machine, :count], at + busy)  # gaps before close too early
    for k in range(first, count + 1):
        before = mounted[machine] if k == 0 else m_film[machine, k - 1]
        free = 0 if k == 0 else m_end[machine, k - 1]
        if before != film:
            free = max(free, now_s) + change_s[machine]
        here = max(at, free)
        closes = NO_DUE
        if k < count:
            closes = m_start[machine, k]
            if m_film[machine, k] != film:
                closes -= change_s[machine]
        if here + busy > closes:
            continue
        if hands > 0:
            here = _with_hands(here, row, h_start, h_end, held, hands, longest)
            if here + busy > closes:
                continue
        return here
    return at  # not reached: after the last step there is always room


@njit(cache=True)
def _with_hands(here, row, h_start, h_end, held, hands, longest):  # type: ignore[no-untyped-def]
    """The first time from `here` on when a person is free for each of the step's hands."""
    while True:
        free = _free_from(here, row[2], h_start, h_end, held, hands, longest)
        if row[5] > 0:
            again = _free_from(free + row[4], row[5], h_start, h_end, held, hands, longest)
            free = max(free, again - row[4])
        if free == here:
            return here
        here = free


@njit(cache=True)
def _free_from(here, long, h_start, h_end, held, hands, longest):  # type: ignore[no-untyped-def]
    """The first time from `here` on with somebody free for so long."""
    if long == 0:
        return here
    while True:
        next_end = NO_DUE
        # no hands are kept for longer, so only those that begin in this span can be in the way
        low = np.searchsorted(h_start[:held], here - longest)
        high = np.searchsorted(h_start[:held], here + long)
        # somebody is missing where as many as there are overlap: looked at where each begins
        clash = False
        for k in range(low, high):
            if h_end[k] <= here:
                continue
            at = max(here, h_start[k])
            together, first_end = 0, NO_DUE
            for i in range(low, high):
                if h_start[i] <= at < h_end[i]:
                    together += 1
                    first_end = min(first_end, h_end[i])
            if together >= hands:
                clash = True
                next_end = min(next_end, first_end)
        if not clash:
            return here
        here = next_end


@njit(cache=True)
def _put(at, row, m_start, m_end, m_film, m_count, h_start, h_end, held):  # type: ignore[no-untyped-def]
    """Write the step into its machine's day, and its hands; gives how many hands are held."""
    machine = row[0]
    k = m_count[machine]
    while k > 0 and m_start[machine, k - 1] > at:
        m_start[machine, k] = m_start[machine, k - 1]
        m_end[machine, k] = m_end[machine, k - 1]
        m_film[machine, k] = m_film[machine, k - 1]
        k -= 1
    m_start[machine, k], m_end[machine, k], m_film[machine, k] = at, at + row[3], row[6]
    m_count[machine] += 1
    if row[2] > 0:
        held = _keep(at, row[2], h_start, h_end, held)
    if row[5] > 0:
        held = _keep(at + row[4], row[5], h_start, h_end, held)
    return held


@njit(cache=True)
def _keep(at, long, h_start, h_end, held):  # type: ignore[no-untyped-def]
    """Write down a person's time, by rising start; gives how many are held."""
    k = held
    while k > 0 and h_start[k - 1] > at:
        h_start[k], h_end[k] = h_start[k - 1], h_end[k - 1]
        k -= 1
    h_start[k], h_end[k] = at, at + long
    return held + 1


@njit(cache=True)
def _less(a, b):  # type: ignore[no-untyped-def]
    for k in range(4):
        if a[k] != b[k]:
            return a[k] < b[k]
    return False


@njit(cache=True)
def _hopeless(part, best):  # type: ignore[no-untyped-def]
    """Whether a timetable that is not whole yet is worse than the best, whatever follows."""
    for k in range(3):
        if part[k] != best[k]:
            return part[k] > best[k]
    return False


@njit(cache=True)
def _draw(state):  # type: ignore[no-untyped-def]
    """The next number of Park and Miller's minimal standard generator (CACM 31, 1988, 1192)."""
    state[0] = state[0] * 48271 % 2147483647
    return state[0]


@njit(cache=True)
def search(  # type: ignore[no-untyped-def]
    order, route, routes, evaluations, seed, pulled, heat,
    step, first_step, first_route, due_s, ready_s, begun, change_s, mounted, hands, now_s,
):  # fmt: skip
    """Iterated greedy: take some tasks out, put each back where the day is best.

    After Ruiz and Stützle, EJOR 177 (2007) 2033, with a route for each task. order, route are
    bettered in place; gives the worth of what stands in them and the evaluations used.
    """
    tasks = len(order)
    most = begun.shape[1]
    machines = len(change_s)
    start = np.zeros((tasks, most), np.int64)
    m_start = np.zeros((machines, tasks * most + 1), np.int64)
    m_end = np.zeros((machines, tasks * most + 1), np.int64)
    m_film = np.zeros((machines, tasks * most + 1), np.int64)
    m_count = np.zeros(machines, np.int64)
    h_start = np.zeros(2 * tasks * most + 1, np.int64)
    h_end = np.zeros(2 * tasks * most + 1, np.int64)
    # the same room for what stands before the place that is tried: it is made once
    b_start, b_end, b_film = m_start.copy(), m_end.copy(), m_film.copy()
    b_count, b_worth = np.zeros(machines, np.int64), np.zeros(4, np.int64)
    bh_start, bh_end = h_start.copy(), h_end.copy()
    longest = _longest(step)
    here, here_route = order.copy(), route.copy()
    worth, trial, best_in = np.zeros(4, np.int64), np.zeros(4, np.int64), np.zeros(4, np.int64)
    best = np.zeros(4, np.int64)
    state = np.array([seed % 2147483646 + 1], np.int64)
    timetable(
        here, here_route, step, first_step, first_route, due_s, ready_s, begun, change_s, mounted,
        hands, now_s, start, worth, m_start, m_end, m_film, m_count, h_start, h_end,
    )  # fmt: skip
    best[:] = worth
    used = 1
    pull = min(pulled, tasks)
    out = np.zeros(pull, np.int64)
    while used < evaluations:
        was, was_route = here.copy(), here_route.copy()
        left = here.copy()
        count = tasks
        for k in range(pull):
            at = _draw(state) % count
            out[k] = left[at]
            for i in range(at, count - 1):
                left[i] = left[i + 1]
            count -= 1
        for k in range(pull):
            task = out[k]
            keep_at, keep_route = 0, here_route[task]
            best_in[:] = NO_DUE
            for turn in range(1 + routes[task]):
                if turn == 0:
                    first, last, by = 0, count, here_route[task]
                else:
                    by = turn - 1
                    if by == here_route[task]:
                        continue
                    first, last = max(0, keep_at - 1), min(count, keep_at + 1)
                old = here_route[task]
                here_route[task] = by
                b_count[:] = 0
                b_worth[:] = 0
                b_held = 0
                for i in range(count + 1):
                    one = task if i == count else left[i]
                    if begun[one, 0] >= 0:
                        b_held = _fixed(
                            one, here_route, step, first_step, first_route, begun, start,
                            b_start, b_end, b_film, b_count, bh_start, bh_end, b_held,
                        )  # fmt: skip
                for at in range(last + 1):
                    if at > 0:
                        b_held = _place(
                            left[at - 1], here_route, step, first_step, first_route, due_s,
                            ready_s, begun, change_s, mounted, hands, now_s, longest, start,
                            b_worth, b_start, b_end, b_film, b_count, bh_start, bh_end, b_held,
                        )  # fmt: skip
                    if at < first:
                        continue
                    used += 1
                    if _hopeless(b_worth, best_in):
                        continue
                    for m in range(machines):
                        n = b_count[m]
                        m_count[m] = n
                        m_start[m, :n] = b_start[m, :n]
                        m_end[m, :n] = b_end[m, :n]
                        m_film[m, :n] = b_film[m, :n]
                    h_start[:b_held] = bh_start[:b_held]
                    h_end[:b_held] = bh_end[:b_held]
                    trial[:] = b_worth
                    held = b_held
                    hopeless = False
                    for i in range(at - 1, count):
                        one = task if i < at else left[i]
                        held = _place(
                            one, here_route, step, first_step, first_route, due_s, ready_s,
                            begun, change_s, mounted, hands, now_s, longest, start, trial,
                            m_start, m_end, m_film, m_count, h_start, h_end, held,
                        )  # fmt: skip
                        if _hopeless(trial, best_in):
                            hopeless = True
                            break
                    if hopeless:
                        continue
                    trial[CHANGES] = _changes(change_s, mounted, m_film, m_count)
                    same = not _less(trial, best_in) and not _less(best_in, trial)
                    if _less(trial, best_in) or (same and _draw(state) % 2 == 0):
                        best_in[:] = trial
                        keep_at, keep_route = at, by
                here_route[task] = old
            here_route[task] = keep_route
            for i in range(count, keep_at, -1):
                left[i] = left[i - 1]
            left[keep_at] = task
            count += 1
        here[:] = left
        if _less(best_in, best):
            best[:] = best_in
            order[:] = here
            route[:] = here_route
        if _less(best_in, worth) or (
            best_in[0] == worth[0] and best_in[1] == worth[1] and (best_in[2] == worth[2])
        ):
            worth[:] = best_in
        else:
            worse = 0.0
            if best_in[0] > worth[0]:
                worse = 1e18
            else:
                worse = float(best_in[1] - worth[1]) + float(best_in[2] - worth[2])
            if _draw(state) / 2147483647.0 < np.exp(-max(worse, 0.0) / heat):
                worth[:] = best_in
            else:
                here[:] = was
                here_route[:] = was_route
    return best, used


def room(tasks: int, most: int, machines: int) -> tuple[Ints, ...]:
    """The arrays that `timetable` works in."""
    return (
        np.zeros((tasks, most), np.int64),
        np.zeros(4, np.int64),
        np.zeros((machines, tasks * most + 1), np.int64),
        np.zeros((machines, tasks * most + 1), np.int64),
        np.zeros((machines, tasks * most + 1), np.int64),
        np.zeros(machines, np.int64),
        np.zeros(2 * tasks * most + 1, np.int64),
        np.zeros(2 * tasks * most + 1, np.int64),
    )
