"""What was done about a prompt to call the provider: said for a visit, added to and never changed."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    """Make the table."""
    op.create_table(
        "prompt_answer",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("visit_id", sa.Integer, sa.ForeignKey("visit.id", name="fk_prompt_answer_visit_id"), nullable=False),
        sa.Column("reason", sa.String, nullable=False),
        sa.Column("answer", sa.String, nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.String, nullable=False),
    )
    op.create_index("ix_prompt_answer_visit_id", "prompt_answer", ["visit_id"])
