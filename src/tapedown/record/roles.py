"""Who may write to a shared record."""

from __future__ import annotations

from sqlalchemy import text

from tapedown.record.errors import NotShared, RoleUnfit
from tapedown.record.opening import Record, refusing


def grant_writer(record: Record, role: str) -> None:
    """Let a PostgreSQL role read the record and enter into it, and nothing else.

    The guards hold against every role but those that own the tables, so whoever writes every day should not own them.

    Raises
    ------
    NotShared
        The record is a SQLite file.
    RoleUnfit
        There is no such role, or it owns the tables (itself, as a member of the owner, or as superuser).
    """
    if record.engine.dialect.name != "postgresql":
        raise NotShared(
            "this record is a file, and a file has no roles", hint="set the rights of the file and its folder"
        )
    name = record.engine.dialect.identifier_preparer.quote(role)
    with refusing(), record.engine.begin() as connection:
        owns = connection.execute(_OWNS, {"role": role}).scalar()
        if owns is None:
            raise RoleUnfit(f"there is no role {role} on this server", hint=f"make it first: CREATE ROLE {name} LOGIN")
        if owns:
            raise RoleUnfit(
                f"role {role} owns the tables and could switch the guards off",
                hint="name a role that is neither the owner, nor a member of it, nor a superuser",
            )
        schema = connection.execute(text("SELECT quote_ident(current_schema())")).scalar_one()
        for grant in _GRANTS:
            connection.exec_driver_sql(grant.format(schema=schema, role=name))


_OWNS = text("""
SELECT pg_has_role(r.oid, c.relowner, 'MEMBER') FROM pg_roles r, pg_class c
WHERE r.rolname = :role AND c.oid = 'entries'::regclass
""")
_GRANTS = (
    "GRANT USAGE ON SCHEMA {schema} TO {role}",
    "REVOKE ALL ON entries, rivals, blobs, schema_history FROM {role}",
    "GRANT SELECT, INSERT ON entries, rivals, blobs TO {role}",
    "GRANT SELECT ON schema_history TO {role}",
)
