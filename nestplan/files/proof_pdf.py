"""proof.pdf: what a client approves, a checker measures and an operator loads by.

A4 pages of vectors: the whole run, then the words there was no room for, the map of
predicted errors, then a page per frame. The same run gives the same bytes.
"""

from functools import partial

from nestplan import figures
from nestplan.files.fonts import register_fonts
from nestplan.files.one_line import one_line
from nestplan.files.proof_art import with_art
from nestplan.files.proof_art_faults import fault_panels
from nestplan.files.proof_decal import Page as Panels
from nestplan.files.proof_decal import decal_pages, draw_decal_page
from nestplan.files.proof_lengths import lengths_of
from nestplan.files.proof_page import Info, draw_more, more_mm, more_pages
from nestplan.files.proof_page_card import card_pages, draw_card_page
from nestplan.files.proof_page_errors import draw_error_page, plan_error_page
from nestplan.files.proof_page_frame import draw_frame_page, frame_info, plan_frame_page
from nestplan.files.proof_page_run import draw_run_page, plan_run_page
from nestplan.files.proof_page_slip import draw_slip, slip_words, slips
from nestplan.files.proof_page_trade import draw_trade_page
from nestplan.files.proof_sheet import Sheet
from nestplan.files.proof_sheets import Page, drawn, moved
from nestplan.files.proof_style import PORTRAIT_MM
from nestplan.files.run import Run
from nestplan.job import stages_of
from nestplan.marks import Frame

KIND = "Proof"
NAME_MOST = 44  # letters of the job's name where it stands before something else


def proof_pdf(run: Run) -> bytes:
    """The proof of a planned run as the bytes of a PDF, at most A4."""
    register_fonts()  # words are measured while pages are planned
    made = drawn(_pages(run), _source(run))
    about = {
        "/Title": f"{one_line(run.job.order.name)}: proof",
        "/Producer": f"nestplan {run.version}",
    }
    return with_art(made.pdf, made.forms, run.artwork.decals, about)


def _pages(run: Run) -> list[Page]:
    name = run.job.order.name
    first = plan_run_page(run)
    pages = [
        Page(
            paper_mm=first.paper_mm,
            title=name,
            under=_run_words(run),
            draw=lambda sheet: draw_run_page(sheet, run, first),
            kind=KIND,
        ),
        *_decal_pages(run, first.info),
        *_art_pages(run),
        *_error_pages(run),
        *_trade_pages(run),
    ]
    plan = plan_frame_page(run)
    for frame in run.marks.frames:
        title = f"Frame {frame.index} of {len(run.marks.frames)}"
        under = f"{one_line(name, NAME_MOST)}: {_frame_words(run, frame)}"
        pages.append(
            Page(
                paper_mm=plan.paper_mm,
                title=title,
                under=under,
                draw=lambda sheet, frame=frame: draw_frame_page(  # type: ignore[misc]  # mypy cannot infer a lambda with a default
                    sheet, run, frame, plan
                ),
                kind=KIND,
            )
        )
        pages.extend(moved(frame_info(run, frame, plan), title, under, KIND))
    return [*pages, *_card_pages(run), *_slip_pages(run)]


def _decal_pages(run: Run, info: Info) -> list[Page]:
    """What found no room on the first page, then each decal at scale."""
    *full, last = more_pages(info.moved_wide, info.moved_narrow).pages or [((), ())]
    taken = more_mm(last)
    under = f"{one_line(run.job.order.name, NAME_MOST)}: art inside its bleed, over it the cut line"
    if any(decal.white is not None for decal in run.artwork.decals):
        under = f"{under}, hatched its white ink"

    def draw(sheet: Sheet, k: int, page: Panels) -> None:
        if k == 0:
            draw_more(sheet, last)
        draw_decal_page(sheet, page, taken if k == 0 else 0.0)

    before = [partial(draw_more, page=page) for page in full]
    after = [partial(draw, k=k, page=page) for k, page in enumerate(decal_pages(run, taken))]
    return [
        Page(
            paper_mm=PORTRAIT_MM,
            title="Decals",
            under=f"{under}. Lengths in mm.",
            draw=each,
            kind=KIND,
        )
        for each in (*before, *after)
    ]


