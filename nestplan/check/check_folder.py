"""The check of a whole folder: what is read first is what later readings are held against.

The cut layer is held against the summary, the print against the cut layer, the picture
against the print, the proof against cut and print. A file that cannot be read is a
finding, and what depends on it is left unsaid.
"""

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from nestplan.check.aim_claims import aim_claims
from nestplan.check.apart_claims import apart_claims
from nestplan.check.art_claims import art_claims
from nestplan.check.art_fault_claims import art_fault_claims
from nestplan.check.bleed_claims import bleed_claims
from nestplan.check.code_claims import code_claims
from nestplan.check.contour_claims import contour_claims
from nestplan.check.cut_claims import cut_copies
from nestplan.check.cut_copy import Copy, pose_of
from nestplan.check.cut_layer import CutLayer, read_cut_layer
from nestplan.check.cut_pieces import piece_claims
from nestplan.check.distance_claims import distance_claims
from nestplan.check.document_claims import document_claims
from nestplan.check.dxf_claims import dxf_claims
from nestplan.check.error_claims import error_claims
from nestplan.check.film_claims import film_claims, pages_of
from nestplan.check.findings import Claim, Finding, Findings, Kind, gathered
from nestplan.check.folder import PRINT, PROOF, cut_name, read_folder, summary_bytes
from nestplan.check.format_claims import format_claims
from nestplan.check.job_files import JobFiles, job_file_claims, job_files
from nestplan.check.mark_claims import mark_claims
from nestplan.check.outlines import Contour, contour_of
from nestplan.check.pairing import Judge
from nestplan.check.paper_claims import paper_claims
from nestplan.check.pdf_content import Unreadable
from nestplan.check.pdf_pages import PdfFile, read_pdf
from nestplan.check.picture_claims import picture_claims
from nestplan.check.print_claims import Printed, print_claims
from nestplan.check.print_page_claims import page_claims
from nestplan.check.proof_claims import Shown, proof_claims
from nestplan.check.resolution_claims import resolution_claims
from nestplan.check.row_claims import row_claims
from nestplan.check.said import SUMMARY, Said, SaidFrame, read_said
from nestplan.check.seen_marks import seen_mark_claims
from nestplan.check.source_claims import source_claims
from nestplan.check.sums import sum_claims
from nestplan.check.table_claims import table_claims
from nestplan.check.weed_claims import weed_claims
from nestplan.check.white_art_claims import white_art_claims
from nestplan.check.white_claims import white_claims
from nestplan.check.wish_claims import wish_claims
from nestplan.figures import count


def check_folder(folder: Path, job: Path | None = None) -> Findings:
    """Read a plan's files back and compare them with each other and with the summary.

    job: the job file that it was planned from; looked for near the folder where it is None.
    Nothing is written. raises: Fault where the folder holds no plan, or one of a later schema.
    """
    said, wrong = read_said(summary_bytes(folder), str(folder / SUMMARY))
    if said is None:
        return gathered([Claim(says="the summary can be read", against=tuple(wrong))])
    files, claims = read_folder(folder, said)
    home = job_files(said, folder, job)
    contours = [
        contour_of(
            [np.array(ring) for ring in decal.contour],
            decal.bleed_mm,
            [np.array(ring) for ring in decal.backing or ()],
        )
        for decal in said.decals
    ]
    as_read = [_layer(files, said, frame) for frame in said.frames]
    layers, pieces = piece_claims(said, contours, as_read)
    copies, moves, cut = cut_copies(said, contours, layers)
    documents, read = _documents(files, said)
    printed = documents.get(PRINT)
    width_mm = printed.pages[0].width_mm if printed and printed.pages else None
    return gathered(
        [
            Claim(says="the summary can be read"),
            *claims,
            *(job_file_claims(said, home) if home else ()),
            read,
            *document_claims(said, documents),
            Claim(
                says=f"{count(len(layers), 'cut layer')} at true size, only cut lines in them",
                against=tuple(finding for layer in layers for finding in layer.against),
            ),
            *pieces,
            *cut,
            *weed_claims(said, layers, copies),
            *dxf_claims(said, layers, files),
            *mark_claims(said, layers, moves),
            *distance_claims(said, layers, copies, width_mm),
            *_document_claims(said, contours, layers, copies, documents, home),
            *sum_claims(said, contours, layers, copies),
            *aim_claims(said),
            *wish_claims(said, copies),
            *art_fault_claims(said),
            *error_claims(said, contours),
            *apart_claims(said),
            *table_claims(said, files),
        ]
    )


