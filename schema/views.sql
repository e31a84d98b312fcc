-- What the entries mean now. Every table here is made from the log by a replay, dropped and made
-- again at will; docs/views.md tells of each table and column. Nothing else writes to them.
-- A line "-- ==" divides what is made before a replay from the indexes that are made behind a large
-- one, which is quicker.

CREATE TABLE v_stamp (
    id      INTEGER PRIMARY KEY CHECK (id = 1),
    entries INTEGER NOT NULL,  -- how many entries of the log the views tell of
    leaf    BLOB,              -- leaf hash of the last of them
    schema  TEXT NOT NULL      -- SHA-256 of this file
) STRICT;

-- Subjects that are still to be replayed: empty whenever the views are whole.
CREATE TABLE v_work (
    phase INTEGER NOT NULL,
    at    INTEGER NOT NULL,
    sub   TEXT NOT NULL,
    PRIMARY KEY (phase, at, sub)
) STRICT, WITHOUT ROWID;

CREATE TABLE v_subject (
    sub       TEXT COLLATE NOCASE PRIMARY KEY,
    prefix    TEXT NOT NULL,
    first_seq INTEGER NOT NULL,
    last_seq  INTEGER NOT NULL,
    entries   INTEGER NOT NULL,
    label     TEXT
) STRICT, WITHOUT ROWID;

CREATE TABLE v_entry (
    seq             INTEGER PRIMARY KEY,
    sub             TEXT NOT NULL COLLATE NOCASE,
    nth             INTEGER NOT NULL,
    kind            TEXT NOT NULL,
    iat             INTEGER NOT NULL,
    recorded_at     TEXT NOT NULL,
    recorded_day    INTEGER NOT NULL,
    kid             TEXT NOT NULL,
    signer          TEXT COLLATE NOCASE,
    voided_by       INTEGER,
    corrected_by    INTEGER,
    event_date      TEXT,
    event_day_first INTEGER,
    event_day_last  INTEGER,
    line            TEXT NOT NULL
) STRICT;
CREATE INDEX v_entry_sub ON v_entry (sub, nth);

CREATE TABLE v_field (
    seq        INTEGER NOT NULL,
    name       TEXT NOT NULL,
    value      TEXT,
    value_json TEXT,
    class      TEXT NOT NULL,
    from_seq   INTEGER NOT NULL,
    corrected  INTEGER NOT NULL,
    PRIMARY KEY (seq, name)
) STRICT, WITHOUT ROWID;

CREATE TABLE v_correction (
    seq           INTEGER PRIMARY KEY,
    sub           TEXT NOT NULL COLLATE NOCASE,
    target        INTEGER,
    action        TEXT,
    why           TEXT,
    changes_facts TEXT,
    moved_to      TEXT COLLATE NOCASE,
    counts        INTEGER NOT NULL
) STRICT;

CREATE TABLE v_change (
    seq          INTEGER NOT NULL,
    name         TEXT NOT NULL,
    target       INTEGER NOT NULL,
    value_before TEXT,
    value_after  TEXT,
    counts       INTEGER NOT NULL,
    PRIMARY KEY (seq, name)
) STRICT, WITHOUT ROWID;

CREATE TABLE v_mention (
    sub TEXT NOT NULL COLLATE NOCASE,
    ref TEXT NOT NULL COLLATE NOCASE,
    PRIMARY KEY (sub, ref)
) STRICT, WITHOUT ROWID;
CREATE INDEX v_mention_ref ON v_mention (ref);

CREATE VIRTUAL TABLE v_search USING fts5 (
    id, label, words, around, tokenize = 'unicode61 remove_diacritics 2'
);

-- ---- keys and people ----

CREATE TABLE v_key (
    kid          TEXT PRIMARY KEY,
    holder       TEXT COLLATE NOCASE,
    may          TEXT,
    founding     INTEGER NOT NULL,
    enrolled     INTEGER NOT NULL,
    enrolled_by  TEXT NOT NULL,
    retired      INTEGER,
    retired_why  TEXT,
    suspect_from INTEGER
) STRICT, WITHOUT ROWID;

CREATE TABLE v_party (
    sub            TEXT COLLATE NOCASE PRIMARY KEY,
    seq            INTEGER NOT NULL,
    party_type     TEXT,
    name           TEXT,
    named_to       TEXT,
    neutral_label  TEXT,
    role           TEXT,
    died           TEXT,
    represented_by TEXT COLLATE NOCASE,
    authority      TEXT
) STRICT, WITHOUT ROWID;

