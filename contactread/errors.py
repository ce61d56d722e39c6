"""Every error a user can meet.

    ContactreadError
    ├── QuantityError        a length, torque or angle that can't be understood
    ├── AxleFileError        the axle file: unknown key, wrong unit, impossible number
    ├── PhotoError           a photo that can't be used (also a refusal: see contactread.flags)
    ├── CornersError         the corners file given by hand
    ├── AdviceError          the readings don't allow any advice
    ├── MechanicsError       a gear set that can't exist or can't be computed
    ├── BookError            the shop book: missing, locked, read-only, too new, half a record
    │   └── DamagedBookError the shop book is damaged (exit code 5)
    ├── PracticeError        practice: no such lesson, nothing left to ask
    └── MissingExtraError    an optional part of the installation is absent

Each carries a stable ``code``, what happened and why (``message``) and what to do (``next_step``).
Each subclass's codes are listed where it is raised; a code is never reused for another meaning.
"""

from __future__ import annotations

from typing import Self


class ContactreadError(Exception):
    """What happened, why, and what to do next.

    code: stable kebab-case name of the error, such as ``photo-truncated``.
    message: what happened and why, one or two plain sentences.
    next_step: what the user can do about it, one or two plain sentences.
    """

    exit_code = 1

    def __init__(self, code: str, message: str, next_step: str) -> None:
        super().__init__(f"{message} {next_step}")
        self.code = code
        self.message = message
        self.next_step = next_step

    def __reduce__(self) -> tuple[type[ContactreadError], tuple[str, str, str]]:
        """Pickle by the three arguments, so that worker processes can hand errors back."""
        return type(self), (self.code, self.message, self.next_step)

    def to_json(self) -> dict[str, str]:
        """The one shape in which every ``--json`` output shows an error."""
        return {"code": self.code, "message": self.message, "next_step": self.next_step}

    def but_first(self, step: str) -> Self:
        """The same error with a step that comes before its own."""
        return type(self)(self.code, self.message, f"{step} {self.next_step}")

    def refused_photo(self, path: str) -> dict[str, object]:
        """One entry of "photos" in the JSON contract for a photo that this error refused."""
        return {
            "path": path, "status": "refused", "refusal": self.to_json(), "flank": None, "side": None,
            "confidence": None, "flags": [], "teeth": [], "pattern": None,
        }  # fmt: skip


class QuantityError(ContactreadError):
    """A length, torque or angle that can't be understood."""

    exit_code = 2


class AxleFileError(ContactreadError):
    """The axle file can't be used as it is."""


class PhotoError(ContactreadError):
    """A photo that can't be read."""


class CornersError(ContactreadError):
    """The corners file can't be used."""


class AdviceError(ContactreadError):
    """The readings don't allow any advice."""


class MechanicsError(ContactreadError):
    """A gear set that can't exist or can't be computed."""


class BookError(ContactreadError):
    """The shop book can't do what was asked; nothing was changed."""


class DamagedBookError(BookError):
    """The shop book is damaged."""

    exit_code = 5


class PracticeError(ContactreadError):
    """A practice question can't be made or marked."""


class MissingExtraError(ContactreadError):
    """An optional part of the installation is absent."""

    def __init__(self, extra: str, purpose: str) -> None:
        super().__init__(
            "extra-missing",
            f"{purpose} needs the optional part '{extra}', which isn't installed.",
            f"Install it with: pip install 'contactread[{extra}]'",
        )
        self.extra = extra
        self.purpose = purpose

    def __reduce__(self) -> tuple[type[MissingExtraError], tuple[str, str]]:  # type: ignore[override]
        return type(self), (self.extra, self.purpose)


def coded(error: Exception) -> ContactreadError:
    """The error itself where it has a code; what nobody foresaw as a fault of contactread."""
    if isinstance(error, ContactreadError):
        return error
    return ContactreadError(
        "fault",
        f"contactread has a fault: {type(error).__name__}: {error}",
        "Please report it, with what you did. Setting CONTACTREAD_DEBUG=1 shows where it happened.",
    )
