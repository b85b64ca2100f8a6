"""Old records get the newest form of the tables and tell the same; what is no record of ours is left alone."""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from at_once import at_once, opens
from filled import FIRST_DAY, draft, fill, jpeg, told
from sqlalchemy import create_engine, inspect

from measure.record.entries import What
from measure.record.errors import RecordError
from measure.record.migration import REVISIONS
from measure.record.store import open_record
from measure.record.tables import Table

REFERENCE = Path(__file__).parent / "reference"
FIRST_FORM = REFERENCE / "record-0001.db"


@pytest.fixture
def old(tmp_path):
    """Return a folder with a record in the first form."""
    shutil.copy(FIRST_FORM, tmp_path / "record.db")
    return tmp_path


@pytest.fixture
def opened(old):
    record = open_record(old)
    yield record
    record.close()


def form_of(file):
    with closing(sqlite3.connect(file)) as database:
        return database.execute("SELECT version_num FROM alembic_version").fetchall()


def test_the_migrations_make_the_tables_that_the_program_uses(bare_url):
    """Alembic's own comparison of a database with declared tables finds no difference."""
    record = open_record(bare_url)
    engine = record._database.engine
    with engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Table.metadata) == []
        assert set(inspect(connection).get_table_names()) == {*Table.metadata.tables, "alembic_version"}
    record.close()


def test_a_record_that_can_not_be_copied_keeps_its_form(old):
    (old / f"record.db.before-{REVISIONS[-1]}").mkdir()
    with pytest.raises(RecordError, match=r"can't be copied to record\.db\.before-"):
        open_record(old)
    assert form_of(old / "record.db") == [("0001",)]


@pytest.mark.parametrize("form", REVISIONS[:-1])
def test_a_record_of_each_earlier_form_tells_the_same(tmp_path, form):
    shutil.copy(REFERENCE / f"record-{form}.db", tmp_path / "record.db")
    assert form_of(tmp_path / "record.db") == [(form,)]
    with open_record(tmp_path) as old, open_record(tmp_path / "anew") as anew:
        fill(anew)
        assert told(old) == told(anew)
        assert old.studies.all() == []
    assert form_of(tmp_path / "record.db") == [(REVISIONS[-1],)]


def test_an_old_record_can_be_added_to(opened):
    wound = opened.wound("P014/1")
    before = opened.visits(wound.id)
    saved = opened.save_visit(draft(wound, opened.put_photo(jpeg(99), "heel.jpg"), 28), seen=len(before))
    answered = opened.answer_prompt(
        before[0].id, "spreading redness", "Dr. on call told at 9:10, sees her today.", "AB"
    )
    assert [(answer.reason, answer.by) for answer in answered.answers] == [("spreading redness", "AB")]
    assert [visit.id for visit in opened.visits(wound.id)] == [*(visit.id for visit in before), saved.visit.id]
    assert opened.mark(wound.id, What.HEALED, "AB").status == "healed"


def test_a_copy_is_kept_from_before_a_migration(old):
    open_record(old).close()
    copy = old / f"record.db.before-{REVISIONS[-1]}"
    assert form_of(copy) == [("0001",)]
    with closing(sqlite3.connect(copy)) as kept, closing(sqlite3.connect(FIRST_FORM)) as first:
        assert list(kept.iterdump()) == list(first.iterdump())
    assert not list(old.glob("*.part"))


def test_no_copy_is_made_where_nothing_is_migrated(tmp_path):
    for _ in range(2):
        open_record(tmp_path).close()
    assert not list(tmp_path.glob("*before*"))


def test_a_broken_off_migration_leaves_the_old_form(old, monkeypatch):
    from measure.record import migration

    def breaks(connection):
        connection.exec_driver_sql("CREATE TABLE prompt_answer (id INTEGER)")
        raise KeyboardInterrupt

    monkeypatch.setattr(migration, "_upgrade", breaks)
    with pytest.raises(KeyboardInterrupt):
        open_record(old)
    assert form_of(old / "record.db") == [("0001",)]
    with closing(sqlite3.connect(old / "record.db")) as database:
        assert database.execute("SELECT name FROM sqlite_master WHERE name = 'prompt_answer'").fetchall() == []
    monkeypatch.undo()
    record = open_record(old)
    assert record.people() == ["P014", "Q-2"]
    record.close()


def test_programs_that_make_a_record_at_once_wait_for_each_other(bare_url):
    assert at_once(opens, *4 * [bare_url]) == [0] * 4


def test_programs_that_migrate_a_record_at_once_wait_for_each_other(old):
    assert at_once(opens, *4 * [old]) == [2] * 4
    assert form_of(old / f"record.db.before-{REVISIONS[-1]}") == [("0001",)]


def test_a_record_of_a_newer_version_is_refused_and_left_alone(record_url):
    record = open_record(record_url)
    with record._database.engine.begin() as connection:
        connection.exec_driver_sql("UPDATE alembic_version SET version_num = '9999'")
    record.close()
    with pytest.raises(RecordError, match=r"newer version of this program \(form 9999.*update this program") as refused:
        open_record(record_url)
    assert "\n" not in str(refused.value)


def test_data_of_another_program_is_refused_and_left_alone(bare_url):
    from measure.record.place import place_of

    engine = create_engine(place_of(bare_url).url)
    with engine.begin() as connection:
        connection.exec_driver_sql("CREATE TABLE invoices (id INTEGER)")
    with pytest.raises(RecordError, match=r"data of another program .*invoices"):
        open_record(bare_url)
    with engine.connect() as connection:
        assert inspect(connection).get_table_names() == ["invoices"]
    engine.dispose()


def test_a_person_can_be_found_in_an_old_record(opened):
    wound = opened.wound("P014/1")
    assert opened.visits(wound.id)[0].at == FIRST_DAY
