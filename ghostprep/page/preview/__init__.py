"""The preview page: one file that asks nothing of any other computer."""

from ghostprep.page.preview.page import Contents, build_page
from ghostprep.page.preview.sheets import Sheets, SheetWriter

__all__ = ["Contents", "SheetWriter", "Sheets", "build_page"]
