-- What rules may read beside the views, for the length of one audit. docs/rules.md tells of each.

CREATE TEMP TABLE v_today (day INTEGER NOT NULL) STRICT;
CREATE TEMP TABLE v_setting (name TEXT PRIMARY KEY, value INTEGER NOT NULL) STRICT, WITHOUT ROWID;
INSERT INTO v_setting VALUES ('late days', 30), ('late days of a transfer', 7), ('road days', 60),
                             ('one-sided days', 30);
CREATE TEMP TABLE v_scope (sub TEXT PRIMARY KEY COLLATE NOCASE) STRICT, WITHOUT ROWID;
CREATE TEMP TABLE v_planned (
    sub TEXT NOT NULL COLLATE NOCASE, day INTEGER NOT NULL, what TEXT NOT NULL
) STRICT;

-- Pieces that came out of others, by division or joining, and what was found that is in them.
CREATE TEMP TABLE v_derived (
    sub  TEXT NOT NULL COLLATE NOCASE,
    root TEXT NOT NULL COLLATE NOCASE,
    PRIMARY KEY (sub, root)
) STRICT, WITHOUT ROWID;

-- What a category of land (or the law of a country) allows in general, in force from-until.
CREATE TEMP TABLE v_regime (
    id         TEXT NOT NULL,
    category   TEXT COLLATE NOCASE,
    country    TEXT,
    act        TEXT NOT NULL,
    says       TEXT NOT NULL,
    material   TEXT,
    amount     TEXT,
    unit       TEXT,
    per        TEXT,
    plus_piece INTEGER NOT NULL,
    from_day   INTEGER NOT NULL,
    until_day  INTEGER NOT NULL,
    citation   TEXT NOT NULL,
    confidence TEXT NOT NULL,
    text       TEXT NOT NULL
) STRICT;
CREATE INDEX temp.v_regime_act ON v_regime (act, category);

-- Whose land, with open ends closed: a newer record for the whole site ends the older one.
CREATE TEMP TABLE v_ground (
    seq               INTEGER PRIMARY KEY,
    site              TEXT NOT NULL COLLATE NOCASE,
    category          TEXT COLLATE NOCASE,
    from_day          INTEGER NOT NULL,
    until_day         INTEGER NOT NULL,
    area              TEXT,
    surface_owner     TEXT COLLATE NOCASE,
    land_manager      TEXT COLLATE NOCASE,
    fossil_owner      TEXT COLLATE NOCASE,
    minerals_severed  TEXT,
    casual_collecting TEXT,
    federal           INTEGER NOT NULL,
    public            INTEGER NOT NULL,
    parcels           INTEGER NOT NULL
) STRICT;
CREATE INDEX temp.v_ground_site ON v_ground (site);

-- Days on which a permission is in force, and days on which it is suspended or revoked.
CREATE TEMP TABLE v_span (
    permission TEXT NOT NULL COLLATE NOCASE,
    from_day   INTEGER NOT NULL,
    until_day  INTEGER NOT NULL,
    seq        INTEGER NOT NULL
) STRICT;
CREATE INDEX temp.v_span_permission ON v_span (permission);
CREATE TEMP TABLE v_stop (
    permission TEXT NOT NULL COLLATE NOCASE,
    what       TEXT NOT NULL,
    from_day   INTEGER,
    until_day  INTEGER NOT NULL,
    seq        INTEGER NOT NULL
) STRICT;
CREATE INDEX temp.v_stop_permission ON v_stop (permission);