-- ---- land ----

CREATE TABLE v_site (
    sub              TEXT COLLATE NOCASE PRIMARY KEY,
    seq              INTEGER NOT NULL,
    site_name        TEXT,
    site_number      TEXT,
    country          TEXT,
    state            TEXT,
    county           TEXT,
    municipality     TEXT,
    site_type        TEXT,
    latitude         REAL,
    longitude        REAL,
    datum            TEXT,
    source           TEXT,
    uncertainty_m    REAL,
    boundary         TEXT,
    land_description TEXT,
    land_read        TEXT,
    land_township    TEXT,
    land_range       TEXT,
    land_sections    TEXT,
    land_parts       TEXT,
    land_lots        TEXT,
    land_meridian    TEXT,
    land_acres       TEXT,
    unit             TEXT,
    held_back_by     TEXT,
    finest_allowed   TEXT,
    coarse_place     TEXT
) STRICT, WITHOUT ROWID;

CREATE TABLE v_land (
    seq               INTEGER PRIMARY KEY,
    site              TEXT NOT NULL COLLATE NOCASE,
    category          TEXT,
    from_date         TEXT,
    from_day          INTEGER,
    until_date        TEXT,
    until_day         INTEGER,
    area              TEXT,
    surface_owner     TEXT COLLATE NOCASE,
    land_manager      TEXT COLLATE NOCASE,
    fossil_owner      TEXT COLLATE NOCASE,
    minerals_severed  TEXT,
    casual_collecting TEXT,
    protected_as      TEXT,
    evidence          TEXT,
    evidence_date     TEXT,
    evidence_day      INTEGER,
    evidence_document TEXT
) STRICT;
CREATE INDEX v_land_site ON v_land (site);

CREATE TABLE v_land_closure (
    seq        INTEGER NOT NULL,
    n          INTEGER NOT NULL,
    site       TEXT NOT NULL COLLATE NOCASE,
    what       TEXT,
    from_day   INTEGER,
    until_day  INTEGER,
    document   TEXT,
    PRIMARY KEY (seq, n)
) STRICT, WITHOUT ROWID;

CREATE TABLE v_horizon (
    sub            TEXT COLLATE NOCASE PRIMARY KEY,
    seq            INTEGER NOT NULL,
    layer_name     TEXT,
    layer_state    TEXT,
    formation      TEXT,
    group_name     TEXT,
    member         TEXT,
    bed            TEXT,
    earliest_stage TEXT,
    latest_stage   TEXT,
    chart_version  TEXT,
    zone           TEXT,
    lithology      TEXT,
    thickness      TEXT,
    base_height    TEXT,
    base_datum     TEXT,
    section        TEXT COLLATE NOCASE
) STRICT, WITHOUT ROWID;

CREATE TABLE v_permission (
    sub                    TEXT COLLATE NOCASE PRIMARY KEY,
    seq                    INTEGER NOT NULL,
    permission_type        TEXT,
    permit_number          TEXT,
    grantor                TEXT COLLATE NOCASE,
    grantor_capacity       TEXT,
    grantor_authority      TEXT,
    holder                 TEXT COLLATE NOCASE,
    supervised_allowed     TEXT,
    signed_on              TEXT,
    signed_day             INTEGER,
    valid_from             TEXT,
    valid_from_day         INTEGER,
    valid_until            TEXT,
    valid_until_day        INTEGER,
    area                   TEXT,
    area_text              TEXT,
    beds                   TEXT,
    materials              TEXT,
    taxa                   TEXT,
    methods                TEXT,
    sale_allowed           TEXT,
    title_passes           TEXT,
    owner_keeps            TEXT,
    owner_choice_days      INTEGER,
    place_may_be_published TEXT,
    repository             TEXT COLLATE NOCASE,
    repository_acceptance  TEXT,
    regime                 TEXT,
    document               TEXT,
    until_now              TEXT,
    until_now_day          INTEGER,
    last_change            TEXT,
    last_change_day        INTEGER,
    holder_now             TEXT COLLATE NOCASE
) STRICT, WITHOUT ROWID;

