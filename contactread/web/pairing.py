"""Pairing: a one-time token in the address is swapped for a cookie and thrown away."""

from __future__ import annotations

import hashlib
import hmac
import secrets
import time
from collections.abc import Callable
from dataclasses import dataclass, field

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

    digest: bytes
    until: float
    name: str
    bucket: Bucket
    decimals: str = ""
    key: str = field(default_factory=lambda: secrets.token_urlsafe(TOKEN_BYTES))


class Pairing:
    """The tokens and sessions of one running server; all of it is forgotten when it stops.

    Only digests are held. clock: seconds that never go back.
    """

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        self._clock = clock
        self._tokens: list[tuple[bytes, float]] = []
        self._sessions: list[Session] = []
        self._paired = 0

    def new_token(self) -> str:
        """A fresh token; the oldest go when there are many."""
        token = secrets.token_urlsafe(TOKEN_BYTES)
        self._tokens = [*self._live_tokens(), (_digest(token), self._clock() + TOKEN_S)][-MOST_TOKENS:]
        return token

    def valid(self, token: str) -> bool:
        """Whether the token could be swapped now."""
        return self._find_token(token) is not None

    def swap(self, token: str) -> str | None:
        """The cookie for a token, which is gone then; None for a wrong, used or expired one."""
        found = self._find_token(token)
        if found is None:
            return None
        self._tokens.remove(found)
        cookie = secrets.token_urlsafe(TOKEN_BYTES)
        self._paired += 1
        bucket = Bucket(300, 60, self._clock)
        session = Session(_digest(cookie), self._clock() + SESSION_S, f"Phone {self._paired}", bucket)
        self._sessions = [*self._live_sessions(), session][-MOST_SESSIONS:]
        return cookie

    def session(self, cookie: str) -> Session | None:
        """The session of a cookie, or None."""
        digest, found = _digest(cookie), None
        for session in self._live_sessions():
            if hmac.compare_digest(session.digest, digest):
                found = session
        return found

    def _find_token(self, token: str) -> tuple[bytes, float] | None:
        digest, found = _digest(token), None
        for entry in self._live_tokens():
            if hmac.compare_digest(entry[0], digest):
                found = entry
        return found

    def _live_tokens(self) -> list[tuple[bytes, float]]:
        now = self._clock()
        return [entry for entry in self._tokens if entry[1] > now]

    def _live_sessions(self) -> list[Session]:
        now = self._clock()
        return [session for session in self._sessions if session.until > now]


def _digest(secret: str) -> bytes:
    return hashlib.sha256(secret.encode("utf-8", "replace")).digest()
