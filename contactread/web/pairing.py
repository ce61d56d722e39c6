"""Pairing: a one-time token in the address is swapped for a cookie and thrown away."""

from __future__ import annotations

import hashlib
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

TOKEN_BYTES = 16  # 128 bits
# Our choices: time to walk over with a phone; a long working day; more than any shop has.
TOKEN_S = 15 * 60.0
SESSION_S = 12 * 3600.0
MOST_TOKENS = 20
MOST_SESSIONS = 200


@dataclass
class Bucket:
    """So many at once, so many a second after that."""

    most: float
    each_s: float
    clock: Callable[[], float]
    left: float = field(init=False)
    seen: float = field(init=False)

    def __post_init__(self) -> None:
        self.left, self.seen = self.most, self.clock()

    def take(self) -> bool:
        """Whether one more is allowed now."""
        now = self.clock()
        self.left = min(self.most, self.left + (now - self.seen) * self.each_s)
        self.seen = now
        if self.left < 1:
            return False
        self.left -= 1
        return True


@dataclass
class Session:
    """One paired phone. name: under which the book keeps what it does, until the person gives their own.
    key: stands in the forms of its pages, and shows that what they send comes from there. decimals: the mark
    that the person chose, "" for that of the phone's language.
    """

    until: float
    name: str
    bucket: Bucket
    decimals: str = ""
    key: str = field(default_factory=lambda: secrets.token_urlsafe(TOKEN_BYTES))


class Pairing:
    """The tokens and sessions of one running server; all of it is forgotten when it stops.

    Only digests are held, and what is given is looked up by its own: how long that takes tells nothing of
    what is held. clock: seconds that never go back.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._tokens: dict[bytes, float] = {}  # until when each holds; the oldest first
        self._sessions: dict[bytes, Session] = {}
        self._paired = 0

    def new_token(self) -> str:
        """A fresh token; the oldest go when there are many."""
        token = secrets.token_urlsafe(TOKEN_BYTES)
        self._tokens[_digest(token)] = self._clock() + TOKEN_S
        _keep_newest(self._tokens, MOST_TOKENS)
        return token

    def valid(self, token: str) -> bool:
        """Whether the token could be swapped now."""
        return self._tokens.get(_digest(token), 0.0) > self._clock()

    def swap(self, token: str) -> str | None:
        """The cookie for a token, which is gone then; None for a wrong, used or expired one."""
        if not self.valid(token):
            return None
        del self._tokens[_digest(token)]
        cookie = secrets.token_urlsafe(TOKEN_BYTES)
        self._paired += 1
        bucket = Bucket(300, 60, self._clock)
        self._sessions[_digest(cookie)] = Session(self._clock() + SESSION_S, f"Phone {self._paired}", bucket)
        _keep_newest(self._sessions, MOST_SESSIONS)
        return cookie

    def session(self, cookie: str) -> Session | None:
        """The session of a cookie, or None."""
        found = self._sessions.get(_digest(cookie))
        return found if found is not None and found.until > self._clock() else None


def _keep_newest(held: dict[bytes, Any], most: int) -> None:
    while len(held) > most:
        del held[next(iter(held))]


def _digest(secret: str) -> bytes:
    return hashlib.sha256(secret.encode("utf-8", "replace")).digest()
