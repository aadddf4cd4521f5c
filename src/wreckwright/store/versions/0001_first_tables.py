"""The first tables: machines as rows, the journal of changes, and operations that count once."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    op.create_table(
        "machine",
        sa.Column("uid", sa.Text, nullable=False),
        sa.Column("nickname", sa.Text, nullable=False),
        sa.Column("nickname_key", sa.Text, nullable=True),
        sa.PrimaryKeyConstraint("uid", name="pk_machine"),
        sa.UniqueConstraint("nickname_key", name="uq_machine_nickname_key"),
    )
    op.create_table(
        "record_row",
        sa.Column("machine", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("handle", sa.Text, nullable=False),
        sa.Column("place", sa.Integer, nullable=False),
        sa.Column("rev", sa.Integer, nullable=False),
        sa.Column("body", sa.Text, nullable=True),
        sa.PrimaryKeyConstraint("machine", "kind", "handle", name="pk_record_row"),
        sa.ForeignKeyConstraint(["machine"], ["machine.uid"], name="fk_record_row_machine_machine"),
        sa.CheckConstraint("rev >= 1", name=op.f("ck_record_row_rev")),
    )
    op.create_table(
        "change",
        sa.Column("id", sa.Text, nullable=False),
        sa.Column("seq", sa.Integer, nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("who", sa.Text, nullable=False),
        sa.Column("what", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_change"),
        sa.UniqueConstraint("seq", name="uq_change_seq"),
    )
    op.create_table(
        "row_image",
        sa.Column("machine", sa.Text, nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("handle", sa.Text, nullable=False),
        sa.Column("rev", sa.Integer, nullable=False),
        sa.Column("change_id", sa.Text, nullable=False),
        sa.Column("place", sa.Integer, nullable=False),
        sa.Column("before", sa.Text, nullable=True),
        sa.Column("after", sa.Text, nullable=True),
        sa.Column("record_format", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("machine", "kind", "handle", "rev", name="pk_row_image"),
        sa.ForeignKeyConstraint(["change_id"], ["change.id"], name="fk_row_image_change_id_change"),
        sa.ForeignKeyConstraint(
            ["machine", "kind", "handle"],
            ["record_row.machine", "record_row.kind", "record_row.handle"],
            name="fk_row_image_machine_kind_handle_record_row",
        ),
    )
    op.create_index("ix_row_image_change_id", "row_image", ["change_id"])
    op.create_table(
        "operation",
        sa.Column("device", sa.Text, nullable=False),
        sa.Column("op", sa.Text, nullable=False),
        sa.Column("body_hash", sa.Text, nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("result", sa.Text, nullable=False),
        sa.Column("change_id", sa.Text, nullable=True),
        sa.PrimaryKeyConstraint("device", "op", name="pk_operation"),
        sa.ForeignKeyConstraint(["change_id"], ["change.id"], name="fk_operation_change_id_change"),
    )
