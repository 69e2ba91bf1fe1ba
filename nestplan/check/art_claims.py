"""The art itself: what is printed for a decal is what the proof shows for it.

Both are rendered alone and upright, so that neither cut lines nor neighbours disturb.
A proof may carry a photograph with fewer pixels than the print, never with more; then both
are looked at as coarsely as the coarser of the two.
"""

from collections import defaultdict
from collections.abc import Sequence
from math import ceil

from nestplan.check.copy_looks import upright
from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.looks import ROUND_PX, Grid, Look, allowed_mm2, differ_mm2, grid_of, look_of
from nestplan.check.pairing import Judge
from nestplan.check.pdf_pages import PdfFile, Picture
from nestplan.check.picture_claims import PER_MM
from nestplan.check.print_claims import Printed
from nestplan.check.proof_claims import Shown
from nestplan.check.said import Said
from nestplan.figures import count, fixed

PIXELS_APART = 0.7  # places a pixel of the coarser picture: nothing finer can agree
PLACES_MOST = 1_000_000  # of a decal: each is looked at once only
SAME_PIXEL = 1.02  # times: a proof may have fewer pixels than the print, never more
ALLOWED_MM2 = 0.2  # what is drawn is rendered twice by one renderer: it agrees to the pixel

Pair = tuple[int, Picture, Picture]  # decal from 1, its print, what the proof shows
Key = tuple[int, int]
Group = tuple[int, Key, Key]  # decal, and the forms of both pictures


def art_claims(
    said: Said,
    judge: Judge,
    files: tuple[PdfFile, PdfFile],
    pairs: Sequence[Printed],
    shown: Sequence[Shown],
) -> list[Claim]:
    """Compare print and proof, each pair of pictures once. files: print and proof.

    raises: Unreadable.
    """
    proof = {each.copy.key: each.placed.picture for each in shown}
    groups: dict[Group, list[Key]] = defaultdict(list)
    known: dict[Group, Pair] = {}
    for pair in pairs:
        key = pair.copy.key
        if key in proof:
            pictures = pair.placed.picture, proof[key]
            group = key[0], pictures[0].form.key, pictures[1].form.key
            groups[group].append(key)
            known[group] = key[0], *pictures
    against: list[Finding] = []
    for group, keys in groups.items():
        against += _compared(said, judge, files, known[group], keys, list(known.values()))
    return [
        Claim(
            says=f"the art of {count(len(groups), 'decal')} is printed as the proof shows it",
            against=tuple(against),
        )
    ]


def _compared(
    said: Said,
    judge: Judge,
    files: tuple[PdfFile, PdfFile],
    pair: Pair,
    keys: Sequence[Key],
    others: Sequence[Pair],
) -> list[Finding]:
    decal, printed, proved = pair
    names = _names(said, decal, keys)
    if proved.pixel and printed.pixel > proved.pixel * SAME_PIXEL:
        return [
            Finding(
                kind=Kind.COARSE,
                where=f"print.pdf, {name}",
                found=f"a pixel is {fixed(printed.pixel, 3)} mm wide",
                meant=f"{fixed(proved.pixel, 3)} mm or less, as in the proof",
            )
            for name in names
        ]
    differ, allowed = _differ(judge, files, decal, printed, proved)
    if differ <= allowed:
        return []
    found, kind = f"other art on {fixed(differ, 1)} mm²", Kind.PROOF_ART
    for other, _, shown in others:
        if other != decal and shown.form.key != proved.form.key:
            like, allowed = _differ(judge, files, decal, printed, shown)
            if like <= allowed:
                found, kind = f"the art of {said.name(other)}", Kind.LOOKS_SWAPPED
                break
    return [
        Finding(
            kind=kind, where=f"print.pdf, {name}", found=found, meant="its art as the proof shows"
        )
        for name in names
    ]


def _names(said: Said, decal: int, keys: Sequence[Key]) -> list[str]:
    """The copies by name, or the decal when all of its copies are meant."""
    if len(keys) == said.decals[decal - 1].planned > 1:
        return [f"{said.name(decal)}, all {count(len(keys), 'copy', 'copies')}"]
    return [said.copy_name(*key) for key in keys]


def _differ(
    judge: Judge, files: tuple[PdfFile, PdfFile], decal: int, printed: Picture, proved: Picture
) -> tuple[float, float]:
    """On how many mm² two pictures differ, and on how many they may."""
    pixel = max(printed.pixel, proved.pixel)
    finer = max(1, ceil(PER_MM * pixel / PIXELS_APART)) if pixel else 1
    grid = grid_of(judge.contours[decal - 1], PER_MM / finer, PLACES_MOST)
    one, other = (
        _look(judge, file, picture, decal, grid, finer, round_px=ROUND_PX if pixel else 0)
        for file, picture in zip(files, (printed, proved), strict=True)
    )
    return differ_mm2(one, other), ALLOWED_MM2 if not pixel else allowed_mm2(grid)


def _look(
    judge: Judge,
    file: PdfFile,
    picture: Picture,
    decal: int,
    grid: Grid,
    finer: int,
    *,
    round_px: int,
) -> Look:
    onto = upright(judge, picture, decal)
    return look_of(file.data, picture.form.key, onto, grid, finer, round_px)
