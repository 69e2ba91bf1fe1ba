"""A plan's folder and measured marks come in; a verdict, its page and a corrected cut go out."""

from nestplan.fit.fit_files import fit_files, refuse_plan_folder
from nestplan.fit.fit_json import FIT
from nestplan.fit.fit_sheets import Fit, fit_sheets
from nestplan.fit.frame_fit import FrameFit

__all__ = ["FIT", "Fit", "FrameFit", "fit_files", "fit_sheets", "refuse_plan_folder"]
