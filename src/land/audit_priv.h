/* What the files of the audit share. Private to src/land. */
#ifndef MB_AUDIT_PRIV_H
#define MB_AUDIT_PRIV_H

#include <markerbed/audit.h>

#include "landsql.h"
#include "rule.h"
#include "views.h"

enum { FINDINGS_MOST = 60000, TOGETHER_MOST = 100, FEW_SPECIMENS = 60, FEW_NAMES = 24 };

struct mb_audited {
    const struct mb_rule *rule;
    enum mb_weight severity;
    bool fails; /* does not fit; else cannot tell */
    struct mb_str reason, subject, sentence, together, many, site, permission, whom;
    mb_json *entries, *subjects;
    int64_t count;
    struct mb_audited *next; /* of all */
    struct mb_audited *chain; /* of the same hash */
};

struct mb_why {
    struct mb_str reason;
    int64_t count;
    struct mb_why *next;
};

/* What one rule came to. */
struct mb_tally {
    const struct mb_rule *rule;
    mb_stmt *stmt;
    bool by_name; /* it asks for the few names that are bound to it, not for all of v_scope */
    int64_t fits, fails, untold;
    struct mb_why *why;
};

#define MB_HEAPS 4096

struct mb_audit {
    mb_ledger *ledger;
    mb_arena *arena;
    const struct mb_audit_ask *ask;
    struct mb_views views;
    mb_db *db; /* = views.db */
    mb_landsql *sql;
    struct mb_rules rules;
    struct mb_tally *tallies; /* one a rule, in their order */
    bool scoped;    /* v_scope says what is looked at; else everything is */
    struct mb_str few[FEW_NAMES]; /* what v_scope holds, where few_count is no more than that */
    size_t few_count;
    bool casual;    /* a find in question rests on the rule of the land alone */
    bool one_by_one; /* nothing is put together */
    int64_t specimens, entries, today;
    struct mb_audited *first, *last;
    size_t listed;
    int64_t more;
    struct mb_audited *heaps[MB_HEAPS];
};

/* ---- audit_tables.c: what rules may read beside the views ---- */
MB_CHECK enum mb_rc mb_audit_tables(struct mb_audit *a, struct mb_error *err);
/* Fills them for what v_scope says, once it says so. */
MB_CHECK enum mb_rc mb_audit_fill(struct mb_audit *a, struct mb_error *err);
void mb_audit_tables_drop(struct mb_audit *a);

/* ---- audit_scope.c ---- */
/* Fills v_scope for what is asked. */
MB_CHECK enum mb_rc mb_audit_scope(struct mb_audit *a, struct mb_error *err);
/* The same for one specimen and what it came out of. */
MB_CHECK enum mb_rc mb_audit_scope_one(struct mb_audit *a, struct mb_str specimen,
                                       struct mb_error *err);
mb_json *mb_audit_scope_json(struct mb_audit *a);
/* Lots, divisions, joinings, losses: how many; entries that were struck out, one by one. */
MB_CHECK enum mb_rc mb_audit_contains(struct mb_audit *a, mb_json *out, struct mb_error *err);
MB_CHECK enum mb_rc mb_audit_struck_out(struct mb_audit *a, mb_json *out, struct mb_error *err);
MB_CHECK enum mb_rc mb_audit_left_out(struct mb_audit *a, mb_json *out, struct mb_error *err);

/* ---- audit_run.c ---- */
MB_CHECK enum mb_rc mb_audit_rules(struct mb_audit *a, const char *folder, struct mb_error *err);
/* Runs all rules over the scope; findings and tallies are added up. */
MB_CHECK enum mb_rc mb_audit_run(struct mb_audit *a, struct mb_error *err);
void mb_audit_run_done(struct mb_audit *a); /* frees the statements */
/* The sentence of a row: "{column}" is replaced by what stands in it. */
struct mb_str mb_audit_say(struct mb_audit *a, mb_stmt *row, struct mb_str pattern);

/* ---- audit_standing.c ---- */
MB_CHECK enum mb_rc mb_audit_standing(struct mb_audit *a, struct mb_str specimen, mb_json *out,
                                      struct mb_error *err);

/* ---- audit_accounts.c, audit_places.c ---- */
MB_CHECK enum mb_rc mb_audit_accounts(struct mb_audit *a, mb_json *out, struct mb_error *err);
MB_CHECK enum mb_rc mb_audit_sites(struct mb_audit *a, mb_json *out, struct mb_error *err);
MB_CHECK enum mb_rc mb_audit_timeline(struct mb_audit *a, mb_json *out, struct mb_error *err);

/* A statement of the audit's own, with up to two texts bound (NULL .at: none). */
MB_CHECK enum mb_rc mb_audit_ask_sql(struct mb_audit *a, const char *sql, struct mb_str one,
                                     struct mb_str two, mb_stmt **out, struct mb_error *err);
/* Runs one that answers nothing, or one number. */
MB_CHECK enum mb_rc mb_audit_do(struct mb_audit *a, const char *sql, struct mb_str one,
                                struct mb_str two, int64_t *number, struct mb_error *err);

#endif
