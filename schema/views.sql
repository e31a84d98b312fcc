-- What the entries mean. Everything here is rebuilt from the log at will; docs/views.md explains it.
-- Two tables and a full-text index are filled by a replay, all else is read out of them.

CREATE TABLE v_stamp (
    entries INTEGER NOT NULL, -- how many entries were replayed
    schema  TEXT NOT NULL     -- digest of this file: another one means another replay
) STRICT;

CREATE TABLE v_entry (
    seq         INTEGER PRIMARY KEY,
    iat         INTEGER NOT NULL, -- when recorded, seconds since 1970
    recorded_at TEXT NOT NULL,
    sub         TEXT NOT NULL COLLATE NOCASE,
    nth         INTEGER NOT NULL,
    kind        TEXT NOT NULL,
    kid         TEXT NOT NULL,    -- thumbprint of the signing key
    leaf        TEXT NOT NULL,    -- the entry's identity, base64url
    day         TEXT,             -- when it happened, as written
    day_first   INTEGER,          -- the same in days since 1970, both ends included
    day_last    INTEGER,
    voided_by   INTEGER,          -- the correction that struck it out
    line        TEXT NOT NULL     -- in words
) STRICT;
CREATE INDEX v_entry_sub ON v_entry (sub, nth);
CREATE INDEX v_entry_kind ON v_entry (kind, seq);

CREATE TABLE v_field (
    seq      INTEGER NOT NULL,
    name     TEXT NOT NULL,
    value    TEXT NOT NULL,    -- in words
    json     TEXT NOT NULL,    -- as recorded
    class    TEXT NOT NULL,
    from_seq INTEGER NOT NULL, -- the entry that says so: itself, or a correction
    PRIMARY KEY (seq, name)
) STRICT, WITHOUT ROWID;

CREATE VIRTUAL TABLE v_search USING fts5 (
    sub, text, tokenize = 'unicode61 remove_diacritics 2', prefix = '2 3'
);

-- Entries that stand, with what they say.
CREATE VIEW v_said AS
SELECT e.seq, e.sub, e.kind, e.iat, e.day, e.day_first, e.day_last, f.name, f.value, f.json, f.class,
       f.from_seq
FROM v_entry e JOIN v_field f ON f.seq = e.seq
WHERE e.voided_by IS NULL;

-- Pieces: what adds to a subject and what takes away. Only collecting and arrival bring pieces into
-- the ledger; a division moves them to other numbers. kind 'recount' sets the number instead.
CREATE VIEW v_quantity AS
SELECT e.sub, e.seq, e.day,
       CASE
           WHEN e.kind IN ('collecting', 'arrival') THEN CAST(q.json AS INTEGER)
           WHEN e.kind = 'division' AND s.value = 'came out' THEN CAST(q.json AS INTEGER)
           WHEN e.kind = 'division' THEN -coalesce(CAST(g.json AS INTEGER), 0)
                                         - coalesce(CAST(c.json AS INTEGER), 0)
           WHEN e.kind = 'loss' AND n.value = 'recovered' THEN CAST(l.json AS INTEGER)
           WHEN e.kind = 'loss' THEN -CAST(l.json AS INTEGER)
           WHEN e.kind = 'measurement' THEN CAST(r.json AS INTEGER)
       END AS change,
       CASE WHEN e.kind = 'measurement' THEN 'recount' ELSE e.kind END AS why
FROM v_entry e
LEFT JOIN v_field q ON q.seq = e.seq AND q.name = 'objectQuantity'
LEFT JOIN v_field s ON s.seq = e.seq AND s.name = 'side'
LEFT JOIN v_field g ON g.seq = e.seq AND g.name = 'intoQuantity'
LEFT JOIN v_field c ON c.seq = e.seq AND c.name = 'consumed'
LEFT JOIN v_field n ON n.seq = e.seq AND n.name = 'nature'
LEFT JOIN v_field l ON l.seq = e.seq AND l.name = 'quantity'
LEFT JOIN v_field r ON r.seq = e.seq AND r.name = 'recount'
WHERE e.voided_by IS NULL AND e.sub LIKE 'specimen/%'
  AND (e.kind IN ('collecting', 'arrival', 'division', 'loss') OR r.json IS NOT NULL);

-- How many there are: the last recount, if there was one, and what came and went since.
CREATE VIEW v_balance AS
SELECT sub,
       coalesce((SELECT change FROM v_quantity r WHERE r.sub = q.sub AND r.why = 'recount'
                 ORDER BY r.seq DESC LIMIT 1), 0)
       + coalesce(sum(CASE WHEN q.why <> 'recount'
                            AND q.seq > coalesce((SELECT max(seq) FROM v_quantity r
                                                  WHERE r.sub = q.sub AND r.why = 'recount'), -1)
                           THEN q.change END), 0) AS pieces
FROM v_quantity q
GROUP BY sub;

