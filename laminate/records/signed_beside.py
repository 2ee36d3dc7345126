"""Who signed beside a record, as the statements say it; whether it is so is for `verify` to prove."""

from __future__ import annotations

from pathlib import Path

from laminate.records.files import find, other_record
from laminate.records.statement import ROLES


def signed_beside(record_path: Path, record_sha256: str) -> list[dict[str, str | None]]:
    """Role, name, time, key, goods and remark of every statement beside a record, in the order of roles.

    record_path: where the record lies or will lie; record_sha256: of the record that the statements have to
    speak of; remark: what is wrong with one in itself, None where nothing is.
    """
    if not record_path.parent.is_dir():
        return []
    rows: list[dict[str, str | None]] = []
    for file in find(record_path):
        remark = "; ".join(fault.words for fault in (*file.faults, *other_record(file, record_sha256)))
        rows.append({**file.stated, "name": file.stated["name"] or file.path.name, "remark": remark or None})
    order = {role: place for place, role in enumerate(ROLES)}
    return sorted(rows, key=lambda row: order.get(row["role"] or "", len(order)))
