"""What goes with the run besides drawings: a slip for every recipient, dated as the job is.

The words are copied out of the proof by a library that did not set them, and compared in
letters that any reader can copy. A long name may be cut short on paper, with three dots; then
all that stands before them must be its beginning.
"""

import unicodedata

import pypdfium2

from nestplan.check.findings import Claim, Finding, Kind
from nestplan.check.said import SUMMARY, Said

BEGINNING = 12  # signs of a name that must be left where it is cut short
DOTS = "…"
LAST_LETTER = 0x52F  # of Latin, Greek and Cyrillic, in the order of Unicode


def paper_claims(said: Said, proof: bytes) -> list[Claim]:
    """Nothing where the job names neither recipient nor date."""
    orders, decals = said.inputs.job.decal, said.decals
    named = {decal.recipient for decal in decals if decal.recipient is not None}
    claims = []
    if named or any(order.recipient is not None for order in orders):
        against = [
            Finding(
                kind=Kind.SUMMARY_WRONG,
                where=f"{SUMMARY}: {said.name(number)}, for",
                found=f"{decal.recipient or 'nobody'}",
                meant=f"{order.recipient or 'nobody'} as the job has it",
            )
            for number, (decal, order) in enumerate(zip(decals, orders, strict=False), start=1)
            if decal.recipient != order.recipient
        ]
        claims.append(Claim(says="every decal is for whom the job says", against=tuple(against)))
    asked = [("for", name) for name in sorted(named)]
    asked += [("date", said.inputs.job.date)] if said.inputs.job.date is not None else []
    if not asked:
        return claims
    words = "".join(_words(proof))
    missing = [
        Finding(kind=Kind.PROOF_PAPERS, where="proof.pdf", found="nothing", meant=f"{key} {name}")
        for key, name in asked
        if not names(words, name)
    ]
    says = "the proof names every recipient, and the job's date"
    return [*claims, Claim(says=says, against=tuple(missing))]


def _words(proof: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(proof)
    try:
        return [page.get_textpage().get_text_range() for page in document]
    finally:
        document.close()


def names(words: str, name: str) -> bool:
    """Whether words have a name, whole or as much of it as stands before three dots."""
    name = _plain(name)
    if name in _plain(words):
        return True
    ends = range(len(name) - 1, BEGINNING - 1, -1)
    cut = [_plain(each) for each in words.split(DOTS)[:-1]]
    return any(each.endswith(name[:end]) for each in cut for end in ends)


def _plain(text: str) -> str:
    signs = unicodedata.normalize("NFKC", text)
    return "".join(sign for sign in signs if sign.isalnum() and ord(sign) <= LAST_LETTER)