CREATE TABLE v_permission_site (
    permission TEXT NOT NULL COLLATE NOCASE,
    n          INTEGER NOT NULL,
    site       TEXT COLLATE NOCASE,
    PRIMARY KEY (permission, n)
) STRICT, WITHOUT ROWID;

CREATE TABLE v_permission_person (
    permission TEXT NOT NULL COLLATE NOCASE,
    n          INTEGER NOT NULL,
    party      TEXT COLLATE NOCASE,
    role       TEXT,
    alone      TEXT,
    PRIMARY KEY (permission, n)
) STRICT, WITHOUT ROWID;

CREATE TABLE v_permission_limit (
    permission     TEXT NOT NULL COLLATE NOCASE,
    n              INTEGER NOT NULL,
    amount         TEXT,
    unit           TEXT,
    per            TEXT,
    whose          TEXT,
    matrix_counted TEXT,
    PRIMARY KEY (permission, n)
) STRICT, WITHOUT ROWID;

CREATE TABLE v_report_due (
    permission TEXT NOT NULL COLLATE NOCASE,
    n          INTEGER NOT NULL,
    what       TEXT,
    due_on     TEXT,
    due_day    INTEGER,
    to_party   TEXT COLLATE NOCASE,
    PRIMARY KEY (permission, n)
) STRICT, WITHOUT ROWID;

CREATE TABLE v_permission_change (
    seq           INTEGER PRIMARY KEY,
    permission    TEXT NOT NULL COLLATE NOCASE,
    what          TEXT,
    from_date     TEXT,
    from_day      INTEGER,
    until_date    TEXT,
    until_day     INTEGER,
    new_until     TEXT,
    new_until_day INTEGER,
    new_area      TEXT,
    new_holder    TEXT COLLATE NOCASE,
    new_value     TEXT,
    document      TEXT,
    by_party      TEXT COLLATE NOCASE
) STRICT;
CREATE INDEX v_permission_change_permission ON v_permission_change (permission);

CREATE TABLE v_permission_report (
    seq         INTEGER PRIMARY KEY,
    permission  TEXT NOT NULL COLLATE NOCASE,
    filed_on    TEXT,
    filed_day   INTEGER,
    to_party    TEXT COLLATE NOCASE,
    reported    INTEGER,
    deposited   INTEGER,
    destroyed   INTEGER,
    held        INTEGER,
    document    TEXT,
    accepted_on TEXT
) STRICT;

CREATE TABLE v_report_cover (
    seq        INTEGER NOT NULL,
    n          INTEGER NOT NULL,
    permission TEXT NOT NULL COLLATE NOCASE,
    from_day   INTEGER,
    until_day  INTEGER,
    PRIMARY KEY (seq, n)
) STRICT, WITHOUT ROWID;

CREATE TABLE v_field_day (
    sub          TEXT COLLATE NOCASE PRIMARY KEY,
    seq          INTEGER NOT NULL,
    event_date   TEXT,
    day_first    INTEGER,
    day_last     INTEGER,
    site         TEXT COLLATE NOCASE,
    field_number TEXT,
    permission   TEXT COLLATE NOCASE,
    recorded_by  TEXT,
    purpose      TEXT,
    tools        TEXT,
    notebook     TEXT
) STRICT, WITHOUT ROWID;

CREATE TABLE v_present (
    field_day     TEXT NOT NULL COLLATE NOCASE,
    n             INTEGER NOT NULL,
    party         TEXT COLLATE NOCASE,
    role          TEXT,
    supervised_by TEXT COLLATE NOCASE,
    waiver_signed TEXT,
    PRIMARY KEY (field_day, n)
) STRICT, WITHOUT ROWID;

CREATE TABLE v_took (
    field_day TEXT NOT NULL COLLATE NOCASE,
    n         INTEGER NOT NULL,
    party     TEXT COLLATE NOCASE,
    material  TEXT,
    mass      TEXT,
    unit      TEXT,
    pieces    INTEGER,
    PRIMARY KEY (field_day, n)
) STRICT, WITHOUT ROWID;

-- ---- dealings, papers, places ----

CREATE TABLE v_dealing (
    sub          TEXT COLLATE NOCASE PRIMARY KEY,
    seq          INTEGER NOT NULL,
    dealing_type TEXT,
    opened       TEXT,
    opened_day   INTEGER,
    due_back     TEXT,
    due_day      INTEGER,
    terms        TEXT,
    status       TEXT
) STRICT, WITHOUT ROWID;

