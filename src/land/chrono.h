/*
 * Geological time by the International Chronostratigraphic Chart: names to ages and back.
 *
 * The chart is data (schema/vocab/chrono-ages.tsv, which says whose it is and which version).
 * Ages are millions of years before present (Ma), kept as the chart prints them; where it states no
 * uncertainty there is none to be had, which is not zero. The version belongs beside every age: a
 * newer chart must not rewrite what was said by an older one.
 *
 * Names: of any rank, for rock or for time (Upper Cretaceous, Late Cretaceous), capitals or not,
 * with or without the word for the rank (Campanian Stage), with ae for e (Palaeogene). "upper
 * Campanian" and the like are informal: the chart does not divide the Campanian, so the ages are
 * those of the whole unit and `part` keeps the word.
 */
#ifndef MB_CHRONO_H
#define MB_CHRONO_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <markerbed/arena.h>

/* From the widest to the narrowest. */
enum mb_chrono_rank {
    MB_CHRONO_SUPEREON,
    MB_CHRONO_EON,
    MB_CHRONO_ERA,
    MB_CHRONO_PERIOD,
    MB_CHRONO_SUBPERIOD,
    MB_CHRONO_EPOCH,
    MB_CHRONO_AGE /* a stage, for rock */
};

/* Millions of years before present. */
struct mb_chrono_age {
    const char *ma;          /* as the chart, or the user, writes it: 83.6 */
    const char *uncertainty; /* plus or minus; NULL where none is stated */
    bool uncertain;          /* the chart prints it with ~ */
    int64_t ma_nano;         /* ma * 10^9, to compare and sum */
};

struct mb_chrono_unit {
    const char *id;           /* UpperCretaceous; the table says how to make an IRI of it */
    enum mb_chrono_rank rank; /* Pridoli, epoch and age in one, counts as an epoch */
    bool stage_too;           /* Pridoli */
    const char *rock_name, *time_name;
    const char *rock_rank, *time_rank; /* "stage", "age" */
    const struct mb_chrono_unit *parent;
    struct mb_chrono_age base, top;
    bool gssp, gssa; /* what defines the base; neither: not yet defined */
    const char *colour;     /* #A6D84A */
    const char *short_code; /* of the map commission; may be empty */
};

typedef struct mb_chrono mb_chrono;

/* The chart that is built in. MB_UNABLE if it is damaged. */
MB_CHECK enum mb_rc mb_chrono_open(mb_arena *arena, mb_chrono **out, struct mb_error *err);
/* From a text of the same form, which must live as long as the chart. MB_REFUSED with the line. */
MB_CHECK enum mb_rc mb_chrono_read(mb_arena *arena, struct mb_str table, mb_chrono **out,
                                   struct mb_error *err);
const char *mb_chrono_version(const mb_chrono *chart); /* 2024-12 */
size_t mb_chrono_count(const mb_chrono *chart);
const struct mb_chrono_unit *mb_chrono_at(const mb_chrono *chart, size_t i); /* from the youngest */

/* MB_REFUSED for a name that the chart does not have, with what was probably meant. *part (may be
 * NULL) gets the informal word before it, in the arena, or NULL. */
MB_CHECK enum mb_rc mb_chrono_find(mb_arena *arena, const mb_chrono *chart, struct mb_str name,
                                   const struct mb_chrono_unit **out, const char **part,
                                   struct mb_error *err);
/* The unit itself or the one above it of that rank; NULL if there is none. */
const struct mb_chrono_unit *mb_chrono_above(const struct mb_chrono_unit *unit,
                                             enum mb_chrono_rank rank);
/* The narrowest unit at an age in billionths of Ma; a boundary belongs to the younger unit, whose
 * base it is. NULL before the oldest. */
const struct mb_chrono_unit *mb_chrono_when(const mb_chrono *chart, int64_t ma_nano);

/* A span of time between an oldest and a youngest bound, each a name or a number of Ma. */
struct mb_chrono_bound {
    const struct mb_chrono_unit *unit; /* by name: the unit; by number: the narrowest at it */
    const char *part;                  /* informal word before a name, or NULL */
    bool numeric;
    struct mb_chrono_age age; /* oldest: base of the unit, or the number; youngest: top, number */
};
struct mb_chrono_span {
    struct mb_chrono_bound oldest, youngest;
    const char *version; /* of the chart */
};
/* Reads "Campanian", "75.5", "75.5 +/- 0.3 Ma", "12 ka"; youngest may be empty and is then the same
 * as oldest. For numbers the units are those at the outer ends of the stated uncertainties.
 * MB_REFUSED where the youngest is older than the oldest, naming both. */
MB_CHECK enum mb_rc mb_chrono_span(mb_arena *arena, const mb_chrono *chart, struct mb_str oldest,
                                   struct mb_str youngest, struct mb_chrono_span *out,
                                   struct mb_error *err);
/* "83.6 +/- 0.2 Ma" (with the sign for it), "~237 Ma". */
char *mb_chrono_age_text(mb_arena *arena, const struct mb_chrono_age *age);

#endif
