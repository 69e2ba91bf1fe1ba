"""All files of a plan, in memory: nothing here touches the disk.

The summary is made last, for it lists the digest of every other file.
"""

import hashlib
from collections.abc import Callable

from nestplan.files.run import Run


def run_files(run: Run, proof: Callable[[Run], bytes] | None = None) -> dict[str, bytes]:
    """Every file of the plan by name, the summary last; the same run gives the same bytes.

    proof: makes the proof PDF; a test may hand in a quicker one.
    """
    # loaded only where files are made: what draws them takes a command's time to load
    from nestplan.files.cut_dxf import cut_dxf, cut_dxf_name
    from nestplan.files.cut_svg import cut_svg, cut_svg_name
    from nestplan.files.print_pdf import print_pdf
    from nestplan.files.proof_pdf import proof_pdf
    from nestplan.files.summary import SUMMARY, contents, summary
    from nestplan.files.tables import tables

    files = {"print.pdf": print_pdf(run), "proof.pdf": (proof or proof_pdf)(run)}
    for frame in run.marks.frames:
        files[cut_svg_name(frame.index)] = cut_svg(run, frame)
        files[cut_dxf_name(frame.index)] = cut_dxf(run, frame)
    files |= tables(contents(run, {}))
    digests = {name: hashlib.sha256(data).hexdigest() for name, data in files.items()}
    files[SUMMARY] = summary(run, digests)
    return files