CREATE VIEW v_specimen AS
SELECT sub, substr(sub, 10) AS id, first_seq, entries,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.name = 'objectForm'
        ORDER BY f.seq LIMIT 1) AS object_form,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.name = 'materialClass'
        ORDER BY f.seq LIMIT 1) AS material_class,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.name = 'whatItIs'
        ORDER BY f.seq DESC LIMIT 1) AS what_it_is,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.name = 'vernacularName'
        ORDER BY f.seq DESC LIMIT 1) AS vernacular_name,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.name = 'scientificName'
        ORDER BY f.seq DESC LIMIT 1) AS scientific_name,
       (SELECT value FROM v_said f WHERE f.sub = s.sub
         AND f.name IN ('verbatimIdentification', 'statedIdentification')
        ORDER BY f.seq LIMIT 1) AS first_name,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.name IN ('site', 'statedSite')
        ORDER BY f.seq LIMIT 1) AS site,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.name = 'horizon'
        ORDER BY f.seq LIMIT 1) AS horizon,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.name = 'permission'
        ORDER BY f.seq LIMIT 1) AS permission,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.name = 'eventDate'
        ORDER BY f.seq LIMIT 1) AS event_date,
       (SELECT pieces FROM v_balance b WHERE b.sub = s.sub) AS pieces,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.kind = 'custody' AND f.name = 'to'
        ORDER BY f.seq DESC LIMIT 1) AS holder,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.kind = 'title' AND f.name = 'to'
        ORDER BY f.seq DESC LIMIT 1) AS owner
FROM (SELECT sub, min(seq) AS first_seq, count(*) AS entries FROM v_entry
      WHERE sub LIKE 'specimen/%' GROUP BY sub) s;

CREATE VIEW v_lot AS
SELECT * FROM v_specimen WHERE object_form = 'lot';

-- Handovers and changes of owner, in order, with the day on which the next one ends them.
CREATE VIEW v_custody AS
SELECT e.sub, e.seq, e.day AS handed_over, e.day_first,
       (SELECT value FROM v_field f WHERE f.seq = e.seq AND f.name = 'from') AS from_party,
       (SELECT value FROM v_field f WHERE f.seq = e.seq AND f.name = 'fromLabel') AS from_label,
       (SELECT value FROM v_field f WHERE f.seq = e.seq AND f.name = 'to') AS to_party,
       (SELECT value FROM v_field f WHERE f.seq = e.seq AND f.name = 'toLabel') AS to_label,
       (SELECT value FROM v_field f WHERE f.seq = e.seq AND f.name = 'received') AS received,
       (SELECT value FROM v_field f WHERE f.seq = e.seq AND f.name = 'reason') AS reason,
       (SELECT value FROM v_field f WHERE f.seq = e.seq AND f.name = 'acknowledged') AS acknowledged,
       (SELECT value FROM v_field f WHERE f.seq = e.seq AND f.name = 'dueBack') AS due_back,
       lead(e.day) OVER (PARTITION BY e.sub ORDER BY e.day_first, e.seq) AS until
FROM v_entry e WHERE e.kind = 'custody' AND e.voided_by IS NULL;

CREATE VIEW v_title AS
SELECT e.sub, e.seq, e.day AS date, e.day_first,
       (SELECT value FROM v_field f WHERE f.seq = e.seq AND f.name = 'from') AS from_party,
       (SELECT value FROM v_field f WHERE f.seq = e.seq AND f.name = 'fromLabel') AS from_label,
       (SELECT value FROM v_field f WHERE f.seq = e.seq AND f.name = 'to') AS to_party,
       (SELECT value FROM v_field f WHERE f.seq = e.seq AND f.name = 'toLabel') AS to_label,
       (SELECT value FROM v_field f WHERE f.seq = e.seq AND f.name = 'manner') AS manner,
       (SELECT value FROM v_field f WHERE f.seq = e.seq AND f.name = 'part') AS part,
       (SELECT value FROM v_field f WHERE f.seq = e.seq AND f.name = 'acknowledged') AS acknowledged,
       lead(e.day) OVER (PARTITION BY e.sub ORDER BY e.day_first, e.seq) AS until
FROM v_entry e WHERE e.kind = 'title' AND e.voided_by IS NULL;

CREATE VIEW v_site AS
SELECT sub, substr(sub, 6) AS id,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.kind = 'site' AND f.name = 'siteName'
        ORDER BY seq DESC LIMIT 1) AS name,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.kind = 'site'
         AND f.name = 'countryCode' ORDER BY seq DESC LIMIT 1) AS country,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.kind = 'site'
         AND f.name = 'stateProvince' ORDER BY seq DESC LIMIT 1) AS state,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.kind = 'site' AND f.name = 'county'
        ORDER BY seq DESC LIMIT 1) AS county,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.kind = 'site'
         AND f.name = 'decimalLatitude' ORDER BY seq DESC LIMIT 1) AS latitude,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.kind = 'site'
         AND f.name = 'decimalLongitude' ORDER BY seq DESC LIMIT 1) AS longitude,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.name = 'landCategory'
        ORDER BY seq DESC LIMIT 1) AS land
FROM (SELECT DISTINCT sub FROM v_entry WHERE sub LIKE 'site/%') s;

