"""Recompute the chain of a ledger and compare, byte for byte.

What it checks
    * The hash of every entry, from the entry before it, and that no number is
      missing.
    * The commitment of every sealed part that is still there; that a missing one
      is named by a later entry `forgotten`.
    * The digest of every order text, and the form of every list of documents.
    * A printed head, if one is given.
    * With --tamper: that each of these checks can fail. Every column of every
      row is changed in a copy, rows are deleted, and each copy must be faulted.

Against which outside sources
    * Python's own sqlite3 and hashlib; the encoding as the doc comment of
      `Ledger` in src/ledger.rs describes it.

It shares no code with the program and needs nothing but Python 3.11.

    python ledger.py --ledger FILE [--head "42 3f2a 9c1d 0b11 77e0"] [--tamper]
"""

import argparse
import hashlib
import re
import shutil
import sqlite3
import sys
import tempfile
from pathlib import Path

APPLICATION_ID = 0x4B495457
VERSION = 1
HASHED = (
    "seq kind order_number at who run part counter slots program protocol zone_data "
    "stock lab_digest codes detail commitment"
).split()
COMMITTED = (
    "order_text input_digest family given born revised_from reason documents"
).split()
DOCUMENT = re.compile(r"[0-9a-f]{64} [1-9][0-9]* [0-9]+ [^\n]+")


def field(value):
    """A length of 8 bytes, big-endian, and the bytes."""
    data = value if isinstance(value, bytes) else str(value).encode()
    return len(data).to_bytes(8, "big") + data


def entry_hash(before, entry):
    data = field("kitwright ledger 1") + field(before)
    return hashlib.sha256(data + b"".join(field(entry[name]) for name in HASHED)).digest()


def commitment(sealed):
    data = sealed["salt"] + b"".join(field(sealed[name]) for name in COMMITTED)
    return hashlib.sha256(data).digest()


def forgotten(entries):
    """Number of each entry that was forgotten, with the entry that says so."""
    by = {}
    for entry in entries:
        if entry["kind"] == "forgotten":
            for word in entry["detail"].split(" "):
                first, _, last = word.partition("-")
                for seq in range(int(first), int(last or first) + 1):
                    by[seq] = entry["seq"]
    return by


def sealed_faults(entry, sealed, forgotten_by):
    if sealed is None:
        covered = forgotten_by.get(entry["seq"], 0) > entry["seq"]
        if entry["commitment"] and not covered:
            yield "its sealed part is gone and was not forgotten"
        return
    if len(sealed["salt"]) != 16 or commitment(sealed) != entry["commitment"]:
        yield "its sealed part is another one"
    text = sealed["order_text"]
    if text and hashlib.sha256(text.encode()).hexdigest() != sealed["input_digest"]:
        yield "its order text has another digest"
    lines = sealed["documents"].split("\n")
    if lines.pop() or not all(DOCUMENT.fullmatch(line) for line in lines):
        yield "its documents cannot be read"


def check(path, head=None):
    """Faults, and the head as it is printed."""
    connection = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    connection.row_factory = sqlite3.Row
    faults = []
    if connection.execute("PRAGMA application_id").fetchone()[0] != APPLICATION_ID:
        faults.append("the file has another application id")
    if connection.execute("PRAGMA user_version").fetchone()[0] != VERSION:
        faults.append("the file has another version")
    entries = connection.execute("SELECT * FROM entry ORDER BY seq").fetchall()
    sealed = {row["seq"]: row for row in connection.execute("SELECT * FROM sealed")}
    connection.close()

    forgotten_by = forgotten(entries)
    before, heads = bytes(32), []
    for number, entry in enumerate(entries, start=1):
        seq = entry["seq"]
        if seq != number:
            faults.append(f"entry {seq} stands where {number} should")
        if entry["hash"] != entry_hash(before, entry):
            faults.append(f"entry {seq}: its hash does not follow")
        part = sealed.pop(seq, None)
        faults += [f"entry {seq}: {f}" for f in sealed_faults(entry, part, forgotten_by)]
        before = entry["hash"]
        digits = before.hex()[:16]
        heads.append(" ".join([str(seq), *(digits[i : i + 4] for i in range(0, 16, 4))]))
    faults += [f"entry {seq}: a sealed part without an entry" for seq in sealed]
    if head is not None and head not in heads:
        faults.append(f"the head {head} is not in the chain")
    return faults, heads[-1] if heads else "none"


def changed(value):
    if isinstance(value, int):
        return value + 1
    if isinstance(value, bytes):
        return bytes([value[0] ^ 1]) + value[1:] if value else b"x"
    return value[:-1] + ("7" if value[-1:] != "7" else "8") if value else "x"


def tamper(path, head):
    """Number of changes that were made; those that no check found."""
    tried, missed = 0, []

    def attempt(why, sql, *values):
        nonlocal tried
        with tempfile.TemporaryDirectory() as folder:
            copy = Path(folder) / "copy.db"
            shutil.copy(path, copy)
            connection = sqlite3.connect(copy)
            for name in ("entry_stays", "entry_is_kept", "sealed_stays"):
                connection.execute(f"DROP TRIGGER {name}")
            connection.execute(sql, values)
            connection.commit()
            connection.close()
            tried += 1
            if not faults_of(copy, head):
                missed.append(why)

    connection = sqlite3.connect(f"file:{path}?mode=ro", uri=True)
    connection.row_factory = sqlite3.Row
    for table in ("entry", "sealed"):
        for row in connection.execute(f"SELECT * FROM {table}").fetchall():
            seq = row["seq"]
            attempt(
                f"{table} {seq} deleted", f"DELETE FROM {table} WHERE seq = ?", seq
            )
            for name in row.keys():
                new = seq + 1000 if name == "seq" else changed(row[name])
                attempt(
                    f"{table} {seq} {name}",
                    f"UPDATE {table} SET {name} = ? WHERE seq = ?",
                    new,
                    seq,
                )
    connection.close()
    return tried, missed


def faults_of(path, head):
    try:
        return check(path, head)[0]
    except (ValueError, TypeError) as error:
        return [f"cannot be read: {error}"]


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--ledger", required=True, type=Path, metavar="FILE")
    parser.add_argument("--head", help="a head as it is printed")
    parser.add_argument("--tamper", action="store_true", help="try that changes are found")
    arguments = parser.parse_args()
    if not arguments.ledger.is_file():
        sys.exit(f"There is no file {arguments.ledger}.")
    faults, head = check(arguments.ledger.resolve(), arguments.head)
    for fault in faults:
        print(fault)
    print(f"head: {head}")
    print(f"{len(faults)} faults")
    if faults:
        sys.exit(1)
    if arguments.tamper:
        tried, missed = tamper(arguments.ledger.resolve(), head)
        for why in missed:
            print(f"not found: {why}")
        print(f"{tried} changes tried, {len(missed)} not found")
        if missed or not tried:
            sys.exit(1)


if __name__ == "__main__":
    main()
