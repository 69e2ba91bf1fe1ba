"""What the check found: the numbered kinds of disagreement, and where.

A check makes claims. A claim that holds is said in one sentence; one that does not
hold is a finding for every element that speaks against it.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum


class Kind(StrEnum):
    """What can be wrong, numbered by what was read: the number never changes its meaning.

    1 folder and summary, 2 cut layer, 3 distances, 4 print PDF, 5 its picture, 6 proof, 7 sums,
    8 what the job and its film ask for, 9 DXF and tables.
    """

    FILE_MISSING = "101 a listed file is not there"
    FILE_CHANGED = "102 a file is not the one that was written"
    FILE_STRAY = "103 a file lies there that the plan does not list"
    FILE_BROKEN = "104 a file cannot be read"
    SUMMARY_WRONG = "105 the summary says what cannot be"
    FRAME_COUNT = "106 pages or cut layers do not match the frames"
    FILE_LOCKED = "107 a document is locked, acts by itself or lacks its letters"
    JOB_CHANGED = "108 the job says now what was not planned"
    SOURCE_CHANGED = "109 a file of the job is not the one that was planned"

    SHEET_SIZE = "201 the cut layer is not at true size"
    SHEET_TURNED = "202 the cut layer is transformed"
    SHEET_EXTRA = "203 the cut layer draws what it should not"
    PATH_OPEN = "204 a cut path is not one closed ring"
    CUT_MISSING = "205 a copy is not cut"
    CUT_EXTRA = "206 a copy is cut that is not planned"
    CUT_MOVED = "207 a cut is not where it was planned"
    CUT_TURNED = "208 a cut is turned"
    CUT_SIZE = "209 a cut has the wrong size"
    CUT_MIRRORED = "210 a cut is mirrored"
    HOLE_LOST = "211 a hole is not cut"
    RING_EXTRA = "212 a copy has a ring too many"
    CUT_SHAPE = "213 a cut has another shape"
    CUT_SWAPPED = "214 cuts are exchanged"
    CUT_LAYER = "215 a cut is on the wrong layer"
    CUT_ORDER = "216 an outline is cut before its hole"
    MARK_MISSING = "217 a mark is not in the cut layer"
    MARK_EXTRA = "218 a mark is in the cut layer that is not planned"
    MARK_MOVED = "219 a mark is not where it was planned"
    MARK_SHAPE = "220 a mark has another shape"
    RING_LOST = "221 a copy lacks a ring"
    PIECE_LOST = "222 part of a contour is not cut"
    PIECE_STRAY = "223 a piece lies on no contour"
    EDGE_TWICE = "224 an edge is cut more than once"
    TAB_WRONG = "225 a tab is not where or as it should be"
    OVERCUT_WRONG = "226 the knife does not run on as the cutter needs it"
    WEED_WRONG = "227 a weed line is where it must not be"

    TOO_NEAR = "301 two contours are too near"
    OVERLAP = "302 two contours overlap"
    OFF_FILM = "303 a contour or its bleed leaves the print"
    RING_CROSSES = "304 a ring crosses itself or another"
    CLEAR_ZONE = "305 a decal reaches into a mark's clear zone"
    MARKS_APART = "306 marks are missing along an edge"
    OFF_REMNANT = "307 something stands where there is no film"

    PAGE_SIZE = "401 a page is not its frame"
    PRINT_MISSING = "402 a copy is not printed"
    PRINT_EXTRA = "403 a print has no cut"
    PRINT_MOVED = "404 print and cut are not at one place"
    PRINT_TURNED = "405 print and cut are turned against each other"
    PRINT_SIZE = "406 print and cut differ in size"
    PRINT_MIRRORED = "407 the print is mirrored against its cut"
    PRINT_HOLE = "408 print and cut differ in their holes"
    PRINT_SHAPE = "409 print and cut differ in shape"
    PRINT_SWAPPED = "410 a copy has the print of another"
    PRINTED_MARK_MISSING = "411 a mark is not printed"
    PRINTED_MARK_EXTRA = "412 a black shape is printed that is no mark"
    PRINTED_MARK_MOVED = "413 a mark is printed elsewhere"
    PRINTED_MARK_SHAPE = "414 a mark is printed in another shape"
    BAR_WRONG = "415 a scale bar is not 100 mm"
    BAR_IN_THE_WAY = "416 words or bars stand where they must not"
    WHITE_LACKING = "417 a mark lacks the white that its film needs below it"
    WHITE_WRONG = "418 white is printed where it must not"
    CODE_WRONG = "419 a frame's code does not tell which it is"
    CONTOUR_DRAWN = "420 a contour in the print is not the one that is cut"
    LAYER_WRONG = "421 a layer or colour of the print is not what it is for"
    FORMAT_WRONG = "422 the print breaks a rule of its format"
    PICTURE_COARSE = "423 a picture is printed coarser than the plan tells"
    WHITE_ART = "424 the white of a copy does not fit its art"
    PRINT_ROW = "425 a copy does not say what its row says"
    SOURCE_ART = "426 a decal is not printed as its artwork shows"

    LOOKS_WRONG = "501 a copy does not look like its decal"
    LOOKS_SWAPPED = "502 a copy looks like another decal"
    MARK_UNSEEN = "503 a mark is not seen in the picture"
    MARK_SEEN_MOVED = "504 a mark is seen elsewhere"
    CLEAR_ZONE_INK = "505 ink is seen in a mark's clear zone"
    STRAY_INK = "506 ink is seen where nothing belongs"
    BAR_SEEN_WRONG = "507 a scale bar is seen with another length"
    BLEED_LACKING = "508 the print ends before its bleed does"
    COARSE = "509 a picture is printed with fewer pixels than the proof shows"

    PROOF_WITHOUT = "601 the proof does not show a frame"
    PROOF_PLACE = "602 the proof shows a copy elsewhere"
    PROOF_OUTLINE = "603 the proof shows another outline"
    PROOF_ART = "604 the proof shows other art"
    PROOF_MARK = "605 the proof shows other marks"
    PROOF_PAPERS = "611 a paper that the job asks for is not in the proof"

    COUNT_WRONG = "701 a count does not agree"
    SUM_WRONG = "702 a figure does not follow from the others"
    ERROR_WRONG = "703 a predicted error does not follow from its model"
    ROW_WRONG = "711 rows and copies do not match one to one"

    TURN_FORBIDDEN = "801 a copy is turned as its decal may not be"
    SPOILED_FILM = "802 a frame lies on spoiled film"
    NOT_TOGETHER = "803 copies of a decal do not lie together in a band"
    NOT_ORDERED = "804 a copy is planned that nobody ordered"
    MIRROR_WRONG = "805 a copy is not mirrored as the job asks"

    DXF_UNITS = "901 the DXF is not in millimetres"
    DXF_EXTRA = "902 the DXF draws what it should not"
    DXF_RING = "903 SVG and DXF do not cut the same rings"
    DXF_PLACE = "904 SVG and DXF cut at different places"
    DXF_MARK = "905 SVG and DXF differ in a mark"
    DXF_ORDER = "906 SVG and DXF cut in different orders"
    TABLE_WRONG = "911 a table says otherwise than the summary"

    @property
    def number(self) -> int:
        """Three digits; the first tells what was read."""
        return int(self.value[:3])

    @property
    def sentence(self) -> str:
        """The kind in words."""
        return self.value[4:]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """One disagreement: which kind, which file and element, what was read, what was meant."""

    kind: Kind
    where: str
    found: str
    meant: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """holds: claims that were tested and hold, one sentence each; found: those that do not."""

    holds: tuple[str, ...]
    found: tuple[Finding, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """A sentence that was tested, and all that speaks against it; nothing: it holds."""

    says: str
    against: tuple[Finding, ...] = ()


def gathered(claims: Iterable[Claim]) -> Findings:
    """Claims parted into those that hold and what was found; nothing is said twice."""
    claims = tuple(claims)
    found = dict.fromkeys(finding for claim in claims for finding in claim.against)
    return Findings(
        holds=tuple(claim.says for claim in claims if not claim.against), found=tuple(found)
    )