CREATE VIEW v_horizon AS
SELECT sub, substr(sub, 9) AS id,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.name = 'layerName'
        ORDER BY seq DESC LIMIT 1) AS name,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.name = 'formation'
        ORDER BY seq DESC LIMIT 1) AS formation,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.name = 'earliestStage'
        ORDER BY seq DESC LIMIT 1) AS earliest_stage,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.name = 'latestStage'
        ORDER BY seq DESC LIMIT 1) AS latest_stage
FROM (SELECT DISTINCT sub FROM v_entry WHERE sub LIKE 'horizon/%') s;

CREATE VIEW v_permission AS
SELECT sub, substr(sub, 12) AS id,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.name = 'permissionType'
        ORDER BY seq DESC LIMIT 1) AS type,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.name = 'grantor'
        ORDER BY seq DESC LIMIT 1) AS grantor,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.name = 'holder'
        ORDER BY seq DESC LIMIT 1) AS holder,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.name = 'validFrom'
        ORDER BY seq DESC LIMIT 1) AS valid_from,
       (SELECT value FROM v_said f WHERE f.sub = s.sub
         AND f.name IN ('validUntil', 'newValidUntil') ORDER BY seq DESC LIMIT 1) AS valid_until,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.kind = 'permission-change'
         AND f.name = 'what' ORDER BY seq DESC LIMIT 1) AS last_change
FROM (SELECT DISTINCT sub FROM v_entry WHERE sub LIKE 'permission/%') s;

CREATE VIEW v_party AS
SELECT sub, substr(sub, 7) AS id,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.name = 'name'
        ORDER BY seq DESC LIMIT 1) AS name,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.name = 'neutralLabel'
        ORDER BY seq DESC LIMIT 1) AS neutral_label,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.name = 'namedTo'
        ORDER BY seq DESC LIMIT 1) AS named_to
FROM (SELECT DISTINCT sub FROM v_entry WHERE sub LIKE 'party/%') s;

CREATE VIEW v_field_day AS
SELECT sub, substr(sub, 11) AS id, day,
       (SELECT value FROM v_said f WHERE f.sub = e.sub AND f.name = 'site'
        ORDER BY seq DESC LIMIT 1) AS site,
       (SELECT value FROM v_said f WHERE f.sub = e.sub AND f.name = 'permission'
        ORDER BY seq DESC LIMIT 1) AS permission,
       (SELECT count(*) FROM v_said f WHERE f.kind = 'collecting' AND f.name = 'fieldDay'
         AND f.value = e.sub) AS finds
FROM v_entry e WHERE kind = 'field-day' AND voided_by IS NULL;

CREATE VIEW v_dealing AS
SELECT sub, substr(sub, 9) AS id,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.name = 'type'
        ORDER BY seq DESC LIMIT 1) AS type,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.name = 'opened'
        ORDER BY seq DESC LIMIT 1) AS opened,
       (SELECT value FROM v_said f WHERE f.sub = s.sub AND f.name = 'dueBack'
        ORDER BY seq DESC LIMIT 1) AS due_back
FROM (SELECT DISTINCT sub FROM v_entry WHERE sub LIKE 'dealing/%') s;

CREATE VIEW v_place AS
SELECT sub, substr(sub, 7) AS id, max(seq) AS last_seq,
       (SELECT value FROM v_said f WHERE f.sub = e.sub AND f.name = 'what'
        ORDER BY seq DESC LIMIT 1) AS what
FROM v_entry e WHERE kind = 'placement' AND voided_by IS NULL GROUP BY sub;

CREATE VIEW v_claim AS
SELECT e.sub, e.seq, e.day,
       (SELECT value FROM v_field f WHERE f.seq = e.seq AND f.name = 'nature') AS nature,
       (SELECT value FROM v_field f WHERE f.seq = e.seq AND f.name = 'status') AS status,
       (SELECT value FROM v_field f WHERE f.seq = e.seq AND f.name = 'hold') AS hold
FROM v_entry e WHERE e.kind = 'claim' AND e.voided_by IS NULL;

CREATE VIEW v_certificate AS
SELECT e.seq, e.sub, e.recorded_at, e.leaf,
       (SELECT value FROM v_field f WHERE f.seq = e.seq AND f.name = 'audience') AS audience,
       (SELECT value FROM v_field f WHERE f.seq = e.seq AND f.name = 'to') AS made_out_to,
       (SELECT w.seq FROM v_said w WHERE w.sub = e.sub AND w.kind = 'withdrawal'
         AND w.name = 'which' AND w.value = e.leaf LIMIT 1) AS withdrawn_by
FROM v_entry e WHERE e.kind = 'certificate';

CREATE VIEW v_timeline AS
SELECT sub, seq, day, day_first, day_last, recorded_at, kind, line, voided_by
FROM v_entry ORDER BY sub, coalesce(day_first, iat / 86400), seq;

-- How long after the event a fact was written down.
CREATE VIEW v_late AS
SELECT seq, sub, kind, day, recorded_at, iat / 86400 - day_last AS days_late
FROM v_entry WHERE day_last IS NOT NULL AND voided_by IS NULL;
