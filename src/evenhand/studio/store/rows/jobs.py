"""The jobs of a Postgres' queue: procrastinate's tables and functions, on the connection of the take's row.

A take that waits or is being heard has one job, and no other has one: a trigger on the takes sees to it, so
that row and job come in one transaction, whoever writes the row. A job says which take of which studio, how
urgent it is (lesson, then student, then batch) and from when on it may be heard; nothing else.

Its tables stand beside ours and are made by a step of ours from the schema that procrastinate ships. Which
schema that is, is pinned here and noted in the database. Of its Python nothing runs: its worker is made for
functions that wait, and holds several connections; a hearing computes, in a process that may be killed.

Conventions: the database's clock alone says who is silent and what is due, so a machine's own may jump.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from datetime import timedelta
from importlib.util import find_spec
from pathlib import Path

from sqlalchemy import Connection, text

from evenhand.errors import WrongOptions

SCHEMA_SHA256 = "c70ec4b400a60ad9592787653aae5ae77ae41bf801d56b5bd2712751a07f2009"  # of procrastinate 3.10
FORGOTTEN = timedelta(days=1)  # a worker that was silent for so long is taken off the list
RESCUE_KEY = 0x52_65_73_63  # Postgres' lock of who looks for silent workers

_TRIGGER = """
CREATE FUNCTION evenhand_take_queued() RETURNS trigger LANGUAGE plpgsql AS $$
DECLARE in_hand bigint; queued bigint; urgent integer; key text;
BEGIN
  IF TG_OP <> 'INSERT' THEN
    key := OLD.studio_id || '/' || OLD.id;
    SELECT id INTO queued FROM procrastinate_jobs WHERE queueing_lock = key AND status = 'todo';
    SELECT id INTO in_hand FROM procrastinate_jobs
      WHERE queueing_lock = key AND status = 'doing' AND worker_id IS NOT NULL;
  END IF;
  IF TG_OP <> 'DELETE' THEN
    IF NEW.status = 'waiting' THEN
      urgent := CASE NEW.urgency WHEN 'lesson' THEN 2 WHEN 'student' THEN 1 ELSE 0 END;
      IF in_hand IS NOT NULL THEN  -- it is given back, and keeps its turn
        PERFORM procrastinate_retry_job_v2(in_hand, NEW.waits_until, urgent, NULL, NULL);
        PERFORM pg_notify('procrastinate_any_queue_v1', '{}');
        RETURN NULL;
      END IF;
      PERFORM procrastinate_finish_job_v1(queued, 'succeeded', true) WHERE queued IS NOT NULL;
      PERFORM procrastinate_defer_jobs_v1(ARRAY[ROW(
        NEW.studio_id, 'hear', urgent, NULL, NEW.studio_id || '/' || NEW.id,
        jsonb_build_object('studio_id', NEW.studio_id, 'take_id', NEW.id), NEW.waits_until
      )]::procrastinate_job_to_defer_v1[]);
      RETURN NULL;
    END IF;
  END IF;
  PERFORM procrastinate_finish_job_v1(job, 'succeeded', true)
    FROM unnest(ARRAY[queued, in_hand]) AS job WHERE job IS NOT NULL;
  RETURN NULL;
END $$;
CREATE TRIGGER take_comes AFTER INSERT ON takes FOR EACH ROW
  WHEN (NEW.status = 'waiting') EXECUTE FUNCTION evenhand_take_queued();
CREATE TRIGGER take_changes AFTER UPDATE OF status ON takes FOR EACH ROW
  WHEN (NEW.status <> 'hearing') EXECUTE FUNCTION evenhand_take_queued();
CREATE TRIGGER take_goes AFTER DELETE ON takes FOR EACH ROW EXECUTE FUNCTION evenhand_take_queued();
-- A Postgres that has not counted yet how many wait would fetch by this one, and sort all: 160 ms of 100,000.
DROP INDEX procrastinate_jobs_queue_name_idx_v1;
CREATE INDEX evenhand_jobs_later ON procrastinate_jobs (scheduled_at)
  WHERE status = 'todo' AND scheduled_at IS NOT NULL;
"""
_GONE = r"""
DROP TRIGGER take_comes ON takes;
DROP TRIGGER take_changes ON takes;
DROP TRIGGER take_goes ON takes;
DROP FUNCTION evenhand_take_queued;
DROP TABLE procrastinate_periodic_defers, procrastinate_events, procrastinate_jobs, procrastinate_workers
  CASCADE;  -- functions of their rows go along
DO $$ DECLARE of regprocedure; BEGIN
  FOR of IN SELECT oid FROM pg_proc
    WHERE proname LIKE 'procrastinate\_%' AND pronamespace = current_schema()::regnamespace
  LOOP EXECUTE format('DROP FUNCTION %s', of); END LOOP;
