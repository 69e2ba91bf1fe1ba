"""Days made by hand for the tests: machines in a row, and a shop of five machines."""

import numpy as np

from nestplan.shift import Day, Place, Route, Step, Task


def in_a_row(work, *, waits=None, due=None, hands=0):
    """work: by machine, by job. waits: by job, before the second machine."""
    machines, jobs = len(work), len(work[0])
    tasks = []
    for j in range(jobs):
        steps = tuple(
            Step(
                machine=m,
                does="work",
                work_s=work[m][j],
                wait_s=waits[j] if waits is not None and m == 1 else 0,
            )
            for m in range(machines)
        )
        tasks.append(
            Task(
                name=f"job {j + 1}",
                routes=(Route(setup="row", steps=steps),),
                due_s=None if due is None else due[j],
            )
        )
    places = tuple(Place(name=f"machine {m + 1}") for m in range(machines))
    return Day(places=places, tasks=tuple(tasks), hands=hands)


def side_by_side(work, machines):
    """Jobs of one step each that any of the machines may do."""
    tasks = tuple(
        Task(
            name=f"job {j + 1}",
            routes=tuple(
                Route(setup=f"{m}", steps=(Step(machine=m, does="work", work_s=p),))
                for m in range(machines)
            ),
        )
        for j, p in enumerate(work)
    )
    return Day(places=tuple(Place(name=f"{m}") for m in range(machines)), tasks=tasks)


FILMS = ("white gloss", "matt", "clear")


def five_machines(jobs, seed, *, due=False, hands=3):
    """Two printers, a laminator, two cutters; three films; about a third is laminated."""
    draw = np.random.default_rng(seed)
    tasks = []
    for j in range(jobs):
        print_s, cut_s = int(draw.integers(600, 3000)), int(draw.integers(400, 2800))
        film, laminated = FILMS[draw.integers(3)], draw.random() < 0.3
        due_s = int(draw.choice([15_000, 30_000, 60_000])) if due else None
        routes = []
        for printer, slower in ((0, 1.0), (1, 1.3)):
            for cutter, longer in ((3, 1.0), (4, 1.2)):
                steps = [
                    Step(
                        machine=printer,
                        does="print",
                        hands_s=240,
                        work_s=int(print_s * slower),
                        film=film,
                    )
                ]
                if laminated:
                    steps.append(
                        Step(
                            machine=2,
                            does="laminate",
                            wait_s=3600,
                            hands_s=200,
                            work_s=print_s // 4,
                            film="gloss laminate",
                        )
                    )
                steps.append(
                    Step(
                        machine=cutter,
                        does="cut",
                        wait_s=1800,
                        hands_s=300,
                        work_s=int(cut_s * longer),
                    )
                )
                routes.append(Route(setup=f"{printer} and {cutter}", steps=tuple(steps)))
        tasks.append(Task(name=f"job {j + 1}", routes=tuple(routes), due_s=due_s))
    places = (
        Place(name="printer 1", change_s=300, mounted=FILMS[0]),
        Place(name="printer 2", change_s=300, mounted=FILMS[1]),
        Place(name="laminator"),
        Place(name="cutter 1"),
        Place(name="cutter 2"),
    )
    return Day(places=places, tasks=tuple(tasks), hands=hands)
