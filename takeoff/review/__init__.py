"""review.html: the model, its pieces, sheets and queries on one page that needs no network."""

from __future__ import annotations

from takeoff.review.page import DOCUMENTS, html, write

__all__ = ["DOCUMENTS", "html", "write"]