END $$;
DROP TYPE procrastinate_job_to_defer_v1, procrastinate_job_status, procrastinate_job_event_type;
"""


def install(connection: Connection) -> None:
    """Make procrastinate's tables and the trigger that keeps them, inside the connection's transaction."""
    _run(connection, _schema())
    _run(connection, f"COMMENT ON TABLE procrastinate_jobs IS '{SCHEMA_SHA256}'")
    _run(connection, _TRIGGER)


def uninstall(connection: Connection) -> None:
    """Take them away."""
    _run(connection, _GONE)


def check(connection: Connection) -> None:
    """Refuse a queue whose tables are of another form of procrastinate's.

    Raises
    ------
    WrongOptions
        They are.
    """
    found = connection.scalar(text("SELECT obj_description(to_regclass('procrastinate_jobs'))"))
    if found != SCHEMA_SHA256:
        raise WrongOptions(
            got=f"a queue whose tables have the form {str(found)[:12]!r} of procrastinate's",
            must_be=f"{SCHEMA_SHA256[:12]!r}, as Evenhand makes them; run no steps of procrastinate's own",
        )


def _schema() -> str:
    """Read the schema that procrastinate ships, without loading it."""
    found = find_spec("procrastinate")
    if found is None or found.origin is None:
        must_be = "installed with it: pip install 'evenhand[postgres]'"
        raise WrongOptions(got="a Postgres without procrastinate, its queue", must_be=must_be)
    schema = (Path(found.origin).parent / "sql" / "schema.sql").read_bytes()
    if hashlib.sha256(schema).hexdigest() != SCHEMA_SHA256:
        must_be = "the release that constraints-dev.txt names (3.10)"
        raise WrongOptions(got="a release of procrastinate with another schema", must_be=must_be)
    return schema.decode()


def _run(connection: Connection, script: str) -> None:
    """Run a script of many statements as it stands: none of its signs is a parameter."""
    driver = connection.connection.driver_connection
    if driver is not None:
        driver.execute(script)


@dataclass(frozen=True, slots=True)
class Job:
    """A job that was fetched."""

    id: int
    take_id: str


class Jobs:
    """The queue as this process's workers see it."""

    def __init__(self) -> None:
        self._ids: dict[str, int] = {}  # a worker's number among procrastinate's, by its name

    def fetch(self, connection: Connection, worker: str) -> Job | None:
        """Fetch the studio's job that is due first, for this worker and no other; None where none is.

        Another studio's is none of its business: its take cannot be seen from here.
        """
        query = text(
            "SELECT id, args->>'take_id' FROM "
            "procrastinate_fetch_job_v2(ARRAY[current_setting('evenhand.studio')], :worker)"
        )
        job_id, take_id = connection.execute(query, {"worker": self._id(connection, worker)}).one()
        if job_id is None:
            return None
        beat(connection, take_id)
        return Job(job_id, take_id)

    def _id(self, connection: Connection, worker: str) -> int:
        """Give a worker's number; a new one where the old one was taken off the list."""
        listed = text("SELECT 1 FROM procrastinate_workers WHERE id = :id")
        known = self._ids.get(worker)
        if known is None or connection.scalar(listed, {"id": known}) is None:
            known = int(connection.scalars(text("SELECT procrastinate_register_worker_v1()")).one())
            self._ids[worker] = known
        return known


def next_studio(connection: Connection) -> str | None:
    """Name the studio, of all, whose job is due first; None where none is."""
    query = (
        "SELECT queue_name FROM procrastinate_jobs WHERE status = 'todo' "
        "AND (scheduled_at IS NULL OR scheduled_at <= now()) AND queue_name IN (SELECT id FROM teachers) "
        "ORDER BY priority DESC, id LIMIT 1"
    )
    found: str | None = connection.scalar(text(query))
    return found


def studios_lost(connection: Connection, silent: timedelta) -> list[str]:
    """List the studios that have takes in the hands of workers that were silent for so long."""
    query = text(f"SELECT DISTINCT job.queue_name {_LOST}")
    return list(connection.scalars(query, {"silent": silent}))


def finish(connection: Connection, job: Job) -> None:
    """Finish a job whose take needs none."""
    ends = text("SELECT procrastinate_finish_job_v1(:id, 'succeeded', true)")
    connection.execute(ends, {"id": job.id})


def beat(connection: Connection, take_id: str) -> None:
    """Note that the worker that has a take in hand lives."""
    lives = text(
        "UPDATE procrastinate_workers SET last_heartbeat = clock_timestamp() WHERE id = (SELECT worker_id "
        "FROM procrastinate_jobs WHERE queueing_lock = current_setting('evenhand.studio') || '/' || :take "
        "AND status = 'doing' AND worker_id IS NOT NULL)"
    )
    connection.execute(lives, {"take": take_id})


def lost(connection: Connection, silent: timedelta) -> list[str]:
    """List the studio's takes in the hands of such workers, and forget who is gone for good.

    Nobody else looks meanwhile: who comes second is given none.
    """
    alone = text("SELECT pg_try_advisory_xact_lock(:key)")
    if not connection.scalar(alone, {"key": RESCUE_KEY}):
        return []
    mine = "AND job.queue_name = current_setting('evenhand.studio')"
    query = text(f"SELECT job.args->>'take_id' {_LOST} {mine}")
    found = list(connection.scalars(query, {"silent": silent}))
    connection.execute(text(_NOT_FAR_OFF), {"silent": silent})
    if not found:
        forget = text("SELECT procrastinate_prune_stalled_workers_v1(:seconds)")
        connection.execute(forget, {"seconds": FORGOTTEN.total_seconds()})
    return found


# What a clock wrote that ran ahead does not stay, either.
_LOST = """
FROM procrastinate_workers AS worker
JOIN procrastinate_jobs AS job ON job.worker_id = worker.id
WHERE job.status = 'doing' AND worker.last_heartbeat NOT BETWEEN now() - :silent AND now() + :silent
"""
_NOT_FAR_OFF = """
UPDATE procrastinate_jobs SET scheduled_at = now() WHERE status = 'todo' AND scheduled_at > now() + :silent
"""