CREATE TABLE v_dealing_party (
    dealing TEXT NOT NULL COLLATE NOCASE,
    n       INTEGER NOT NULL,
    party   TEXT COLLATE NOCASE,
    role    TEXT,
    PRIMARY KEY (dealing, n)
) STRICT, WITHOUT ROWID;

CREATE TABLE v_dealing_piece (
    dealing  TEXT NOT NULL COLLATE NOCASE,
    n        INTEGER NOT NULL,
    specimen TEXT COLLATE NOCASE,
    PRIMARY KEY (dealing, n)
) STRICT, WITHOUT ROWID;
CREATE INDEX v_dealing_piece_specimen ON v_dealing_piece (specimen);

CREATE TABLE v_document (
    seq         INTEGER PRIMARY KEY,
    sub         TEXT NOT NULL COLLATE NOCASE,
    leaf        TEXT NOT NULL,
    doc_type    TEXT,
    title       TEXT,
    doc_date    TEXT,
    doc_day     INTEGER,
    issued_by   TEXT COLLATE NOCASE,
    number      TEXT,
    file        TEXT,
    valid_from  TEXT,
    valid_until TEXT,
    confirmed   TEXT
) STRICT;
CREATE INDEX v_document_sub ON v_document (sub);
CREATE INDEX v_document_leaf ON v_document (leaf);

CREATE TABLE v_claim (
    seq           INTEGER PRIMARY KEY,
    sub           TEXT NOT NULL COLLATE NOCASE,
    nature        TEXT,
    status        TEXT,
    date          TEXT,
    day           INTEGER,
    by_party      TEXT COLLATE NOCASE,
    by_label      TEXT,
    reference     TEXT,
    hold          TEXT,
    until_date    TEXT,
    concerns      INTEGER,
    changed_by    INTEGER,
    is_open       INTEGER NOT NULL
) STRICT;
CREATE INDEX v_claim_sub ON v_claim (sub);

CREATE TABLE v_place (
    sub        TEXT COLLATE NOCASE PRIMARY KEY,
    seq        INTEGER NOT NULL,
    place_name TEXT,
    store      TEXT
) STRICT, WITHOUT ROWID;

CREATE TABLE v_placement (
    seq      INTEGER NOT NULL,
    n        INTEGER NOT NULL,
    place    TEXT NOT NULL COLLATE NOCASE,
    what     TEXT COLLATE NOCASE,
    date     TEXT,
    day      INTEGER,
    moved_by TEXT COLLATE NOCASE,
    PRIMARY KEY (seq, n)
) STRICT, WITHOUT ROWID;
CREATE INDEX v_placement_what ON v_placement (what);
CREATE INDEX v_placement_place ON v_placement (place);

-- ---- specimens ----

CREATE TABLE v_specimen (
    sub                     TEXT COLLATE NOCASE PRIMARY KEY,
    id                      TEXT NOT NULL,
    first_seq               INTEGER NOT NULL,
    begins_as               TEXT,
    what                    TEXT,
    object_form             TEXT,
    material_class          TEXT,
    what_it_is              TEXT,
    vernacular_name         TEXT,
    scientific_name         TEXT,
    verbatim_identification TEXT,
    preservation            TEXT,
    type_status             TEXT,
    parent                  TEXT COLLATE NOCASE,
    site                    TEXT COLLATE NOCASE,
    horizon                 TEXT COLLATE NOCASE,
    permission              TEXT COLLATE NOCASE,
    field_day               TEXT COLLATE NOCASE,
    event_date              TEXT,
    event_day_first         INTEGER,
    event_day_last          INTEGER,
    recorded_by             TEXT,
    quantity_in             INTEGER,
    quantity_out            INTEGER,
    quantity_counted        INTEGER,
    quantity_now            INTEGER,
    quantity_lowest         INTEGER,
    overdrawn               INTEGER NOT NULL,
    quantity_how            TEXT,
    holder                  TEXT COLLATE NOCASE,
    holder_label            TEXT,
    owner                   TEXT COLLATE NOCASE,
    owner_label             TEXT,
    status                  TEXT NOT NULL,
    last_condition          INTEGER,
    certificates            INTEGER NOT NULL
) STRICT, WITHOUT ROWID;

