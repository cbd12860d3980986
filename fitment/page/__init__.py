"""The page to hand over: data, pictures and a small script in one HTML file. The only package that imports jinja2."""

from __future__ import annotations

from fitment.page.axles import Answering, load_drawing
from fitment.page.document import embedded, report_page

__all__ = ["Answering", "embedded", "load_drawing", "report_page"]
