"""With which instrument readings were made, as far as it is told, and whether two were made with the same."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class InstrumentName:
    """What is told of an instrument: its serial number, and what software calls it; None where nothing is."""

    serial: str | None = None
    model: str | None = None

    @property
    def told(self) -> str | None:
        """The serial number, else what it is called; None where neither is known."""
        return self.serial or self.model

    def is_other_than(self, another: InstrumentName) -> bool | None:
        """Whether the two are different instruments; None where that is not told.

        Serial numbers decide. Where one lacks, two names that have nothing in common are of two instruments; the same
        name is no proof of the same one. Software writes its version and settings behind the name of an instrument, so
        a name that begins with the other is the same.
        """
        own, other = (_bare(each) for each in (self.serial, another.serial))
        if own and other:
            return own != other
        own, other = (_bare(each) for each in (self.model, another.model))
        if own and other and not own.startswith(other) and not other.startswith(own):
            return True
        return None


def _bare(text: str | None) -> str:
    """Letters and digits alone: exports differ in blanks, dashes, capitals and leading noughts."""
    return "".join(letter for letter in (text or "").casefold() if letter.isalnum()).lstrip("0")
