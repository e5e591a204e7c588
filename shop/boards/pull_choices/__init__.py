"""When to pull: a tool's visit weighed and shown as a few priced choices."""

from shop.boards.pull_choices.sheet import ChoiceRow, FaceWork, PullSheet, pull_sheet

__all__ = ["ChoiceRow", "FaceWork", "PullSheet", "pull_sheet"]
