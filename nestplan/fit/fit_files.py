"""All files of a fit, in memory; fit.json comes last, for it lists the digest of the others."""

import hashlib
from pathlib import Path

from nestplan.check.said import SUMMARY
from nestplan.faults import Fault
from nestplan.files.cut_dxf import cut_dxf_name
from nestplan.fit.fit_json import FIT, fit_json
from nestplan.fit.fit_pdf import fit_pdf
from nestplan.fit.fit_sheets import Fit
from nestplan.fit.recut import as_dxf


def fit_files(fit: Fit) -> dict[str, bytes]:
    """Every file by name: cut layers for each frame that may be cut, fit.pdf, fit.json."""
    files: dict[str, bytes] = {}
    for each in fit.frames:
        if each.frame is not None and each.cut is not None:
            files[each.frame.cut_name] = each.cut
            drawing = as_dxf(each.frame, each.cut, fit.plan.width_mm)
            files[cut_dxf_name(each.frame.index)] = drawing
    files["fit.pdf"] = fit_pdf(fit)
    digests = {name: hashlib.sha256(data).hexdigest() for name, data in files.items()}
    files[FIT] = fit_json(fit, digests)
    return files


def refuse_plan_folder(out: Path) -> None:
    """raises: Fault where the files of a plan lie: its cut layers would be mixed up with these."""
    if (out / SUMMARY).exists():
        raise Fault(
            what="a plan lies in this folder: its cut files and the corrected ones would be mixed",
            where=f"--out {out}",
            do="name another folder for the fit",
        )