CREATE TABLE v_quantity (
    sub     TEXT NOT NULL COLLATE NOCASE,
    seq     INTEGER NOT NULL,
    n       INTEGER NOT NULL,
    day     INTEGER NOT NULL,
    change  INTEGER NOT NULL,
    counts  INTEGER NOT NULL,
    balance INTEGER NOT NULL,
    why     TEXT NOT NULL,
    PRIMARY KEY (sub, seq, n)
) STRICT, WITHOUT ROWID;

CREATE TABLE v_division (
    seq             INTEGER PRIMARY KEY,
    sub             TEXT NOT NULL COLLATE NOCASE,
    date            TEXT,
    day             INTEGER,
    purpose         TEXT,
    remains         TEXT,
    consent         TEXT,
    quantity_before INTEGER,
    given           INTEGER,
    consumed        INTEGER,
    remainder       INTEGER,
    difference      INTEGER
) STRICT;
CREATE INDEX v_division_sub ON v_division (sub);

CREATE TABLE v_link (
    seq       INTEGER NOT NULL,
    n         INTEGER NOT NULL,
    sub       TEXT NOT NULL COLLATE NOCASE,
    parent    TEXT COLLATE NOCASE,
    child     TEXT COLLATE NOCASE,
    how       TEXT NOT NULL,
    relation  TEXT,
    quantity  INTEGER,
    form      TEXT,
    note      TEXT,
    other_seq INTEGER,
    PRIMARY KEY (seq, n)
) STRICT, WITHOUT ROWID;
CREATE INDEX v_link_parent ON v_link (parent);
CREATE INDEX v_link_child ON v_link (child);

CREATE TABLE v_find (
    seq             INTEGER PRIMARY KEY,
    sub             TEXT NOT NULL COLLATE NOCASE,
    field_day       TEXT COLLATE NOCASE,
    event_date      TEXT,
    day_first       INTEGER,
    day_last        INTEGER,
    site            TEXT COLLATE NOCASE,
    horizon         TEXT COLLATE NOCASE,
    permission      TEXT COLLATE NOCASE,
    purpose         TEXT,
    tools           TEXT,
    in_place        TEXT,
    found_by        TEXT COLLATE NOCASE,
    gave_up_claim   TEXT,
    record_number   TEXT,
    object_form     TEXT,
    quantity        INTEGER,
    material_class  TEXT,
    common_kind     TEXT,
    mass            TEXT,
    mass_unit       TEXT,
    mass_kg         REAL,
    mass_how        TEXT,
    with_matrix     TEXT,
    latitude        REAL,
    longitude       REAL,
    datum           TEXT,
    uncertainty_m   REAL,
    radius_m        REAL,
    made_from       TEXT
) STRICT;

CREATE TABLE v_collector (
    seq   INTEGER NOT NULL,
    n     INTEGER NOT NULL,
    sub   TEXT NOT NULL COLLATE NOCASE,
    party TEXT COLLATE NOCASE,
    PRIMARY KEY (seq, n)
) STRICT, WITHOUT ROWID;

CREATE TABLE v_arrival (
    seq               INTEGER PRIMARY KEY,
    sub               TEXT NOT NULL COLLATE NOCASE,
    received_on       TEXT,
    day_first         INTEGER,
    day_last          INTEGER,
    received_from     TEXT COLLATE NOCASE,
    from_label        TEXT,
    reason            TEXT,
    owner             TEXT COLLATE NOCASE,
    owner_shown_by    TEXT,
    quantity          INTEGER,
    quantity_declared INTEGER,
    material_class    TEXT,
    label_link        TEXT,
    stated_site       TEXT COLLATE NOCASE,
    reading_sure      TEXT,
    country           TEXT,
    left_country_on   TEXT,
    export_paper      TEXT,
    dealing           TEXT COLLATE NOCASE,
    due_back          TEXT,
    due_day           INTEGER,
    made_from         TEXT
) STRICT;
CREATE INDEX v_arrival_sub ON v_arrival (sub);

CREATE TABLE v_identification (
    seq             INTEGER PRIMARY KEY,
    sub             TEXT NOT NULL COLLATE NOCASE,
    what_it_is      TEXT,
    vernacular_name TEXT,
    scientific_name TEXT,
    qualifier       TEXT,
    taxon_rank      TEXT,
    preservation    TEXT,
    identified_by   TEXT,
    identifier_tie  TEXT,
    date            TEXT,
    day             INTEGER,
    sure            TEXT,
    accepted        TEXT,
    type_status     TEXT
) STRICT;
CREATE INDEX v_identification_sub ON v_identification (sub);

