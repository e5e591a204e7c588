"""The night's sweep of a whole plant: trends read, forecast, written. Floor: the readings alone, read into numpy."""

from __future__ import annotations

import atexit
import io
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import lru_cache
from typing import Any

import dj_database_url
import numpy as np
import psycopg
from django.conf import settings
from django.core.management import call_command
from django.db import connection, connections, transaction

from shop.drift.courses import learn
from shop.people import models as people
from shop.watch.models import Pool
from shop.watch.path import POINT
from shop.watch.services import sweeping
from tests.benchmarks.measuring import Case, Room
from tests.machine import start_postgresql

READINGS = 20
CAVITIES = 16
FAMILIES = "ABCD"
AT = datetime(2026, 3, 2, tzinfo=UTC)
# Each statement makes the rows of one table for every face of the plant, as the loop would have written them.
PLANT = """
TRUNCATE people_plant, tooling_customer CASCADE;
INSERT INTO people_plant (id, name, time_zone, units, decimal_comma, paper_size, release_override, call_chance,
  lead_time_days, conformance_required, grade_ra_variant, grade_ra_name)
  VALUES (1, 'Benchmark', 'UTC', 'metric', false, 'A4', false, 0.10, 14, 0.950, 2, '');
INSERT INTO people_person (id, password, username, name, role, plant_id, language, units, decimal_sign, is_active)
  VALUES (1, '', 'bench', 'Bench', 'lead', 1, 'en', '', '', false);
INSERT INTO tooling_customer (id, name, acceptance, buy_off) VALUES (1, 'Benchmark', 'guarded', false);
INSERT INTO tooling_tool (id, plant_id, number, title, customer_id, part_number, part_revision, mould_class, owner,
  place, status) SELECT n, 1, 'T' || n, 'Tool', 1, '', '', '', '', 'rack', 'production'
  FROM generate_series(1, %(tools)s) n;
INSERT INTO tooling_insert (id, tool_id, number, kind, steel, hardness_hrc, coating)
  SELECT n, (n - 1) / 16 + 1, 'I' || n, 'cavity', '1.2083', 52, '' FROM generate_series(1, %(faces)s) n;
INSERT INTO tooling_face (id, insert_id, name, map_x, map_y, map_w, map_h)
  SELECT n, n, 'show', 0, 0, 100, 100 FROM generate_series(1, %(faces)s) n;
INSERT INTO tooling_finishlife (id, face_id, number, began_at, began_by, ended_by)
  SELECT n, n, 1, now(), 'new tool', '' FROM generate_series(1, %(faces)s) n;
INSERT INTO tooling_spec (id, at, entered_at, by_id, face_id, revision, reason, how_made, scale, code, micro_matt,
  grade_ra_table, drawing_edition, tolerance_rule, acceptance)
  SELECT n, now(), now(), 1, n, 1, 'new', 'polished', 'grade', substr('ABCD', n %% 4 + 1, 1) || '-2', false, '',
    'ISO 21920-3:2021', '', 'guarded' FROM generate_series(1, %(faces)s) n;
"""


@dataclass(frozen=True)
class Plant:
    """A plant in a PostgreSQL of the benchmark's own, with so many faces."""

    faces: int
    row: Any


@lru_cache(maxsize=1)
def _connected() -> Any:
    """Start PostgreSQL, and the product on it."""
    kept, address = start_postgresql()
    atexit.register(kept.stop)
    # Whatever the caller's environment names, what is measured here is the benchmark's own.
    settings.DATABASES["default"] = {**dj_database_url.parse(address), "NAME": "postgres"}
    vars(connections).pop("settings", None)
    del connections["default"]
    call_command("migrate", verbosity=0)
    with connection.cursor() as cursor:
        cursor.execute("CREATE UNLOGGED TABLE bare (face bigint, shots float8, value float8)")
    return connection