def _layer(files: dict[str, bytes], said: Said, frame: SaidFrame) -> CutLayer:
    name = cut_name(frame.index)
    if name in files:
        return read_cut_layer(files[name], name, said, frame)
    return CutLayer(file=name, frame=frame, paths=(), marks=(), against=(), read=False)


def _documents(files: dict[str, bytes], said: Said) -> tuple[dict[str, PdfFile], Claim]:
    """Both PDFs as far as they can be read, and as many print pages as frames."""
    documents, against = {}, []
    for name in (PRINT, PROOF):
        if name not in files:
            continue
        try:
            documents[name] = read_pdf(files[name])
        except Unreadable as error:
            against.append(_broken(name, error))
    pages = len(documents[PRINT].pages) if PRINT in documents else len(said.frames)
    if pages != len(said.frames):
        found, meant = count(pages, "page"), count(len(said.frames), "frame")
        against.append(
            Finding(kind=Kind.FRAME_COUNT, where=PRINT, found=found, meant=f"a page for {meant}")
        )
    says = f"both PDFs can be read; {count(pages, 'page')} to print, one a frame"
    return documents, Claim(says=says, against=tuple(against))


def _broken(name: str, error: Unreadable) -> Finding:
    return Finding(kind=Kind.FILE_BROKEN, where=name, found=str(error), meant="a sound PDF")


def _document_claims(
    said: Said,
    contours: Sequence[Contour],
    layers: Sequence[CutLayer],
    copies: Sequence[Copy],
    documents: dict[str, PdfFile],
    home: JobFiles | None,
) -> list[Claim]:
    judge = Judge(contours)
    claims: list[Claim] = []
    pairs: list[Printed] = []
    shown: list[Shown] = []
    everyone = [*copies, *(ghosts := _only_planned(said, contours, copies))]
    if PRINT in documents:
        file = documents[PRINT]
        pages = file.pages[: len(said.frames)]
        pairs, moves, got = print_claims(said, judge, pages, layers, copies, ghosts)
        claims += got + page_claims(said, pages, layers, pairs, moves)
        claims += white_claims(said, file, pages, layers, pairs, moves)
        claims += contour_claims(said, file, pages, layers, moves)
        claims += format_claims(said, file.data)
        claims += resolution_claims(said, pairs)
        try:
            claims += picture_claims(said, judge, file, pages, pairs)
            claims += seen_mark_claims(said, file, pages, layers, moves)
            claims += bleed_claims(said, judge, file, pairs)
            claims += white_art_claims(said, file, pages, pairs)
            claims += row_claims(said, file, pairs)
            claims += code_claims(said, file, pages, layers, pairs, moves)
            claims += source_claims(said, home, judge, file, pairs) if home else []
        except Unreadable as error:
            claims.append(Claim(says="the print can be seen", against=(_broken(PRINT, error),)))
    if PROOF in documents:
        shown, got = proof_claims(said, judge, documents[PROOF].pages, layers, everyone)
        claims += got
        claims += paper_claims(said, documents[PROOF].data)
    claims += film_claims(said, layers, copies, pages_of(documents.get(PRINT)))
    if PRINT in documents and PROOF in documents:
        try:
            both = documents[PRINT], documents[PROOF]
            claims += art_claims(said, judge, both, pairs, shown)
        except Unreadable as error:
            claims.append(Claim(says="the proof can be seen", against=(_broken(PROOF, error),)))
    return claims


def _only_planned(said: Said, contours: Sequence[Contour], copies: Sequence[Copy]) -> list[Copy]:
    """Copies of the summary that no cut layer has, as they should be."""
    there = {copy.key for copy in copies}
    ghosts = []
    for frame in said.frames:
        for placement in frame.placements:
            key = placement.decal, placement.copy_
            if key not in there:
                contour, pose = contours[key[0] - 1], pose_of(placement)
                rings = tuple(pose.put(ring) for ring in contour.cut)
                ghosts.append(
                    Copy(
                        frame=frame.index,
                        key=key,
                        pose=pose,
                        rings=rings,
                        contour=contour,
                        as_planned=True,
                    )
                )
    return ghosts