CREATE TABLE v_preparation (
    seq         INTEGER PRIMARY KEY,
    sub         TEXT NOT NULL COLLATE NOCASE,
    date        TEXT,
    day_first   INTEGER,
    day_last    INTEGER,
    prepared_by TEXT,
    whose       TEXT,
    lost        TEXT,
    stage       TEXT
) STRICT;
CREATE INDEX v_preparation_sub ON v_preparation (sub);

CREATE TABLE v_step (
    seq            INTEGER NOT NULL,
    n              INTEGER NOT NULL,
    sub            TEXT NOT NULL COLLATE NOCASE,
    method         TEXT,
    tool           TEXT,
    medium         TEXT,
    material       TEXT,
    strength       TEXT,
    solvent        TEXT,
    removable_with TEXT,
    part           TEXT,
    PRIMARY KEY (seq, n)
) STRICT, WITHOUT ROWID;

CREATE TABLE v_condition (
    seq          INTEGER PRIMARY KEY,
    sub          TEXT NOT NULL COLLATE NOCASE,
    date         TEXT,
    day          INTEGER,
    examined_by  TEXT,
    tie          TEXT,
    occasion     TEXT,
    means        TEXT,
    not_examined TEXT,
    frame        TEXT,
    stability    TEXT,
    mass         TEXT
) STRICT;
CREATE INDEX v_condition_sub ON v_condition (sub);

CREATE TABLE v_measurement (
    seq     INTEGER PRIMARY KEY,
    sub     TEXT NOT NULL COLLATE NOCASE,
    what    TEXT,
    value   TEXT,
    unit    TEXT,
    how     TEXT,
    date    TEXT,
    day     INTEGER,
    recount INTEGER
) STRICT;
CREATE INDEX v_measurement_sub ON v_measurement (sub);

CREATE TABLE v_numbering (
    seq         INTEGER PRIMARY KEY,
    sub         TEXT NOT NULL COLLATE NOCASE,
    number      TEXT,
    number_type TEXT,
    given_by    TEXT COLLATE NOCASE,
    date        TEXT,
    on_object   TEXT
) STRICT;
CREATE INDEX v_numbering_number ON v_numbering (number);

CREATE TABLE v_custody (
    seq           INTEGER PRIMARY KEY,
    sub           TEXT NOT NULL COLLATE NOCASE,
    from_party    TEXT COLLATE NOCASE,
    from_label    TEXT,
    to_party      TEXT COLLATE NOCASE,
    to_label      TEXT,
    handed_over   TEXT,
    handed_day    INTEGER,
    received      TEXT,
    received_day  INTEGER,
    reason        TEXT,
    capacity      TEXT,
    due_back      TEXT,
    due_day       INTEGER,
    from_country  TEXT,
    to_country    TEXT,
    border_papers TEXT,
    dealing       TEXT COLLATE NOCASE,
    acknowledged  TEXT,
    countersigned INTEGER,
    giver_held    INTEGER
) STRICT;
CREATE INDEX v_custody_sub ON v_custody (sub);

CREATE TABLE v_holder (
    sub       TEXT NOT NULL COLLATE NOCASE,
    n         INTEGER NOT NULL,
    party     TEXT COLLATE NOCASE,
    label     TEXT,
    from_day  INTEGER,
    until_day INTEGER,
    seq_in    INTEGER,
    seq_out   INTEGER,
    PRIMARY KEY (sub, n)
) STRICT, WITHOUT ROWID;

CREATE TABLE v_title (
    seq           INTEGER PRIMARY KEY,
    sub           TEXT NOT NULL COLLATE NOCASE,
    from_party    TEXT COLLATE NOCASE,
    from_label    TEXT,
    to_party      TEXT COLLATE NOCASE,
    to_label      TEXT,
    date          TEXT,
    day           INTEGER,
    manner        TEXT,
    basis         TEXT,
    part          TEXT,
    acting_for    TEXT COLLATE NOCASE,
    authority     TEXT,
    conditions    TEXT,
    burdens       TEXT,
    undoes        INTEGER,
    acknowledged  TEXT,
    countersigned INTEGER,
    giver_owned   INTEGER
) STRICT;
CREATE INDEX v_title_sub ON v_title (sub);