def plant(faces: int) -> Plant:
    connection = _connected()
    rng = np.random.default_rng(11)
    points = np.zeros((faces, READINGS), dtype=POINT)
    points["wear"] = np.sort(rng.uniform(0, 80_000, (faces, READINGS)), axis=1)
    rate = rng.lognormal(np.log(0.4 / 80_000), 0.4, faces)
    points["value"] = 5.0 * (0.5 + rate[:, None] * points["wear"]) + rng.normal(0, 0.1, (faces, READINGS))
    points["weight"] = 1.0
    with transaction.atomic(), connection.cursor() as cursor:
        # The ledgers' triggers are for the product; this plant is made up.
        cursor.execute("SET LOCAL session_replication_role = replica")
        cursor.execute("TRUNCATE bare")
        for statement in PLANT.split(";\n"):
            if statement.strip():
                cursor.execute(statement, {"tools": -(-faces // CAVITIES), "faces": faces})
        _copy_trends(cursor, points)
        with cursor.copy("COPY bare FROM STDIN") as copy:
            numbers = np.repeat(np.arange(1, faces + 1), READINGS)
            table = np.column_stack([numbers, points["wear"].ravel(), points["value"].ravel()])
            text = io.StringIO()
            np.savetxt(text, table, fmt=("%d", "%.9g", "%.9g"), delimiter="\t")
            copy.write(text.getvalue())
    _pools(points)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    return Plant(faces, people.Plant.objects.get())


def _copy_trends(cursor: Any, points: Any) -> None:
    columns = (
        "id, face_id, life_id, parameter, \"where\", colour, unit, count, last_value, last_uncertainty, last_at, "
        "last_life_shots, upper, towards, life_shots, shape, severity, life_wear, points, fitted_at"
    )  # fmt: skip
    with cursor.copy(f"COPY watch_trend ({columns}) FROM STDIN") as copy:
        for number, face in enumerate(points, start=1):
            now = float(face["wear"][-1])
            copy.write_row((
                number, number, number, "Ra", "steel", "", "um", READINGS, float(face["value"][-1]), 0.1, AT, int(now),
                5.0, "", int(now), "", 1.0, now, face.tobytes(), AT,
            ))  # fmt: skip


def _pools(points: Any) -> None:
    for number, family in enumerate(FAMILIES):
        mine = points[(np.arange(1, len(points) + 1) % 4) == number][:400]
        learned = learn([(one["wear"], one["value"] / 5.0) for one in mine], 1.0, "up")
        Pool.objects.create(
            plant_id=1, parameter="Ra", where="steel", how_made="polished", family=family, side="upper",
            faces=len(mine), readings=len(mine) * READINGS, courses=[one.kept() for one in learned],
            scale=learned[0].scale, learned_at=AT,
        )  # fmt: skip


def sweep(given: Plant) -> int:
    return sweeping.forecast_all(given.row, at=AT)


def _raw() -> Any:
    _connected().ensure_connection()
    return _connected().connection


def fetched(_given: Plant) -> Any:
    """Read every reading through a binary cursor."""
    with psycopg.Cursor(_raw()) as cursor:
        rows = cursor.execute("SELECT face, shots, value FROM bare", binary=True).fetchall()
    return np.array(rows)


def copied(_given: Plant) -> Any:
    """Read every reading by a binary COPY, and cut the columns out of the bytes."""
    with _raw().cursor() as cursor, cursor.copy("COPY bare TO STDOUT (FORMAT BINARY)") as copy:
        held = b"".join(bytes(part) for part in copy)
    row = np.dtype(
        [("n", ">i2"), ("a", ">i4"), ("face", ">i8"), ("b", ">i4"), ("x", ">f8"), ("c", ">i4"), ("y", ">f8")]
    )
    rows = np.frombuffer(held, row, offset=19, count=(len(held) - 21) // row.itemsize)
    return np.column_stack([rows["face"].astype(float), rows["x"].astype(float), rows["y"].astype(float)])


def _case(faces: int, floor: Any = fetched, name: str = "binary cursor", ratio: float | None = 3.0) -> Case:
    return Case(
        f"{faces:,} faces, {faces * READINGS:,} readings", lambda: plant(faces), sweep,
        f"the readings alone by a {name}", floor, most_ratio=ratio, by_clock=True, rounds=3,
    )  # fmt: skip


ROOM = Room(
    "The night's sweep, in PostgreSQL",
    (_case(25_000), _case(50_000), _case(100_000), _case(100_000, copied, "binary COPY", None)),
)
