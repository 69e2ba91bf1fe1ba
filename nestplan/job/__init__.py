"""A job file and its shop file come in; a checked `Job` goes out."""

from nestplan.job.cut_wishes import Tabs, Weed
from nestplan.job.former import Former
from nestplan.job.job_file import Aim, Cut, DecalOrder, Direction, JobFile, Rotate, White
from nestplan.job.print_modes import modes_of
from nestplan.job.quote_terms import QuoteTerms
from nestplan.job.rates import Channel, Cost, Discount
from nestplan.job.read import Change, Equipment, Job, machines_of, read_job, read_shop, stages_of
from nestplan.job.schema import job_schema, shop_schema
from nestplan.job.shop_file import (
    Calibration,
    Corrects,
    Machine,
    PrintMode,
    Roll,
    Sensor,
    Setup,
    ShopFile,
    Stage,
    Task,
)
from nestplan.job.starter import starter_files
from nestplan.job.white import white_of, white_order

__all__ = [
    "Aim",
    "Calibration",
    "Change",
    "Channel",
    "Corrects",
    "Cost",
    "Cut",
    "DecalOrder",
    "Direction",
    "Discount",
    "Equipment",
    "Former",
    "Job",
    "JobFile",
    "Machine",
    "PrintMode",
    "QuoteTerms",
    "Roll",
    "Rotate",
    "Sensor",
    "Setup",
    "ShopFile",
    "Stage",
    "Tabs",
    "Task",
    "Weed",
    "White",
    "job_schema",
    "machines_of",
    "modes_of",
    "read_job",
    "read_shop",
    "shop_schema",
    "stages_of",
    "starter_files",
    "white_of",
    "white_order",
]
