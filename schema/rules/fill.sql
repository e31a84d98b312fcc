-- Whose land, and when a permission is in force. Open ends are days -999999 and 999999.

INSERT INTO v_ground
    SELECT seq, site, category, from_day,
           min(until_day, CASE WHEN area IS NULL THEN coalesce(next_from - 1, 999999)
                               ELSE 999999 END),
           area, surface_owner, land_manager, fossil_owner, minerals_severed, casual_collecting,
           coalesce(category, '') IN ('BLM', 'Reclamation', 'National Park', 'Wildlife Refuge',
                                      'National Forest', 'other federal'),
           coalesce(category, '') IN ('BLM', 'Reclamation', 'National Park', 'Wildlife Refuge',
                                      'National Forest', 'other federal', 'tribal or trust',
                                      'state', 'local public',
                                      'state-owned by the law of the country'),
           parcels
    FROM (SELECT l.seq, l.site, l.category, l.area, l.surface_owner, l.land_manager,
                 l.fossil_owner, l.minerals_severed, l.casual_collecting,
                 coalesce(l.from_day, -999999) AS from_day,
                 coalesce(l.until_day, 999999) AS until_day,
                 lead(coalesce(l.from_day, -999999))
                     OVER (PARTITION BY l.site, l.area IS NULL
                           ORDER BY coalesce(l.from_day, -999999), l.seq) AS next_from,
                 count(l.area) OVER (PARTITION BY l.site) AS parcels
          FROM v_land l WHERE {near l.site})
    WHERE from_day <= min(until_day, CASE WHEN area IS NULL THEN coalesce(next_from - 1, 999999)
                                          ELSE 999999 END);

INSERT INTO v_span
    SELECT permission, from_day, min(until_day, coalesce(next_from - 1, 999999)), seq
    FROM (SELECT permission, from_day, until_day, seq,
                 lead(from_day) OVER (PARTITION BY permission ORDER BY from_day, seq) AS next_from
          FROM (SELECT sub AS permission, coalesce(valid_from_day, -999999) AS from_day,
                       CASE WHEN valid_until = 'until ended' THEN 999999
                            ELSE valid_until_day END AS until_day, seq
                FROM v_permission WHERE {in sub}
                UNION ALL
                SELECT permission, from_day,
                       CASE WHEN new_until_day IS NOT NULL THEN new_until_day
                            WHEN new_until = 'until ended' THEN 999999
                            WHEN what = 'ended early' THEN from_day
                            ELSE from_day END, seq
                FROM v_permission_change
                WHERE what IN ('extended', 'ended early') AND from_day IS NOT NULL AND {in permission}))
    WHERE until_day IS NOT NULL AND from_day <= min(until_day, coalesce(next_from - 1, 999999));

INSERT INTO v_stop
    SELECT c.permission, c.what, c.from_day,
           CASE WHEN c.what = 'revoked' THEN 999999
                ELSE min(coalesce(c.until_day, 999999),
                         coalesce((SELECT min(r.from_day) - 1 FROM v_permission_change r
                                   WHERE r.permission = c.permission AND r.what = 'resumed'
                                     AND r.from_day >= c.from_day), 999999)) END,
           c.seq
    FROM v_permission_change c WHERE c.what IN ('suspended', 'revoked') AND {in c.permission};
