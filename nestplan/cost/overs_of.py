"""Overs of a job: from its own percentage, or from what the shop says of spoilage."""

from dataclasses import replace

from nestplan.artwork import Artwork
from nestplan.cost.overs import Overs, Spoilage, by_percent, least_overs, spoilage_of
from nestplan.faults import Note
from nestplan.figures import percent
from nestplan.job import Job


def spoilage_for(job: Job) -> Spoilage:
    """What the shop says of spoilage."""
    rates = job.shop.cost
    return spoilage_of(
        copy_percent=rates.spoiled_copy_percent,
        frame_percent=rates.spoiled_frame_percent,
        run_percent=rates.spoiled_run_percent,
        certainty=rates.certainty_percent,
    )


def overs_for(job: Job, artwork: Artwork, frames: int) -> Overs:
    """Extra copies of each decal; the job's own percentage goes before the shop's spoilage.

    frames: how many the run is divided into. A numbered copy has no double: one that is spoiled
    is made again, and so is what was spoiled before.
    """
    ordered = [decal.quantity for decal in artwork.decals]
    plain = [k for k, each in enumerate(artwork.decals) if not each.rows and not each.numbers]
    if not plain:
        return Overs(extra=(0,) * len(ordered), chance=1.0, wanted=True)
    asked = [ordered[k] for k in plain]
    if job.order.overs_percent is not None:
        extra = by_percent(asked, job.order.overs_percent)
        found = Overs(extra=extra, chance=1.0, wanted=True)
    else:
        found = least_overs(asked, spoilage_for(job), frames)
    by_row = dict(zip(plain, found.extra, strict=True))
    return replace(found, extra=tuple(by_row.get(k, 0) for k in range(len(ordered))))


def with_overs(artwork: Artwork, overs: Overs) -> Artwork:
    """The artwork with so many more copies to lay down."""
    decals = tuple(
        replace(decal, quantity=decal.quantity + more) if more else decal
        for decal, more in zip(artwork.decals, overs.extra, strict=True)
    )
    return replace(artwork, decals=decals)


def overs_notes(job: Job, artwork: Artwork, overs: Overs) -> list[Note]:
    """How many overs there are, why, and how sure they make it."""
    notes = []
    if any(overs.extra):
        each = (
            f"{decal.name} {more}"
            for decal, more in zip(artwork.decals, overs.extra, strict=True)
            if more
        )
        why = f"{percent(100 * overs.chance)} sure that enough good ones come out"
        if job.order.overs_percent is not None:
            why = f"{job.order.overs_percent.normalize():f} % of each, as the job says"
        total = sum(overs.extra)
        text = f"{total} overs are included, {why}: {', '.join(each)}"
        notes.append(Note(level="know", where="overs", text=text))
    if not overs.wanted:
        text = (
            f"no number of overs makes it {job.shop.cost.certainty_percent.normalize():f} % sure "
            f"that enough good ones come out: with these it is {percent(100 * overs.chance)}; runs "
            "or frames are lost too often, lower certainty_percent or print in more frames"
        )
        notes.append(Note(level="look", where="overs", text=text))
    return notes
