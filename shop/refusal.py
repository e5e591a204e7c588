"""How the product says no: what, which value, which limit, what to do next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any


def gettext_noop(message: str) -> str:
    """Mark a sentence for the message catalogues and return it as it is.

    The pure core may not import Django; the catalogue tools know this function by its name.
    """
    return message


class Word(str):
    """A marked word among the values of a sentence, worded in the reader's language where the sentence is."""

    __slots__ = ()


@dataclass(frozen=True)
class Saying:
    """A sentence kept as code and values, to be worded later in the reader's language and units.

    `template` is a marked English sentence with named places; `values` fills them. A value may be a
    `shop.units.Quantity`, which the reader's door shows in the reader's units.
    """

    code: str
    template: str
    values: Mapping[str, Any]


class Refused(ValueError):
    """A thing that was asked for and is not done, with the reason and the next step.

    `question` is true where the answer "yes, and this is why" would let it through: `choices` then
    lists the answers that are understood, each a code with its marked words.
    `field` names the input at fault where one input is.
    """

    def __init__(
        self,
        code: str,
        template: str,
        *,
        next_step: str = "",
        field: str = "",
        question: bool = False,
        choices: tuple[tuple[str, str], ...] = (),
        **values: Any,
    ) -> None:
        self.code = code
        self.template = template
        self.next_step = next_step
        self.field = field
        self.question = question
        self.choices = choices
        self.values = values
        super().__init__(self.plain())

    @property
    def saying(self) -> Saying:
        """Return the reason as a saying, for a door to word."""
        return Saying(self.code, self.template, self.values)

    def plain(self) -> str:
        """Return the reason in English with the values as they are, for logs and the command line."""
        said = self.template.format(**self.values)
        return f"{said} {self.next_step.format(**self.values)}".strip()