CREATE TABLE v_owner (
    sub       TEXT NOT NULL COLLATE NOCASE,
    n         INTEGER NOT NULL,
    party     TEXT COLLATE NOCASE,
    label     TEXT,
    part      TEXT NOT NULL,
    from_day  INTEGER,
    until_day INTEGER,
    seq_in    INTEGER,
    seq_out   INTEGER,
    PRIMARY KEY (sub, n)
) STRICT, WITHOUT ROWID;

CREATE TABLE v_loss (
    seq           INTEGER PRIMARY KEY,
    sub           TEXT NOT NULL COLLATE NOCASE,
    nature        TEXT,
    date          TEXT,
    day           INTEGER,
    quantity      INTEGER,
    in_whose_care TEXT COLLATE NOCASE,
    report_number TEXT,
    consent       TEXT,
    closes        INTEGER,
    closed_by     INTEGER
) STRICT;
CREATE INDEX v_loss_sub ON v_loss (sub);

CREATE TABLE v_joining (
    seq             INTEGER PRIMARY KEY,
    sub             TEXT NOT NULL COLLATE NOCASE,
    side            TEXT,
    date            TEXT,
    day             INTEGER,
    why             TEXT,
    same_individual TEXT,
    association     TEXT,
    removable       TEXT,
    whole           TEXT COLLATE NOCASE
) STRICT;
CREATE INDEX v_joining_sub ON v_joining (sub);

CREATE TABLE v_making (
    seq        INTEGER PRIMARY KEY,
    sub        TEXT NOT NULL COLLATE NOCASE,
    what       TEXT,
    taken_from TEXT COLLATE NOCASE,
    number     INTEGER,
    run_size   INTEGER,
    material   TEXT,
    date       TEXT,
    day        INTEGER,
    consent    TEXT
) STRICT;

CREATE TABLE v_certificate (
    seq           INTEGER PRIMARY KEY,
    sub           TEXT NOT NULL COLLATE NOCASE,
    leaf          TEXT NOT NULL,
    audience      TEXT,
    to_party      TEXT COLLATE NOCASE,
    day           INTEGER NOT NULL,
    replaces      INTEGER,
    replaced_by   INTEGER,
    withdrawn_by  INTEGER,
    withdrawn_why TEXT
) STRICT;
CREATE INDEX v_certificate_sub ON v_certificate (sub);
CREATE INDEX v_certificate_leaf ON v_certificate (leaf);

-- ---- told from the tables above ----

CREATE VIEW v_timeline (sub, day_first, day_last, seq, text) AS
    SELECT sub, coalesce(event_day_first, recorded_day), coalesce(event_day_last, recorded_day),
           seq, line
    FROM v_entry WHERE voided_by IS NULL;

CREATE VIEW v_late (seq, sub, kind, event_day, recorded_day, days, made_from) AS
    SELECT e.seq, e.sub, e.kind, e.event_day_last, e.recorded_day,
           e.recorded_day - e.event_day_last,
           (SELECT value FROM v_field f WHERE f.seq = e.seq AND f.name = 'madeFrom')
    FROM v_entry e
    WHERE e.voided_by IS NULL AND e.recorded_day > e.event_day_last;

CREATE VIEW v_lot_balance (sub, quantity_in, quantity_out, quantity_counted, quantity_now,
                           quantity_lowest, overdrawn) AS
    SELECT sub, quantity_in, quantity_out, quantity_counted, quantity_now, quantity_lowest,
           overdrawn
    FROM v_specimen WHERE object_form = 'lot' OR quantity_in > 1;

CREATE VIEW v_where (sub, place, date, day, seq) AS
    SELECT what, place, date, day, seq
    FROM (SELECT what, place, date, day, seq,
                 row_number() OVER (PARTITION BY what ORDER BY day DESC, seq DESC) AS back
          FROM v_placement)
    WHERE back = 1;

-- ==

CREATE INDEX IF NOT EXISTS v_entry_kind ON v_entry (kind, sub);
CREATE INDEX IF NOT EXISTS v_field_value ON v_field (name, value);
CREATE INDEX IF NOT EXISTS v_specimen_site ON v_specimen (site);
CREATE INDEX IF NOT EXISTS v_find_site ON v_find (site);
CREATE INDEX IF NOT EXISTS v_find_sub ON v_find (sub);
CREATE INDEX IF NOT EXISTS v_find_permission ON v_find (permission);
