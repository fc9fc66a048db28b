"""The preview page: one file that asks nothing of any other computer."""

from ghostprep.eye.page.page import PageContents, build_page
from ghostprep.eye.page.sheets import Sheets, SheetWriter

__all__ = ["PageContents", "SheetWriter", "Sheets", "build_page"]
