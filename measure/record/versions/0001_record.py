"""People, wounds and what happened to them, visits with photos, outlines, numbers, findings and notes, settings."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    """Make the tables."""
    _people()
    _visits()
    _said()


def _people() -> None:
    op.create_table("person", _id(), _text("code"), *_said_by(), sa.UniqueConstraint("code", name="uq_person_code"))
    op.create_table(
        "wound",
        _id(),
        _of("wound", "person"),
        sa.Column("number", sa.Integer, nullable=False),
        *(_text(name) for name in ("side", "place", "position", "kind")),
        sa.Column("onset", sa.Date),
        *_said_by(),
        sa.UniqueConstraint("person_id", "number", name="uq_wound_person_id_number"),
    )
    op.create_table(
        "event",
        _id(),
        _of("event", "wound"),
        _text("what"),
        sa.Column("other", sa.Integer),
        _instant("saved_at"),
        *_said_by(),
    )
    _index("event", "wound_id")


def _visits() -> None:
    op.create_table("visit", _id(), _of("visit", "wound"), _text("unit"), _instant("saved_at"), *_said_by())
    _index("visit", "wound_id")
    op.create_table(
        "photo",
        _id(),
        _of("photo", "visit"),
        *(_text(name) for name in ("sha256", "source_sha256", "media_type")),
        *(sa.Column(name, sa.Integer, nullable=False) for name in ("width", "height")),
        sa.Column("taken_at", sa.String),
    )
    _index("photo", "visit_id", "sha256", "source_sha256")
    op.create_table(
        "outline",
        _id(),
        _of("outline", "visit"),
        _of("outline", "photo"),
        _text("kind"),
        _text("method"),
        _json("rings"),
        *_said_by(),
    )
    _index("outline", "visit_id")
    op.create_table(
        "measurement",
        _id(),
        _of("measurement", "visit"),
        _of("measurement", "outline"),
        _text("convention"),
        _json("document"),
        *_said_by(),
    )
    _index("measurement", "visit_id")


def _said() -> None:
    op.create_table("finding", _id(), _of("finding", "visit"), _text("name"), _json("value"), *_said_by())
    _index("finding", "visit_id", "name")
    op.create_table("note", _id(), _of("note", "visit"), _text("text"), *_said_by())
    _index("note", "visit_id")
    op.create_table("setting", _id(), _text("name"), _json("value"), *_said_by())
    _index("setting", "name")


def _id() -> sa.Column[int]:
    return sa.Column("id", sa.Integer, primary_key=True)


def _of(table: str, other: str) -> sa.Column[int]:
    key = sa.ForeignKey(f"{other}.id", name=f"fk_{table}_{other}_id")
    return sa.Column(f"{other}_id", sa.Integer, key, nullable=False)


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.String, nullable=False)


def _json(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False)


def _instant(name: str) -> sa.Column[object]:
    return sa.Column(name, sa.DateTime(timezone=True), nullable=False)


def _said_by() -> tuple[sa.Column[object], sa.Column[str]]:
    return _instant("at"), _text("by")


def _index(table: str, *columns: str) -> None:
    for column in columns:
        op.create_index(f"ix_{table}_{column}", table, [column])
