"""The tables of the first release."""

from collections.abc import Sequence

import sqlalchemy as sa
from alembic import op

revision: str = "0001"
down_revision: str | None = None
branch_labels: str | Sequence[str] | None = None
depends_on: str | Sequence[str] | None = None


# The ledger is append-only on either database, whoever writes to it.
_REFUSE_SQLITE = """
CREATE TRIGGER movement_refuses_{name} BEFORE {event} ON movement
BEGIN SELECT RAISE(ABORT, 'the ledger is append-only'); END
"""
_REFUSE_POSTGRESQL = """
CREATE FUNCTION movement_is_append_only() RETURNS trigger LANGUAGE plpgsql AS
$$ BEGIN RAISE EXCEPTION 'the ledger is append-only'; END $$;
CREATE TRIGGER movement_refuses_change BEFORE UPDATE OR DELETE OR TRUNCATE ON movement
FOR EACH STATEMENT EXECUTE FUNCTION movement_is_append_only()
"""


def upgrade() -> None:
    op.create_table(
        "act",
        sa.Column(
            "id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=True,
            nullable=False,
        ),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("actor", sa.String(length=100), nullable=False),
        sa.Column("person", sa.String(length=100), nullable=True),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_act")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "part",
        sa.Column(
            "id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=True,
            nullable=False,
        ),
        sa.Column("number", sa.String(length=64), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("material", sa.String(length=60), nullable=True),
        sa.Column("counted_by", sa.String(length=40), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("outside_diameter_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("inside_diameter_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("cross_section_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("thickness_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("length_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("width_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("height_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("depth_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("wire_diameter_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("neck_diameter_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("tip_diameter_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("thread_diameter_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("thread_lead_nanometres", sa.BigInteger(), nullable=True),
        sa.CheckConstraint(
            "cross_section_nanometres > 0", name=op.f("ck_part_cross_section_positive")
        ),
        sa.CheckConstraint("depth_nanometres > 0", name=op.f("ck_part_depth_positive")),
        sa.CheckConstraint("height_nanometres > 0", name=op.f("ck_part_height_positive")),
        sa.CheckConstraint(
            "inside_diameter_nanometres > 0", name=op.f("ck_part_inside_diameter_positive")
        ),
        sa.CheckConstraint("length_nanometres > 0", name=op.f("ck_part_length_positive")),
        sa.CheckConstraint(
            "neck_diameter_nanometres > 0", name=op.f("ck_part_neck_diameter_positive")
        ),
        sa.CheckConstraint(
            "outside_diameter_nanometres > 0", name=op.f("ck_part_outside_diameter_positive")
        ),
        sa.CheckConstraint("thickness_nanometres > 0", name=op.f("ck_part_thickness_positive")),
        sa.CheckConstraint(
            "thread_diameter_nanometres > 0", name=op.f("ck_part_thread_diameter_positive")
        ),
        sa.CheckConstraint("thread_lead_nanometres > 0", name=op.f("ck_part_thread_lead_positive")),
        sa.CheckConstraint(
            "tip_diameter_nanometres > 0", name=op.f("ck_part_tip_diameter_positive")
        ),
        sa.CheckConstraint("width_nanometres > 0", name=op.f("ck_part_width_positive")),
        sa.CheckConstraint(
            "wire_diameter_nanometres > 0", name=op.f("ck_part_wire_diameter_positive")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_part")),
        sa.UniqueConstraint("number", name=op.f("uq_part_number")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("part", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_part_kind"), ["kind"], unique=False)

    op.create_table(
        "pen",
        sa.Column(
            "id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=True,
            nullable=False,
        ),
        sa.Column("called", sa.String(length=200), nullable=False),
        sa.Column("filling_system", sa.String(length=40), nullable=False),
        sa.Column("materials", sa.JSON(), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_pen")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "place",
        sa.Column(
            "id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=True,
            nullable=False,
        ),
        sa.Column("code", sa.String(length=40), nullable=False),
        sa.Column("type", sa.String(length=10), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint("type IN ('drawer', 'tray')", name=op.f("ck_place_type_known")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_place")),
        sa.UniqueConstraint("code", name=op.f("uq_place_code")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "setting_change",
        sa.Column(
            "id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=True,
            nullable=False,
        ),
        sa.Column("name", sa.String(length=110), nullable=False),
        sa.Column("value", sa.JSON(), nullable=True),
        sa.Column("entered", sa.String(length=200), nullable=False),
        sa.Column("why", sa.String(length=2000), nullable=False),
        sa.Column("actor", sa.String(length=100), nullable=False),
        sa.Column("person", sa.String(length=100), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_setting_change")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("setting_change", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_setting_change_name"), ["name"], unique=False)

    op.create_table(
        "token",
        sa.Column(
            "id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=True,
            nullable=False,
        ),
        sa.Column("name", sa.String(length=100), nullable=False),
        sa.Column("prefix", sa.String(length=12), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("scope", sa.String(length=10), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("expires_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("revoked_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint(
            "scope IN ('read', 'write', 'admin')", name=op.f("ck_token_scope_known")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_token")),
        sa.UniqueConstraint("name", name=op.f("uq_token_name")),
        sa.UniqueConstraint("sha256", name=op.f("uq_token_sha256")),
        sqlite_autoincrement=True,
    )
    op.create_table(
        "job",
        sa.Column(
            "id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=True,
            nullable=False,
        ),
        sa.Column("pen_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("state", sa.String(length=10), nullable=False),
        sa.Column("template", sa.JSON(), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint(
            "state IN ('open', 'closed', 'cancelled')", name=op.f("ck_job_state_known")
        ),
        sa.ForeignKeyConstraint(["pen_id"], ["pen.id"], name=op.f("fk_job_pen_id_pen")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("job", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_job_pen_id"), ["pen_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_job_state"), ["state"], unique=False)

    op.create_table(
        "kept_answer",
        sa.Column(
            "id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=True,
            nullable=False,
        ),
        sa.Column("token_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("method", sa.String(length=10), nullable=False),
        sa.Column("path", sa.String(length=300), nullable=False),
        sa.Column("key", sa.String(length=255), nullable=False),
        sa.Column("fingerprint", sa.String(length=64), nullable=False),
        sa.Column("status", sa.Integer(), nullable=True),
        sa.Column("headers", sa.JSON(), nullable=False),
        sa.Column("body", sa.LargeBinary(), nullable=True),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["token_id"], ["token.id"], name=op.f("fk_kept_answer_token_id_token")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_kept_answer")),
        sa.UniqueConstraint(
            "token_id",
            "method",
            "path",
            "key",
            name=op.f("uq_kept_answer_token_id_method_path_key"),
        ),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("kept_answer", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_kept_answer_created_at"), ["created_at"], unique=False)

    op.create_table(
        "lot",
        sa.Column(
            "id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=True,
            nullable=False,
        ),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("part_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("place_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column(
            "parent_lot_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=True
        ),
        sa.Column("label", sa.String(length=200), nullable=True),
        sa.Column("measured", sa.JSON(), nullable=False),
        sa.Column("attributes", sa.JSON(), nullable=False),
        sa.Column("material", sa.String(length=60), nullable=True),
        sa.Column("material_confidence", sa.String(length=20), nullable=False),
        sa.Column("made_on", sa.String(length=20), nullable=True),
        sa.Column("made_from", sa.Date(), nullable=True),
        sa.Column("arrived_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.Column("cost_minor", sa.BigInteger(), nullable=True),
        sa.Column("in_hand", sa.BigInteger(), nullable=False),
        sa.Column("promised", sa.BigInteger(), nullable=False),
        sa.Column("has_available", sa.Boolean(), nullable=False),
        sa.Column("outside_diameter_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("inside_diameter_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("cross_section_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("thickness_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("length_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("width_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("height_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("depth_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("wire_diameter_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("neck_diameter_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("tip_diameter_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("thread_diameter_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("thread_lead_nanometres", sa.BigInteger(), nullable=True),
        sa.CheckConstraint(
            "0 <= promised AND promised <= in_hand", name=op.f("ck_lot_promised_in_hand")
        ),
        sa.CheckConstraint("cost_minor >= 0", name=op.f("ck_lot_cost_positive")),
        sa.CheckConstraint(
            "cross_section_nanometres > 0", name=op.f("ck_lot_cross_section_positive")
        ),
        sa.CheckConstraint("depth_nanometres > 0", name=op.f("ck_lot_depth_positive")),
        sa.CheckConstraint(
            "has_available = (in_hand > promised)", name=op.f("ck_lot_has_available_true")
        ),
        sa.CheckConstraint("height_nanometres > 0", name=op.f("ck_lot_height_positive")),
        sa.CheckConstraint(
            "inside_diameter_nanometres > 0", name=op.f("ck_lot_inside_diameter_positive")
        ),
        sa.CheckConstraint("length_nanometres > 0", name=op.f("ck_lot_length_positive")),
        sa.CheckConstraint(
            "neck_diameter_nanometres > 0", name=op.f("ck_lot_neck_diameter_positive")
        ),
        sa.CheckConstraint(
            "outside_diameter_nanometres > 0", name=op.f("ck_lot_outside_diameter_positive")
        ),
        sa.CheckConstraint("thickness_nanometres > 0", name=op.f("ck_lot_thickness_positive")),
        sa.CheckConstraint(
            "thread_diameter_nanometres > 0", name=op.f("ck_lot_thread_diameter_positive")
        ),
        sa.CheckConstraint("thread_lead_nanometres > 0", name=op.f("ck_lot_thread_lead_positive")),
        sa.CheckConstraint(
            "tip_diameter_nanometres > 0", name=op.f("ck_lot_tip_diameter_positive")
        ),
        sa.CheckConstraint("width_nanometres > 0", name=op.f("ck_lot_width_positive")),
        sa.CheckConstraint(
            "wire_diameter_nanometres > 0", name=op.f("ck_lot_wire_diameter_positive")
        ),
        sa.ForeignKeyConstraint(
            ["parent_lot_id"], ["lot.id"], name=op.f("fk_lot_parent_lot_id_lot")
        ),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_lot_part_id_part")),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_lot_place_id_place")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lot")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("lot", schema=None) as batch_op:
        batch_op.create_index(
            "ix_lot_fit_inside_diameter",
            ["kind", "inside_diameter_nanometres", "made_from", "id"],
            unique=False,
            sqlite_where=sa.text("has_available = 1"),
            postgresql_where=sa.text("has_available"),
        )
        batch_op.create_index(
            "ix_lot_fit_length",
            ["kind", "length_nanometres", "made_from", "id"],
            unique=False,
            sqlite_where=sa.text("has_available = 1"),
            postgresql_where=sa.text("has_available"),
        )
        batch_op.create_index(
            "ix_lot_fit_outside_diameter",
            ["kind", "outside_diameter_nanometres", "made_from", "id"],
            unique=False,
            sqlite_where=sa.text("has_available = 1"),
            postgresql_where=sa.text("has_available"),
        )
        batch_op.create_index(
            "ix_lot_fit_thread_diameter",
            ["kind", "thread_diameter_nanometres", "made_from", "id"],
            unique=False,
            sqlite_where=sa.text("has_available = 1"),
            postgresql_where=sa.text("has_available"),
        )
        batch_op.create_index(
            "ix_lot_fit_width",
            ["kind", "width_nanometres", "made_from", "id"],
            unique=False,
            sqlite_where=sa.text("has_available = 1"),
            postgresql_where=sa.text("has_available"),
        )
        batch_op.create_index(batch_op.f("ix_lot_kind"), ["kind"], unique=False)
        batch_op.create_index(batch_op.f("ix_lot_parent_lot_id"), ["parent_lot_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_lot_part_id"), ["part_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_lot_place_id"), ["place_id"], unique=False)

    op.create_table(
        "reading",
        sa.Column(
            "id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=True,
            nullable=False,
        ),
        sa.Column("pen_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("name", sa.String(length=40), nullable=False),
        sa.Column("value_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("value_text", sa.String(length=200), nullable=True),
        sa.Column("entered", sa.String(length=200), nullable=False),
        sa.Column("instrument", sa.String(length=100), nullable=True),
        sa.Column("spread_nanometres", sa.BigInteger(), nullable=True),
        sa.Column("spread_entered", sa.String(length=200), nullable=True),
        sa.Column("actor", sa.String(length=100), nullable=False),
        sa.Column("person", sa.String(length=100), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint(
            "(value_nanometres IS NULL) <> (value_text IS NULL)", name=op.f("ck_reading_one_value")
        ),
        sa.ForeignKeyConstraint(["pen_id"], ["pen.id"], name=op.f("fk_reading_pen_id_pen")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reading")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("reading", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_reading_pen_id"), ["pen_id"], unique=False)

    op.create_table(
        "need",
        sa.Column(
            "id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=True,
            nullable=False,
        ),
        sa.Column("job_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("calculator", sa.String(length=40), nullable=True),
        sa.Column("optional", sa.Boolean(), nullable=False),
        sa.Column("seals_where", sa.String(length=200), nullable=False),
        sa.CheckConstraint("quantity > 0", name=op.f("ck_need_quantity_positive")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_need_job_id_job")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_need")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("need", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_need_job_id"), ["job_id"], unique=False)

    op.create_table(
        "reservation",
        sa.Column(
            "id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=True,
            nullable=False,
        ),
        sa.Column("lot_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("job_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("need_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=True),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("promised", sa.BigInteger(), nullable=False),
        sa.Column("in_tray", sa.BigInteger(), nullable=False),
        sa.Column("used", sa.BigInteger(), nullable=False),
        sa.Column("released", sa.BigInteger(), nullable=False),
        sa.Column("spoiled", sa.BigInteger(), nullable=False),
        sa.Column("lapsed", sa.BigInteger(), nullable=False),
        sa.Column("ended_as", sa.String(length=10), nullable=True),
        sa.Column("verdict", sa.String(length=10), nullable=True),
        sa.Column("why", sa.String(length=2000), nullable=True),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.Column("actor", sa.String(length=100), nullable=False),
        sa.Column("person", sa.String(length=100), nullable=True),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("expires_at", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint(
            "in_tray >= 0 AND in_tray <= promised", name=op.f("ck_reservation_tray_holds_promised")
        ),
        sa.CheckConstraint(
            "promised = quantity - used - released - spoiled - lapsed",
            name=op.f("ck_reservation_each_piece_ends_once"),
        ),
        sa.CheckConstraint(
            "quantity > 0 AND promised >= 0", name=op.f("ck_reservation_counts_possible")
        ),
        sa.CheckConstraint(
            "used >= 0 AND released >= 0 AND spoiled >= 0 AND lapsed >= 0",
            name=op.f("ck_reservation_ends_possible"),
        ),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_reservation_job_id_job")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_reservation_lot_id_lot")),
        sa.ForeignKeyConstraint(["need_id"], ["need.id"], name=op.f("fk_reservation_need_id_need")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reservation")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("reservation", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_reservation_job_id"), ["job_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_reservation_lot_id"), ["lot_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_reservation_need_id"), ["need_id"], unique=False)
        batch_op.create_index(
            "ix_reservation_open_lot",
            ["lot_id"],
            unique=False,
            sqlite_where=sa.text("promised > 0"),
            postgresql_where=sa.text("promised > 0"),
        )

    op.create_table(
        "movement",
        sa.Column(
            "id",
            sa.BigInteger().with_variant(sa.Integer(), "sqlite"),
            autoincrement=True,
            nullable=False,
        ),
        sa.Column("act_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("lot_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column("verb", sa.String(length=20), nullable=False),
        sa.Column("change", sa.BigInteger(), nullable=False),
        sa.Column("cost_change_minor", sa.BigInteger(), nullable=False),
        sa.Column("pieces", sa.BigInteger(), nullable=False),
        sa.Column("place_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=False),
        sa.Column(
            "from_place_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=True
        ),
        sa.Column(
            "reservation_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=True
        ),
        sa.Column("job_id", sa.BigInteger().with_variant(sa.Integer(), "sqlite"), nullable=True),
        sa.ForeignKeyConstraint(["act_id"], ["act.id"], name=op.f("fk_movement_act_id_act")),
        sa.ForeignKeyConstraint(
            ["from_place_id"], ["place.id"], name=op.f("fk_movement_from_place_id_place")
        ),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_movement_job_id_job")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_movement_lot_id_lot")),
        sa.ForeignKeyConstraint(
            ["place_id"], ["place.id"], name=op.f("fk_movement_place_id_place")
        ),
        sa.ForeignKeyConstraint(
            ["reservation_id"],
            ["reservation.id"],
            name=op.f("fk_movement_reservation_id_reservation"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_movement")),
        sqlite_autoincrement=True,
    )
    with op.batch_alter_table("movement", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_movement_act_id"), ["act_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_movement_job_id"), ["job_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_movement_lot_id"), ["lot_id"], unique=False)
        batch_op.create_index(
            batch_op.f("ix_movement_reservation_id"), ["reservation_id"], unique=False
        )
    if op.get_bind().dialect.name == "sqlite":
        op.execute(_REFUSE_SQLITE.format(name="update", event="UPDATE"))
        op.execute(_REFUSE_SQLITE.format(name="delete", event="DELETE"))
    else:
        op.execute(_REFUSE_POSTGRESQL)


def downgrade() -> None:
    with op.batch_alter_table("movement", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_movement_reservation_id"))
        batch_op.drop_index(batch_op.f("ix_movement_lot_id"))
        batch_op.drop_index(batch_op.f("ix_movement_job_id"))
        batch_op.drop_index(batch_op.f("ix_movement_act_id"))

    op.drop_table("movement")
    with op.batch_alter_table("reservation", schema=None) as batch_op:
        batch_op.drop_index(
            "ix_reservation_open_lot",
            sqlite_where=sa.text("promised > 0"),
            postgresql_where=sa.text("promised > 0"),
        )
        batch_op.drop_index(batch_op.f("ix_reservation_need_id"))
        batch_op.drop_index(batch_op.f("ix_reservation_lot_id"))
        batch_op.drop_index(batch_op.f("ix_reservation_job_id"))

    op.drop_table("reservation")
    with op.batch_alter_table("need", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_need_job_id"))

    op.drop_table("need")
    with op.batch_alter_table("reading", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_reading_pen_id"))

    op.drop_table("reading")
    with op.batch_alter_table("lot", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_lot_place_id"))
        batch_op.drop_index(batch_op.f("ix_lot_part_id"))
        batch_op.drop_index(batch_op.f("ix_lot_parent_lot_id"))
        batch_op.drop_index(batch_op.f("ix_lot_kind"))
        batch_op.drop_index(
            "ix_lot_fit_width",
            sqlite_where=sa.text("has_available = 1"),
            postgresql_where=sa.text("has_available"),
        )
        batch_op.drop_index(
            "ix_lot_fit_thread_diameter",
            sqlite_where=sa.text("has_available = 1"),
            postgresql_where=sa.text("has_available"),
        )
        batch_op.drop_index(
            "ix_lot_fit_outside_diameter",
            sqlite_where=sa.text("has_available = 1"),
            postgresql_where=sa.text("has_available"),
        )
        batch_op.drop_index(
            "ix_lot_fit_length",
            sqlite_where=sa.text("has_available = 1"),
            postgresql_where=sa.text("has_available"),
        )
        batch_op.drop_index(
            "ix_lot_fit_inside_diameter",
            sqlite_where=sa.text("has_available = 1"),
            postgresql_where=sa.text("has_available"),
        )

    op.drop_table("lot")
    with op.batch_alter_table("kept_answer", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_kept_answer_created_at"))

    op.drop_table("kept_answer")
    with op.batch_alter_table("job", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_job_state"))
        batch_op.drop_index(batch_op.f("ix_job_pen_id"))

    op.drop_table("job")
    op.drop_table("token")
    with op.batch_alter_table("setting_change", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_setting_change_name"))

    op.drop_table("setting_change")
    op.drop_table("place")
    op.drop_table("pen")
    with op.batch_alter_table("part", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_part_kind"))

    op.drop_table("part")
    op.drop_table("act")
    if op.get_bind().dialect.name != "sqlite":
        op.execute("DROP FUNCTION movement_is_append_only()")
