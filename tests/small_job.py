"""A small job on disk that plans in a second: two decals, 14 copies, a narrow roll."""

from pathlib import Path

PLATE_SVG = """<svg xmlns="http://www.w3.org/2000/svg"
  width="98mm" height="68mm" viewBox="0 0 98 68">
  <rect id="back" x="0" y="0" width="98" height="68" fill="#14375e"/>
  <circle cx="30" cy="34" r="14" fill="#f2a33a"/>
  <rect x="52" y="26" width="30" height="16" fill="#ffffff"/>
  <g id="outline" fill="none" stroke="#d0006f" stroke-width="0.2">
    <rect x="4" y="4" width="90" height="60" rx="6"/>
  </g>
</svg>
"""
BURGEE_SVG = """<svg xmlns="http://www.w3.org/2000/svg"
  width="88mm" height="58mm" viewBox="0 0 88 58">
  <path d="M0 0 H88 L74 29 L88 58 H0 Z" fill="#c8452d"/>
  <path d="M0 20 H76 L70 29 L76 38 H0 Z" fill="#f0cf9a"/>
  <path id="outline" d="M4 4 L81 4 L65 29 L81 54 L4 54 Z" fill="none" stroke="#d0006f"/>
</svg>
"""
SHOP_TOML = """
[[roll]]
name = "white gloss 600"
width_mm = 600
left_m = 20
price = 6.40
per = "m2"

[[machine]]
name = "printer"
does = ["print"]
width_mm = 1600
margin_left_mm = 5
margin_right_mm = 5
lead_mm = 40
tail_mm = 40
[[machine.mode]]
name = "sign"
resolution_dpi = 720
passes = 8
swath_mm = 54
carriage_mm_s = 900
turnaround_s = 0.4

[[machine]]
name = "cutter"
does = ["cut"]
width_mm = 1600
speed_mm_s = 400
acceleration_mm_s2 = 9000
lift_s = 0.08
frame_greatest_mm = 1200
corrects = "similarity"
[machine.sensor]
shape = "disc"
size_mm = 6
clear_mm = 4
spacing_mm = 400
read_s = 1.5
repeatability_mm = 0.08

[[setup]]
name = "pair"
stages = [
  { machine = "printer", handling_s = 120 },
  { machine = "cutter", lag_s = 600, handling_s = 180 },
]

[cost]
currency = "EUR"
ink_per_ml = 0.12
ink_ml_per_m2 = 10
labour_per_h = 38
"""
JOB_TOML = """
name = "pier open day"
shop = "shop.toml"
roll = "white gloss 600"
setup = "pair"
gutter_mm = 4.0

[[decal]]
name = "berth plate"
artwork = "art/plate.svg"
quantity = 8
contour = "layer:outline"
bleed_mm = 2.0

[[decal]]
name = "club burgee"
artwork = "art/burgee.svg"
quantity = 6
contour = "layer:outline"
bleed_mm = 2.0
"""


def write_small_job(folder: Path) -> Path:
    """Write the job, its shop and its artwork; returns the job file's path."""
    (folder / "art").mkdir(parents=True)
    (folder / "art" / "plate.svg").write_text(PLATE_SVG)
    (folder / "art" / "burgee.svg").write_text(BURGEE_SVG)
    (folder / "shop.toml").write_text(SHOP_TOML)
    job = folder / "job.toml"
    job.write_text(JOB_TOML)
    return job


def changed(path: Path, old: str, new: str) -> None:
    """Replace one passage of a file; it must be there."""
    text = path.read_text()
    assert text.count(old) >= 1, f"{old!r} is not in {path.name}"
    path.write_text(text.replace(old, new, 1))
