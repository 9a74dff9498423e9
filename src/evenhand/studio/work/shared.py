"""What the web processes of one Postgres share beside the studio's rows: counts of tries, and news of takes.

Conventions: moments are seconds since 1970 by the database's clock, which is one for all. ``tries`` is
outside of the studio's tables: it is in no backup and no export, and empty after a crash of the database
(UNLOGGED), as the counts of a process are after its end.

News are sent by the database itself when a take's row changes (a trigger), and heard after the commit. They
say ids alone; whoever was woken by one looks, under the rights that it has.
"""

from __future__ import annotations

import asyncio
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

from sqlalchemy import URL, Double, cast, delete, func, text

from evenhand.studio.store.database import Database
from evenhand.studio.store.school import tries

CHANNEL = "evenhand_takes"
BEAT_S = 15.0  # how long a line that is dead may look alive
AGAIN_S = 2.0  # until it is tried again

# One more, unless there are as many within the time already; what lies further ahead than the time was
# counted by a clock that was wrong. A row that is not written gives no answer.
_COUNT = text("""
INSERT INTO tries AS t (what, who, came, until)
SELECT :what, :who, ARRAY[n], n + :seconds
FROM (SELECT COALESCE(CAST(:at AS double precision), EXTRACT(EPOCH FROM clock_timestamp())) AS n) AS moment
ON CONFLICT (what, who) DO UPDATE SET until = EXCLUDED.until, came = EXCLUDED.came
    || ARRAY(SELECT c FROM unnest(t.came) AS c WHERE abs(EXCLUDED.came[1] - c) <= :seconds)
WHERE (SELECT count(*) FROM unnest(t.came) AS c WHERE abs(EXCLUDED.came[1] - c) <= :seconds) < :most
RETURNING 1
""")
_LESS = text("UPDATE tries SET came = came[2:] WHERE what = :what AND who = :who")


class SharedTries:
    """How often somebody tried something in the last while, counted once for all processes.

    ``clock`` is the database's own unless one is given.
    """

    def __init__(self, database: Database, clock: Callable[[], float] | None = None) -> None:
        self._database, self._clock = database, clock

    def count(self, what: str, who: str, most: int, seconds: float) -> bool:
        """Count one more, and tell whether it is still within the limit; what is refused is not counted."""
        given = {"what": what, "who": who, "most": most, "seconds": seconds, "at": self._at()}
        with self._database.by_itself() as connection:
            return connection.execute(_COUNT, given).first() is not None

    def take_back(self, what: str, who: str) -> None:
        """Count one less."""
        with self._database.by_itself() as connection:
            connection.execute(_LESS, {"what": what, "who": who})

    def tidy(self) -> int:
        """Forget who did not come again within the time; tell how many."""
        with self._database.by_itself() as connection:
            at = func.coalesce(cast(self._at(), Double), func.date_part("epoch", func.clock_timestamp()))
            return connection.execute(delete(tries).where(tries.c.until < at)).rowcount

    def _at(self) -> float | None:
        return None if self._clock is None else self._clock()


class TakeNews:
    """What one web process hears of takes, over one connection of its own.

    While that is lost nobody waits for news: ``listening`` is false, and pages look by themselves.
    """

    def __init__(self, url: URL) -> None:
        self._address = url.set(drivername="postgresql").render_as_string(hide_password=False)
        self._waiting: dict[str, set[asyncio.Event]] = defaultdict(set)
        self._last_s: dict[str, float] = {}  # of a studio's takes
        self.listening = False

    async def listen(self) -> None:
        """Listen until cancelled; a connection that is lost is made again."""
        import psycopg

        while True:
            with suppress(psycopg.Error, OSError):
                await self._listen_once()
            await asyncio.sleep(AGAIN_S)

    async def _listen_once(self) -> None:
        import psycopg

        connection = await psycopg.AsyncConnection.connect(
            self._address, autocommit=True, connect_timeout=10, application_name="evenhand news"
        )
        async with connection:
            await connection.execute(f"LISTEN {CHANNEL}")
            try:
                self.listening = True
                while True:
                    async for notice in connection.notifies(timeout=BEAT_S):
                        self._tell(notice.payload.split())
                    async with asyncio.timeout(BEAT_S):
                        await connection.execute("SELECT 1")
            finally:
                self.end()

    def end(self) -> None:
        """Let nobody wait any more."""
        self.listening = False
        self._wake(list(self._waiting))

    @contextmanager
    def about(self, topic: str) -> Iterator[asyncio.Event]:
        """Lend an event that is set by what comes about a topic: a take's id, or a studio's.

        Begin before looking, so that nothing is missed that happens meanwhile.
        """
        event = asyncio.Event()
        self._waiting[topic].add(event)
        try:
            yield event
        finally:
            self._waiting[topic].discard(event)
            if not self._waiting[topic]:
                del self._waiting[topic]

    def came_since(self, topic: str, since_s: float) -> bool:
        """Tell whether something came about a studio since a moment."""
        return self._last_s.get(topic, 0.0) > since_s

    def _tell(self, words: list[str]) -> None:
        """Wake who waits for a take, or for any of its studio: these are the words."""
        self._last_s[words[-1]] = time.time()
        self._wake(words)

    def _wake(self, topics: list[str]) -> None:
        for topic in topics:
            for event in self._waiting.get(topic, ()):
                event.set()
