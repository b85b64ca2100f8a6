"""Agreement studies: what is traced again by whom, what happened to a study as a whole, and each tracing."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Make the tables."""
    op.create_table("study", _id(), _text("name"), _json("plan"), *_said_by())
    op.create_table("study_event", _id(), _of("study_event"), _text("what"), _text("reason"), *_said_by())
    op.create_index("ix_study_event_study_id", "study_event", ["study_id"])
    op.create_table(
        "tracing",
        _id(),
        _of("tracing"),
        sa.Column("photo", sa.Integer, nullable=False),
        _text("rater"),
        sa.Column("trial", sa.Integer, nullable=False),
        _json("rings"),
        _json("document"),
        sa.Column("seconds", sa.Double, nullable=False),
        *_said_by(),
        sa.UniqueConstraint("study_id", "rater", "trial", "photo", name="uq_tracing_study_id_rater_trial_photo"),
    )


def _id() -> sa.Column[int]:
    return sa.Column("id", sa.Integer, primary_key=True)


def _of(table: str) -> sa.Column[int]:
    key = sa.ForeignKey("study.id", name=f"fk_{table}_study_id")
    return sa.Column("study_id", sa.Integer, key, nullable=False)


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.String, nullable=False)


def _json(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False)


def _said_by() -> tuple[sa.Column[object], sa.Column[str]]:
    return sa.Column("at", sa.DateTime(timezone=True), nullable=False), _text("by")
