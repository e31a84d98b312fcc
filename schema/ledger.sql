-- What endures. Rows are only ever added; docs/storage.md says how each is used.
-- (Views are in views.sql: those are dropped and rebuilt at will and have no migrations.)

-- One signed entry a row. leaf = SHA-256(00 | jws), the leaf of the RFC 9162 tree.
CREATE TABLE log (
    seq  INTEGER PRIMARY KEY CHECK (seq >= 0),
    leaf BLOB NOT NULL CHECK (length(leaf) = 32),
    jws  TEXT NOT NULL CHECK (length(jws) BETWEEN 1 AND 65535)
) STRICT;

-- The disclosures of an entry, "D1~D2~...~": kept beside the log, so that they can be erased.
CREATE TABLE disclosures (
    seq  INTEGER PRIMARY KEY,
    tail TEXT NOT NULL
) STRICT;

-- Inner nodes of the tree in the order of their making: the node over leaves
-- n*2^L .. (n+1)*2^L-1 (L >= 1) is row m - popcount(m) + L - 1, where m = (n+1)*2^L - 1.
CREATE TABLE node (
    at   INTEGER PRIMARY KEY,
    hash BLOB NOT NULL CHECK (length(hash) = 32)
) STRICT;

-- Every checkpoint that was signed, as signed.
CREATE TABLE checkpoint (
    size INTEGER PRIMARY KEY CHECK (size > 0),
    note TEXT NOT NULL
) STRICT;

-- Cosignature lines of witnesses for one of them.
CREATE TABLE cosignature (
    size INTEGER NOT NULL REFERENCES checkpoint (size),
    line TEXT NOT NULL,
    PRIMARY KEY (size, line)
) STRICT, WITHOUT ROWID;

-- Checkpoints of this and other ledgers that were seen: what a rolled-back ledger is held against.
CREATE TABLE seen (
    origin TEXT NOT NULL,
    size   INTEGER NOT NULL,
    note   TEXT NOT NULL,
    PRIMARY KEY (origin, size, note)
) STRICT, WITHOUT ROWID;

-- Append-only for real: no change, no removal, and no insert over what is there (REPLACE would pass
-- the first two).
CREATE TRIGGER log_update BEFORE UPDATE ON log
BEGIN SELECT RAISE(ABORT, 'the log is append-only'); END;
CREATE TRIGGER log_delete BEFORE DELETE ON log
BEGIN SELECT RAISE(ABORT, 'the log is append-only'); END;
CREATE TRIGGER log_insert BEFORE INSERT ON log
WHEN NEW.seq <> (SELECT coalesce(max(seq), -1) + 1 FROM log)
BEGIN SELECT RAISE(ABORT, 'the log grows by one entry behind the last'); END;

CREATE TRIGGER node_update BEFORE UPDATE ON node
BEGIN SELECT RAISE(ABORT, 'the tree is append-only'); END;
CREATE TRIGGER node_delete BEFORE DELETE ON node
BEGIN SELECT RAISE(ABORT, 'the tree is append-only'); END;
CREATE TRIGGER node_insert BEFORE INSERT ON node
WHEN NEW.at <> (SELECT coalesce(max(at), -1) + 1 FROM node)
BEGIN SELECT RAISE(ABORT, 'the tree grows by one node behind the last'); END;

CREATE TRIGGER checkpoint_update BEFORE UPDATE ON checkpoint
BEGIN SELECT RAISE(ABORT, 'checkpoints are append-only'); END;
CREATE TRIGGER checkpoint_delete BEFORE DELETE ON checkpoint
BEGIN SELECT RAISE(ABORT, 'checkpoints are append-only'); END;
CREATE TRIGGER checkpoint_insert BEFORE INSERT ON checkpoint
WHEN NEW.size <= (SELECT coalesce(max(size), 0) FROM checkpoint)
BEGIN SELECT RAISE(ABORT, 'a checkpoint covers more than the one before'); END;

CREATE TRIGGER cosignature_update BEFORE UPDATE ON cosignature
BEGIN SELECT RAISE(ABORT, 'cosignatures are append-only'); END;
CREATE TRIGGER cosignature_delete BEFORE DELETE ON cosignature
BEGIN SELECT RAISE(ABORT, 'cosignatures are append-only'); END;
CREATE TRIGGER cosignature_insert BEFORE INSERT ON cosignature
WHEN EXISTS (SELECT 1 FROM cosignature WHERE size = NEW.size AND line = NEW.line)
BEGIN SELECT RAISE(ABORT, 'that cosignature is here already'); END;

CREATE TRIGGER seen_update BEFORE UPDATE ON seen
BEGIN SELECT RAISE(ABORT, 'seen checkpoints are append-only'); END;
CREATE TRIGGER seen_delete BEFORE DELETE ON seen
BEGIN SELECT RAISE(ABORT, 'seen checkpoints are append-only'); END;

-- Disclosures can be erased (made fewer), never added to or put back.
CREATE TRIGGER disclosures_update BEFORE UPDATE ON disclosures
WHEN NEW.seq <> OLD.seq OR length(NEW.tail) >= length(OLD.tail)
BEGIN SELECT RAISE(ABORT, 'disclosures can only be erased'); END;
CREATE TRIGGER disclosures_delete BEFORE DELETE ON disclosures
BEGIN SELECT RAISE(ABORT, 'disclosures can only be erased one by one'); END;
CREATE TRIGGER disclosures_insert BEFORE INSERT ON disclosures
WHEN NEW.seq <> (SELECT coalesce(max(seq), -1) + 1 FROM disclosures)
BEGIN SELECT RAISE(ABORT, 'disclosures grow with the log'); END;

-- The index of subjects: rebuildable, but kept in step by every append.
CREATE TABLE line (
    sub  TEXT NOT NULL COLLATE NOCASE,
    nth  INTEGER NOT NULL,
    seq  INTEGER NOT NULL,
    kind TEXT NOT NULL,
    iat  INTEGER NOT NULL,
    PRIMARY KEY (sub, nth)
) STRICT, WITHOUT ROWID;

PRAGMA application_id = 1296198756; -- "MBld"
PRAGMA user_version = 1;
