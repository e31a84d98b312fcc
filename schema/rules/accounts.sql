-- Adds up quantities. What is divided or joined later was added when it was collected.

INSERT INTO v_limit
    SELECT NULL, l.permission, NULL, NULL, l.amount, l.unit,
           CASE WHEN l.unit = 'piece' THEN CAST(l.amount AS INTEGER)
                ELSE micrograms(l.amount, l.unit) END,
           l.per, coalesce(l.whose, 'all together'), l.matrix_counted,
           EXISTS (SELECT 1 FROM v_regime r
                   WHERE r.act = 'limit' AND r.plus_piece = 1 AND r.amount = l.amount
                     AND r.unit = l.unit AND r.per = l.per
                     AND p.permission_type = 'free-use allowance'),
           coalesce((SELECT r.citation FROM v_regime r
                     WHERE r.act = 'limit' AND r.amount = l.amount AND r.unit = l.unit
                       AND r.per = l.per AND r.says =
                           CASE p.permission_type WHEN 'free-use allowance' THEN 'free use'
                                WHEN 'casual-use allowance' THEN 'casual' END
                       AND r.category IN (SELECT g.category FROM v_permission_site s
                                          JOIN v_ground g ON g.site = s.site
                                          WHERE s.permission = p.sub) LIMIT 1), '')
    FROM v_permission_limit l JOIN v_permission p ON p.sub = l.permission
    WHERE l.amount IS NOT NULL AND l.unit IS NOT NULL AND l.per IS NOT NULL
      AND {in l.permission};

INSERT INTO v_limit
    SELECT NULL, NULL, id, material, amount, unit, micrograms(amount, unit), per, 'each person',
           NULL, plus_piece, citation
    FROM v_regime WHERE act = 'limit' GROUP BY id, material, amount, unit, per;

-- Finds under a permission's own limits, whoever took them.
INSERT INTO v_addend
    SELECT l.id, '', CASE l.per WHEN 'day' THEN f.event_date
                                WHEN 'year' THEN strftime('%Y', f.day_first * 86400, 'unixepoch')
                                ELSE 'in all' END,
           CASE l.per WHEN 'day' THEN f.day_last - f.day_first + 1
                      WHEN 'year' THEN strftime('%Y', f.day_last * 86400, 'unixepoch')
                                       - strftime('%Y', f.day_first * 86400, 'unixepoch') + 1
                      ELSE 1 END,
           f.sub, f.seq, f.permission, f.site,
           CASE WHEN l.unit = 'piece' THEN f.quantity
                WHEN l.matrix_counted = 'no' AND f.with_matrix = 'yes' THEN 0
                ELSE micrograms(f.mass, f.mass_unit) END,
           CASE WHEN l.unit = 'piece' THEN f.quantity ELSE micrograms(f.mass, f.mass_unit) END,
           f.quantity, 0
    FROM v_limit l JOIN v_find f ON f.permission = l.permission
    WHERE l.whose <> 'each person' AND f.day_first IS NOT NULL;

-- The same, person by person. What several took together may be anybody's share of it.
INSERT INTO v_addend
    SELECT l.id, c.party, CASE l.per WHEN 'day' THEN f.event_date
                                WHEN 'year' THEN strftime('%Y', f.day_first * 86400, 'unixepoch')
                                ELSE 'in all' END,
           CASE l.per WHEN 'day' THEN f.day_last - f.day_first + 1
                      WHEN 'year' THEN strftime('%Y', f.day_last * 86400, 'unixepoch')
                                       - strftime('%Y', f.day_first * 86400, 'unixepoch') + 1
                      ELSE 1 END,
           f.sub, f.seq, f.permission, f.site,
           CASE WHEN EXISTS (SELECT 1 FROM v_collector o WHERE o.seq = f.seq AND o.n > 0) THEN 0
                WHEN l.unit = 'piece' THEN f.quantity
                WHEN l.matrix_counted = 'no' AND f.with_matrix = 'yes' THEN 0
                ELSE micrograms(f.mass, f.mass_unit) END,
           CASE WHEN l.unit = 'piece' THEN f.quantity ELSE micrograms(f.mass, f.mass_unit) END,
           f.quantity, 0
    FROM v_limit l JOIN v_find f ON f.permission = l.permission
    JOIN v_collector c ON c.seq = f.seq
    WHERE l.whose = 'each person' AND c.party LIKE 'party/%' AND f.day_first IS NOT NULL;