def _card_pages(run: Run) -> list[Page]:
    """For the operator."""
    return [
        Page(
            paper_mm=PORTRAIT_MM,
            title=run.job.order.name,
            under=_run_words(run),
            draw=partial(draw_card_page, page=page),
            kind="Run card",
        )
        for page in card_pages(run)
    ]


def _slip_pages(run: Run) -> list[Page]:
    """For who packs, one recipient each."""
    pages = []
    for slip in slips(run):
        title, under = f"For {slip.recipient}", _dated(run, slip_words(run, slip))
        pages.append(
            Page(
                paper_mm=slip.page.paper_mm,
                title=title,
                under=under,
                draw=lambda sheet, slip=slip: draw_slip(sheet, run, slip),  # type: ignore[misc]  # as above
                kind="Packing slip",
            )
        )
        pages.extend(moved(slip.page.info, title, under, "Packing slip"))
    return pages


def _dated(run: Run, words: str) -> str:
    """The words, behind the job's date where it has one; no clock is asked."""
    return one_line(f"{run.job.order.date}. {words}" if run.job.order.date else words)


def _art_pages(run: Run) -> list[Page]:
    """Decals whose art is not in order; no page where all of it is."""
    under = f"{one_line(run.job.order.name, NAME_MOST)}: what to mend, or to accept, before it runs"
    return moved(Info(moved_wide=fault_panels(run)), "Art to look at", under, KIND)


def _error_pages(run: Run) -> list[Page]:
    """The error map, and what found no room beside it."""
    errors = plan_error_page(run)
    title, under = (
        "Predicted error",
        f"{one_line(run.job.order.name, NAME_MOST)}: {_run_words(run)}",
    )
    page = Page(
        paper_mm=errors.page.paper_mm,
        title=title,
        under=under,
        draw=lambda sheet: draw_error_page(sheet, run, errors),
        kind=KIND,
    )
    return [page, *moved(errors.page.info, title, under, KIND)]


def _trade_pages(run: Run) -> list[Page]:
    """What else could be chosen; no page where the job has no aim."""
    if run.trade is None:
        return []
    page = Page(
        paper_mm=PORTRAIT_MM,
        title="What could be chosen",
        under=f"{one_line(run.job.order.name, NAME_MOST)}: the same decals, printed wider or "
        f"narrower; planned is the one that takes the least {run.trade.aim}.",
        draw=partial(draw_trade_page, run=run, trade=run.trade),
        kind=KIND,
    )
    return [page]


def _run_words(run: Run) -> str:
    roll, setup = run.job.roll, run.job.setup
    copies = sum(len(strip.placements) for strip in run.nest.strips)
    finish = f", {roll.finish}" if roll.finish and roll.finish not in roll.name else ""
    stages = stages_of(run.job.shop, setup, laminated=run.job.laminate is not None)
    machines = " and ".join(dict.fromkeys(machine.name for _, machine, _ in stages))
    return _dated(
        run,
        f"{figures.count(copies, 'copy', 'copies')} of "
        f"{figures.count(len(run.artwork.decals), 'decal')} on {roll.name}{finish}; "
        f"{setup.name}: {machines}. Lengths in mm.",
    )


def _frame_words(run: Run, frame: Frame) -> str:
    copies = len(run.nest.strips[frame.index - 1].placements)
    end, say = frame.y0_mm + frame.length_mm, lengths_of(run)
    return (
        f"{figures.count(len(frame.marks), 'mark')}, {figures.count(copies, 'copy', 'copies')}; "
        f"{say.full(frame.length_mm)} long, from {say.bare(frame.y0_mm)} to "
        f"{say.full(end)} behind the leading edge."
    )


def _source(run: Run) -> str:
    return one_line(
        f"nestplan {run.version}, {run.job.path.name}, {run.job.shop_path.name}, "
        f"seed {run.seed}, {run.steps} steps"
    )
