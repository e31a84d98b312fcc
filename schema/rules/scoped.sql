-- What is looked at, drawn from the views. "{in X}" is whether X is looked at; "{near X}" is the
-- same, but everything where a find in question is a casual one, whose limits run over all land;
-- "{own X}" is "1" but where one piece is looked at, whatever else was found on its site.

INSERT INTO v_season
    SELECT permission, site, min(day_first), max(day_last), count(*) FROM v_find
    WHERE {in site} AND {own sub} GROUP BY permission, site;

INSERT INTO v_casual
    SELECT f.seq, f.sub, f.permission,
           CASE p.permission_type WHEN 'free-use allowance' THEN 'free use' ELSE 'casual' END
    FROM v_permission p JOIN v_find f ON f.permission = p.sub
    WHERE p.permission_type IN ('casual-use allowance', 'free-use allowance') AND {near f.sub};
INSERT INTO v_casual
    SELECT f.seq, f.sub, NULL,
           CASE f.material_class WHEN 'petrified wood' THEN 'free use' ELSE 'casual' END
    FROM v_find f
    WHERE (f.permission IS NULL OR f.permission IN ('none', 'not needed')) AND {near f.sub}
      AND EXISTS (SELECT 1 FROM v_find_ground w
                  WHERE w.seq = f.seq AND w.federal = 1 AND w.holds = 'yes');

INSERT INTO v_sale_act
    SELECT sub, day, seq, CASE manner WHEN 'sale' THEN 'a sale' ELSE 'an exchange' END
    FROM v_title WHERE manner IN ('sale', 'exchange') AND {in sub}
    UNION ALL
    SELECT sub, handed_day, seq, CASE reason WHEN 'sale' THEN 'it handed over for a sale'
                                             ELSE 'a consignment' END
    FROM v_custody WHERE reason IN ('sale', 'consignment') AND {in sub}
    UNION ALL
    SELECT p.specimen, d.opened_day, d.seq, CASE d.dealing_type WHEN 'sale' THEN 'a sale'
                                                 ELSE 'a consignment' END
    FROM v_dealing_piece p JOIN v_dealing d ON p.dealing = d.sub
    WHERE d.dealing_type IN ('sale', 'consignment') AND {in p.specimen}
    UNION ALL
    SELECT sub, day, seq, 'a sheet for a buyer' FROM v_certificate
    WHERE audience = 'buyer' AND {in sub}
    UNION ALL
    SELECT sub, day, NULL, what FROM v_planned;

INSERT OR IGNORE INTO v_origin
    SELECT a.sub, f.seq FROM v_sale_act a JOIN v_find f ON f.sub = a.sub;
INSERT OR IGNORE INTO v_origin
    SELECT t.sub, f.seq FROM v_title t JOIN v_find f ON f.sub = t.sub WHERE {in t.sub};
INSERT OR IGNORE INTO v_origin
    SELECT d.sub, f.seq FROM v_document d JOIN v_find f ON f.sub = d.sub
    WHERE d.doc_type = 'gift paper' AND {in d.sub};
INSERT OR IGNORE INTO v_origin
    SELECT d.sub, f.seq FROM v_derived d JOIN v_find f ON f.sub = d.root;
