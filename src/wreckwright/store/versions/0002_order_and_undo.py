"""Machines stand in an order of the owner's own, and a change says which one it took back.

Machines that are there already stand in the order in which they were taken in. No older change took another one back.
"""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    with op.batch_alter_table("machine") as machine:
        machine.add_column(sa.Column("place", sa.Integer, nullable=True))
    _number_machines(op.get_bind())
    with op.batch_alter_table("machine") as machine:
        machine.alter_column("place", existing_type=sa.Integer, nullable=False)
    with op.batch_alter_table("change") as change:
        change.add_column(sa.Column("undoes", sa.Text, nullable=True))
        change.create_foreign_key("fk_change_undoes_change", "change", ["undoes"], ["id"])
        change.create_index("ix_change_undoes", ["undoes"])


def _number_machines(connection: sa.Connection) -> None:
    """Give each machine its place by the first change that has an image of one of its rows."""
    machine = sa.table("machine", sa.column("uid"), sa.column("place"))
    image = sa.table("row_image", sa.column("machine"), sa.column("change_id"))
    change = sa.table("change", sa.column("id"), sa.column("seq"))
    first = sa.func.min(change.c.seq)
    with_images = machine.outerjoin(image, image.c.machine == machine.c.uid)
    in_order = (
        sa.select(machine.c.uid)
        .select_from(with_images.outerjoin(change, change.c.id == image.c.change_id))
        .group_by(machine.c.uid)
        .order_by(first.is_(None), first, machine.c.uid)
    )
    for place, uid in enumerate(connection.scalars(in_order).all()):
        connection.execute(machine.update().where(machine.c.uid == uid).values(place=place))