-- Limits of quantity: those of each permission, and those of a regime, which bind a person wherever
-- on such land. Masses are micrograms.
CREATE TEMP TABLE v_limit (
    id             INTEGER PRIMARY KEY,
    permission     TEXT COLLATE NOCASE,
    regime         TEXT,
    material       TEXT,
    amount         TEXT NOT NULL,
    unit           TEXT NOT NULL,
    most           INTEGER,
    per            TEXT NOT NULL,
    whose          TEXT NOT NULL,
    matrix_counted TEXT,
    plus_piece     INTEGER NOT NULL,
    citation       TEXT NOT NULL
) STRICT;
-- What is added up: one row for each find (and each person, where a limit is each person's).
-- `least` is surely this person's, `most` is what it may be at most; NULL: not recorded.
CREATE TEMP TABLE v_addend (
    limit_id   INTEGER NOT NULL,
    party      TEXT NOT NULL COLLATE NOCASE,
    span       TEXT NOT NULL,
    spans      INTEGER NOT NULL,
    subject    TEXT NOT NULL COLLATE NOCASE,
    seq        INTEGER NOT NULL,
    permission TEXT COLLATE NOCASE,
    site       TEXT COLLATE NOCASE,
    least      INTEGER,
    most       INTEGER,
    pieces     INTEGER,
    covered    INTEGER NOT NULL
) STRICT;

-- Collecting under a permission, by site.
CREATE TEMP TABLE v_season (
    permission TEXT COLLATE NOCASE,
    site       TEXT COLLATE NOCASE,
    first_day  INTEGER,
    last_day   INTEGER,
    finds      INTEGER NOT NULL
) STRICT;
CREATE INDEX temp.v_season_permission ON v_season (permission);
CREATE INDEX temp.v_season_site ON v_season (site);

-- Every find that is in a piece: its own, and those of the pieces that it came out of. For pieces
-- that something happened to; a find to which nothing did has no row.
CREATE TEMP TABLE v_origin (
    sub  TEXT NOT NULL COLLATE NOCASE,
    find INTEGER NOT NULL,
    PRIMARY KEY (sub, find)
) STRICT, WITHOUT ROWID;

-- Finds that rest on the rule of the land alone: casual collecting, free use of petrified wood.
CREATE TEMP TABLE v_casual (
    seq        INTEGER PRIMARY KEY,
    sub        TEXT NOT NULL COLLATE NOCASE,
    permission TEXT COLLATE NOCASE,
    kind       TEXT NOT NULL
) STRICT;

-- Offers and sales of a piece: titles, consignments, sheets for a buyer, and what is planned.
CREATE TEMP TABLE v_sale_act (
    sub  TEXT NOT NULL COLLATE NOCASE,
    day  INTEGER,
    seq  INTEGER,
    what TEXT NOT NULL
) STRICT;
CREATE INDEX temp.v_sale_act_sub ON v_sale_act (sub);

-- The ground on which each find was made: `holds` is yes, or doubt where the day, the parcel's edge
-- or a place that is not recorded leaves it open.
CREATE TEMP VIEW v_find_ground (seq, sub, site, land, category, federal, public, casual_collecting,
                                surface_owner, land_manager, fossil_owner, holds) AS
    SELECT f.seq, f.sub, f.site, g.seq, g.category, g.federal, g.public, g.casual_collecting,
           g.surface_owner, g.land_manager, g.fossil_owner,
           CASE WHEN f.day_first < g.from_day OR f.day_last > g.until_day THEN 'doubt'
                WHEN g.parcels = 0 THEN 'yes'
                WHEN g.area IS NOT NULL THEN
                     CASE place_side(g.area, f.latitude, f.longitude, f.datum,
                                     coalesce(f.radius_m, 0))
                          WHEN 'inside' THEN 'yes' WHEN 'outside' THEN 'no' ELSE 'doubt' END
                WHEN f.latitude IS NULL THEN 'doubt'
                ELSE coalesce((SELECT CASE max(CASE place_side(p.area, f.latitude, f.longitude,
                                                    f.datum, coalesce(f.radius_m, 0))
                                          WHEN 'inside' THEN 2 WHEN 'outside' THEN 0 ELSE 1 END)
                                     WHEN 2 THEN 'no' WHEN 1 THEN 'doubt' ELSE 'yes' END
                               FROM v_ground p
                               WHERE p.site = g.site AND p.area IS NOT NULL
                                 AND p.from_day <= f.day_last AND p.until_day >= f.day_first),
                              'yes')
           END
    FROM v_find f JOIN v_ground g
    ON g.site = f.site AND g.from_day <= f.day_last AND g.until_day >= f.day_first;
