"""Paper: pages of a PDF with embedded fonts, headings that become bookmarks, tables and plans to scale."""

from .page import PAPERS, Page, new_page, to_bytes
from .plan_view import PlanView

__all__ = ["PAPERS", "Page", "PlanView", "new_page", "to_bytes"]
