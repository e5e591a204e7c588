"""The printed tables, read by the product's own reader so that page, command and tests see the same rows."""

from shop.boards.printed import FOLDER, Printed, printed, table_names

__all__ = ["FOLDER", "Printed", "printed", "table_names"]