-- Under a regime: every casual find on land of its categories, wherever.
INSERT INTO v_addend
    SELECT l.id, c.party, CASE l.per WHEN 'day' THEN f.event_date
                                WHEN 'year' THEN strftime('%Y', f.day_first * 86400, 'unixepoch')
                                ELSE 'in all' END,
           CASE l.per WHEN 'day' THEN f.day_last - f.day_first + 1
                      WHEN 'year' THEN strftime('%Y', f.day_last * 86400, 'unixepoch')
                                       - strftime('%Y', f.day_first * 86400, 'unixepoch') + 1
                      ELSE 1 END,
           f.sub, f.seq, f.permission, f.site,
           CASE WHEN EXISTS (SELECT 1 FROM v_collector o WHERE o.seq = f.seq AND o.n > 0) THEN 0
                ELSE micrograms(f.mass, f.mass_unit) END,
           micrograms(f.mass, f.mass_unit), f.quantity,
           EXISTS (SELECT 1 FROM v_permission_limit q
                   WHERE q.permission = f.permission AND q.amount = l.amount AND q.unit = l.unit
                     AND q.per = l.per)
    FROM v_casual k CROSS JOIN v_find f ON f.seq = k.seq
    CROSS JOIN v_limit l ON l.regime IS NOT NULL AND (l.material IS NULL OR l.material = f.material_class)
    CROSS JOIN v_collector c ON c.seq = f.seq
    WHERE c.party LIKE 'party/%' AND f.day_first IS NOT NULL
      AND (k.kind = 'free use') = (l.material IS NOT NULL AND l.material = 'petrified wood')
      AND EXISTS (SELECT 1 FROM v_find_ground w JOIN v_regime r ON r.category = w.category
                  WHERE w.seq = f.seq AND w.holds <> 'no' AND r.id = l.regime
                    AND f.day_first BETWEEN r.from_day AND r.until_day);

-- What a person took on a field-day over what the finds of that day weigh.
INSERT INTO v_addend
    SELECT l.id, CASE l.whose WHEN 'each person' THEN t.party ELSE '' END,
           CASE l.per WHEN 'day' THEN d.event_date
                      WHEN 'year' THEN strftime('%Y', d.day_first * 86400, 'unixepoch')
                      ELSE 'in all' END,
           CASE l.per WHEN 'day' THEN d.day_last - d.day_first + 1 ELSE 1 END,
           d.sub, d.seq, d.permission, d.site, t.over, t.over, NULL, 0
    FROM v_limit l JOIN v_field_day d ON d.permission = l.permission
    JOIN (SELECT w.field_day, w.party,
                 CASE WHEN w.mass IS NULL THEN NULL
                      ELSE max(0, micrograms(w.mass, w.unit) -
                 coalesce((SELECT sum(coalesce(micrograms(f.mass, f.mass_unit), 0))
                  FROM v_field_day y JOIN v_find f ON f.site = y.site AND f.field_day = y.sub
                  JOIN v_collector c ON c.seq = f.seq AND c.party = w.party
                  WHERE y.sub = w.field_day AND f.material_class = w.material), 0)) END AS over
          FROM v_took w) t ON t.field_day = d.sub
    WHERE l.unit <> 'piece' AND (t.over IS NULL OR t.over > 0);
-- A find without a mass is told by what was taken that day, where that is recorded.
UPDATE v_addend SET least = 0, most = 0
WHERE most IS NULL AND EXISTS (
    SELECT 1 FROM v_find f JOIN v_took w ON w.field_day = f.field_day
    WHERE f.seq = v_addend.seq AND w.material = f.material_class AND w.mass IS NOT NULL
      AND (v_addend.party = '' OR w.party = v_addend.party));

CREATE INDEX IF NOT EXISTS temp.v_addend_limit ON v_addend (limit_id, party, span);
