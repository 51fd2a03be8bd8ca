"""The tables of all rooms in one."""

from tests.core.matrix import CORE, CORE_PAGES, PLOTS, Page, Row
from tests.jobs.api import matrix as jobs

ROWS: dict[str, Row] = {**CORE, **PLOTS, **jobs.ROWS}
PAGES: dict[str, Page] = {**CORE_PAGES, **jobs.PAGES}
