"""One right job and shop as text, to be made wrong one passage at a time."""

from pathlib import Path

from nestplan.faults import Fault, Faults
from nestplan.job import Job, read_job

JOB = """\
name = "harbour regatta"
shop = "shop.toml"
roll = "white gloss 1370"
setup = "pair"
gutter_mm = 4.0

[[decal]]
name = "berth plate"
artwork = "art/berth_plate.svg"
quantity = 96
width_mm = 90

[[decal]]
name = "club burgee"
artwork = "art/club_burgee.png"
quantity = 24
height_mm = 60.5
cut = "through"
contour = "offset:2.0"
bleed_mm = 1.5
rotate = "free"
"""

SHOP = """\
[[roll]]
name = "white gloss 1370"
width_mm = 1370
left_m = 38.5
price = 5.40
finish = "gloss"
shrink_along_percent = -0.1
avoid_m = [[12.1, 12.4], [20, 21.5]]

[[roll]]
name = "matt 760"
width_mm = 760.5
left_m = 21
price = 189.10
per = "roll"
length_m = 50

[[machine]]
name = "printer"
does = ["print"]
width_mm = 1625
margin_left_mm = 10
margin_right_mm = 12
lead_mm = 120

[[machine.mode]]
name = "six passes"
resolution_dpi = 720
passes = 6
swath_mm = 54
carriage_mm_s = 1000
turnaround_s = 0.4

[[machine]]
name = "cutter"
does = ["cut"]
width_mm = 1600
speed_mm_s = 400
acceleration_mm_s2 = 9800
frame_least_mm = 150
frame_greatest_mm = 1400
roller_lanes_mm = [[0, 18], [672, 698]]
tools = { kiss = "blade 1", through = "blade 2" }

[machine.sensor]
shape = "disc"
size_mm = 6
clear_mm = 4
spacing_mm = 400
read_s = 1.5
repeatability_mm = 0.08

[[machine]]
name = "combined device"
does = ["print", "cut"]
width_mm = 800
speed_mm_s = 300
acceleration_mm_s2 = 9800
frame_greatest_mm = 1250
sensor = { shape = "cross", size_mm = 8, clear_mm = 3, spacing_mm = 300, read_s = 2, \
repeatability_mm = 0.1 }

[[machine.mode]]
name = "eight passes"
resolution_dpi = 720
passes = 8
swath_mm = 40
carriage_mm_s = 900
turnaround_s = 0.5

[[setup]]
name = "pair"
stages = [
    { machine = "printer", handling_s = 240 },
    { machine = "cutter", lag_s = 7200, handling_s = 420 },
]

[[setup]]
name = "combined"
enters = "trailing"
stages = [
    { machine = "combined device", does = "print" },
    { machine = "combined device", does = "cut" },
]

[cost]
currency = "EUR"
ink_per_ml = 0.14
ink_ml_per_m2 = 11
labour_per_h = 34.00
"""


def changed(text: str, old: str, new: str, nth: int = 1) -> str:
    """The text with the nth of the old passages replaced; there must be one."""
    parts = text.split(old)
    assert len(parts) > nth, f"no {old!r} to change"
    return old.join(parts[:nth]) + new + old.join(parts[nth:])


def part(begin: str, end: str) -> str:
    """The passage of the shop from one head to the next."""
    start = SHOP.index(begin)
    return SHOP[start : SHOP.index(end, start)]


def write(folder: Path, job: str = JOB, shop: str = SHOP) -> Path:
    """Both files in the folder; the path of the job."""
    (folder / "shop.toml").write_text(shop, encoding="utf-8")
    path = folder / "regatta.toml"
    path.write_text(job, encoding="utf-8")
    return path


def read(folder: Path, job: str = JOB, shop: str = SHOP) -> Job:
    """Write and read."""
    return read_job(write(folder, job, shop))


def faults_in(path: Path) -> list[Fault]:
    """All faults of a job file; an empty list when it is right."""
    try:
        read_job(path)
    except Fault as fault:
        return [fault]
    except Faults as faults:
        return list(faults.each)
    return []


def only_fault(path: Path) -> Fault:
    """The one fault of a job file."""
    faults = faults_in(path)
    assert len(faults) == 1, "\n".join(map(str, faults))
    return faults[0]
