"""A job file and its shop file come in; a checked `Job` goes out."""

from nestplan.job.job_file import Cut, DecalOrder, JobFile, Rotate
from nestplan.job.read import Job, read_job
from nestplan.job.shop_file import Cost, Machine, PrintMode, Roll, Sensor, Setup, ShopFile, Stage

__all__ = [
    "Cost",
    "Cut",
    "DecalOrder",
    "Job",
    "JobFile",
    "Machine",
    "PrintMode",
    "Roll",
    "Rotate",
    "Sensor",
    "Setup",
    "ShopFile",
    "Stage",
    "read_job",
]
