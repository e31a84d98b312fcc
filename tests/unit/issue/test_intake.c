/* Tables taken in: all or none, once, every fault in one pass. docs/intake.md is the promise. */
#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>
#include <sys/resource.h>
#include <unistd.h>

#include <markerbed/intake.h>

#include "fileio.h"
#include "outside.h"
#include "paper.h"
#include "text.h"
#include "workbench.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])

static struct workbench b;

static void set_up(void)
{
    workbench_house(&b);
}

static void tear_down(void)
{
    outside_end();
    workbench_done(&b);
}

TestSuite(intake, .init = set_up, .fini = tear_down);

/* ---- shorthand ---- */

struct way {
    const char *map; /* text of the map; NULL: columns are fields */
    bool dry_run, split;
    size_t most_faults;
};

static enum mb_rc take(const char *table, struct way way)
{
    struct mb_intake intake = { .dry_run = way.dry_run, .split = way.split,
                                .most_faults = way.most_faults };

    b.err = (struct mb_error){ 0 };
    b.out = NULL;
    intake.path = paper_file(&b, "finds.csv", mb_str_of(table));
    if (way.map)
        intake.map_path = paper_file(&b, "finds.map.json", mb_str_of(way.map));
    return mb_intake_file(b.ledger, b.arena, &intake, &b.out, &b.err);
}

static int64_t told(const char *name)
{
    return mb_json_int(mb_json_get(b.out, name), -1);
}

/* "line|column|text" of a fault. */
static const char *fault(size_t n)
{
    const mb_json *row = mb_json_at(mb_json_get(b.out, "faults"), n);
    const char *column = mb_json_cstr(b.arena, mb_json_get(row, "column"));
    const char *text = mb_json_cstr(b.arena, mb_json_get(row, "text"));

    return row ? mb_arena_printf(b.arena, "%lld|%s|%s",
                                 (long long)mb_json_int(mb_json_get(row, "line"), -1),
                                 column ? column : "", text ? text : "")
               : "";
}

#define MAP(entries) "{\"format\":\"markerbed-map/1\",\"entries\":[" entries "]}"
#define SITE                                                                                \
    "{\"kind\":\"site\",\"subject\":\"site/C{coll}\",\"once\":true,\"fields\":{"            \
    "\"siteName\":\"{place}\",\"countryCode\":{\"from\":\"{cc}\",\"values\":{\"UK\":\"GB\"}}," \
    "\"stateProvince\":\"{state}\",\"county\":\"not known\",\"decimalLatitude\":\"{lat}\"," \
    "\"decimalLongitude\":\"{lon}\",\"geodeticDatum\":\"EPSG:4326\","                       \
    "\"coordinateSource\":\"not known\"}}"
#define ARRIVAL                                                                             \
    "{\"kind\":\"arrival\",\"subject\":\"specimen/{number|id}\",\"fields\":{"               \
    "\"receivedFrom\":\"party/P001\",\"fromLabel\":\"collector\",\"reason\":\"storage\","   \
    "\"owner\":\"party/P001\",\"objectForm\":\"single\",\"objectQuantity\":\"{pieces}\","   \
    "\"materialClass\":\"invertebrate\",\"labelLink\":\"list by number\","                  \
    "\"verbatimLabel\":\"none\",\"labelPhotos\":\"none\",\"readingSure\":\"sure\","            \
    "\"statedSite\":\"site/C{coll}\",\"statedIdentification\":\"{name}\","                  \
    "\"earlierWork\":\"not examined\",\"hazardsSeen\":\"none\","                       \
    "\"countryOfDiscovery\":{\"from\":\"{cc}\",\"values\":{\"UK\":\"GB\"}}},"               \
    "\"rest\":\"verbatimLabel\"}"
#define BOTH MAP(SITE "," ARRIVAL)
#define HEADER "coll,place,cc,state,lat,lon,number,pieces,name,drawer\r\n"

static const char good[] =
    HEADER "7,Cliff A,UK,Dorset,50.725,-2.93,A/1,1,\"ammonite, \"\"big\"\"\",left\r\n"
           "7,Cliff A,UK,Dorset,50.725,-2.93,A/2,2,,\r\n"
           "8,Quarry,US,Kansas,38.9,-100.3,B-3,1,crinoid,\"top\nshelf\"\r\n";

/* ---- taking in ---- */

Test(intake, a_row_becomes_a_site_and_a_specimen)
{
    int64_t size = workbench_size(&b);

    cr_assert_eq(take(good, (struct way){ .map = BOTH }), MB_OK, "%s\n%s", b.err.text, fault(0));
    cr_expect_eq(told("rows"), 3);
    cr_expect_eq(told("entries"), 5);
    cr_expect_eq(told("already"), 0);
    cr_expect_eq(told("faultsInAll"), 0);
    cr_expect_eq(mb_json_int(mb_json_get(mb_json_get(b.out, "kinds"), "site"), 0), 2);
    cr_expect_eq(mb_json_int(mb_json_get(mb_json_get(b.out, "kinds"), "arrival"), 0), 3);
    cr_expect_eq(workbench_size(&b), size + 5);
    cr_expect(mb_str_is(workbench_entry(&b, size).sub, "site/C7"));
    cr_expect_str_eq(workbench_field(&b, size, "countryCode", NULL), "\"GB\"", "translated");
    cr_expect_str_eq(workbench_field(&b, size, "decimalLatitude", NULL), "\"50.725\"");
    /* A/1 is no ID: the slash becomes a hyphen, and part of its hash keeps it apart from A-1 */
    cr_expect(mb_str_starts(workbench_entry(&b, size + 1).sub, "specimen/A-1-"));
    cr_expect_str_eq(workbench_field(&b, size + 1, "statedIdentification", NULL),
                     "\"ammonite, \\\"big\\\"\"");
    cr_expect_str_eq(workbench_field(&b, size + 1, "verbatimLabel", NULL), "\"drawer: left\"");
    cr_expect_str_eq(workbench_field(&b, size + 2, "statedIdentification", NULL), "",
                     "an empty cell leaves its field out");
    cr_expect_str_eq(workbench_field(&b, size + 2, "verbatimLabel", NULL),
                     "{\"answer\":\"none\"}", "nothing is left of the row");
    cr_expect(mb_str_is(workbench_entry(&b, size + 3).sub, "site/C8"));
    cr_expect(mb_str_is(workbench_entry(&b, size + 4).sub, "specimen/B-3"));
    cr_expect_str_eq(workbench_field(&b, size + 4, "verbatimLabel", NULL),
                     "\"drawer: top\\nshelf\"");
    cr_expect_str_eq(workbench_field(&b, size + 4, "batch", NULL),
                     mb_arena_printf(b.arena, "\"%s\"",
                                     mb_json_cstr(b.arena, mb_json_get(b.out, "batch"))));
    cr_expect_str_eq(workbench_verify(&b), "unknown-ledger");
}

Test(intake, the_same_file_twice_adds_nothing_and_says_so)
{
    int64_t size;

    cr_assert_eq(take(good, (struct way){ .map = BOTH }), MB_OK, "%s", fault(0));
    size = workbench_size(&b);
    cr_assert_eq(take(good, (struct way){ .map = BOTH }), MB_OK, "%s", fault(0));
    cr_expect_eq(told("entries"), 0);
    cr_expect_eq(told("already"), 3);
    cr_expect_null(mb_json_get(b.out, "batch"));
    cr_expect_eq(workbench_size(&b), size);
    /* and with one more row, just that one */
    cr_assert_eq(take(mb_arena_printf(b.arena, "%s8,Quarry,US,Kansas,38.9,-100.3,B-4,1,,\r\n",
                                      good),
                      (struct way){ .map = BOTH }),
                 MB_OK);
    cr_expect_eq(told("entries"), 1);
    cr_expect_eq(told("already"), 3);
    cr_expect_eq(workbench_size(&b), size + 1);
}

Test(intake, a_row_that_says_something_else_is_a_fault)
{
    int64_t size;

    cr_assert_eq(take(good, (struct way){ .map = BOTH }), MB_OK);
    size = workbench_size(&b);
    cr_assert_eq(take(HEADER "8,Quarry,US,Kansas,38.9,-100.3,B-3,2,crinoid,\"top\nshelf\"\r\n",
                      (struct way){ .map = BOTH }),
                 MB_REFUSED);
    cr_expect_str_eq(fault(0), "2||finds.csv: line 2: specimen/B-3 is in the ledger already and"
                               " says something else; record a correction instead of a second"
                               " arrival");
    cr_expect_eq(workbench_size(&b), size);
    /* a site that the ledger has is left as it is: `once` */
    cr_assert_eq(take(HEADER "8,Another name,US,Kansas,38.9,-100.3,B-9,2,crinoid,\r\n",
                      (struct way){ .map = BOTH }),
                 MB_OK, "%s", fault(0));
    cr_expect_eq(told("entries"), 1);
}

/* What the ledger was put right to is what the mended table says. */
Test(intake, a_row_may_say_what_a_correction_said)
{
    const char *mended =
        HEADER "8,Quarry,US,Kansas,38.9,-100.3,B-3,2,crinoid,\"top\nshelf\"\r\n";
    int64_t size;

    cr_assert_eq(take(good, (struct way){ .map = BOTH }), MB_OK);
    size = workbench_size(&b);
    workbench_must(&b, "correction", "specimen/B-3",
                   mb_arena_printf(b.arena, "target=#%lld", (long long)size - 1),
                   "action=change fields", "why=typing", "changesFacts=yes", "objectQuantity=2",
                   NULL);
    cr_assert_eq(take(mended, (struct way){ .map = BOTH }), MB_OK, "%s", fault(0));
    cr_expect_eq(told("already"), 1);
    cr_assert_eq(take(good, (struct way){ .map = BOTH }), MB_OK, "%s", fault(0));
    cr_expect_eq(told("already"), 3);
}

Test(intake, what_was_undone_can_be_taken_in_again)
{
    const char *batch;
    int64_t size;

    cr_assert_eq(take(good, (struct way){ .map = BOTH }), MB_OK);
    batch = mb_json_cstr(b.arena, mb_json_get(b.out, "batch"));
    cr_assert_eq(mb_batch_undo(b.ledger, b.arena, batch, "typing", &b.out, &b.err), MB_OK, "%s",
                 b.err.text);
    size = workbench_size(&b);
    cr_assert_eq(take(good, (struct way){ .map = BOTH }), MB_OK, "%s", fault(0));
    cr_expect_eq(told("entries"), 5);
    cr_expect_eq(told("already"), 0);
    cr_expect_eq(workbench_size(&b), size + 5);
    cr_assert_eq(take(good, (struct way){ .map = BOTH }), MB_OK, "%s", fault(0));
    cr_expect_eq(told("already"), 3);
    cr_expect_str_eq(workbench_verify(&b), "unknown-ledger");
}

/* ---- faults ---- */

static const char faulty[] =
    HEADER "7,Cliff A,UK,Dorset,50.725,-2.93,C-1,many,,\r\n"     /* 2: pieces */
           "7,Cliff A,UK,Dorset,50.725,-2.93,C-2,1,,\r\n"        /* 3: good */
           "9,Beach,XX,Dorset,50.7,-2.9,C-3,1,,\r\n"             /* 4: country */
           "7,Cliff A,UK,Dorset,50.725,-2.93,C-4,1,,,extra\r\n"  /* 5: a field too many */
           "7,Cliff A,UK,Dorset,50.725,-2.93,C-\"5,1,,\r\n"      /* 6: a quote */
           "7,Cliff A,UK,Dorset,50.725,-2.93,,1,,\r\n"           /* 7: no number */
           "7,Cliff A,UK,Dorset,50.725,-2.93,C-2,1,,\r\n"        /* 8: C-2 once more */
           "\r\n"
           "7,Cliff A,UK,Dorset,50.725,-2.93,C-8,-1,,\r\n"       /* 10: below zero */
           ",,,,,,,,,\r\n"                                       /* blank: passed over */
           "8,Quarry,US,Kansas,95.0,-100.3,C-9,1,,\r\n"          /* 12: no latitude */
           "8,Quarry,US,Kansas,38.9,-100.3,C-10,1,,\r\n";        /* 13: good, site and all */

Test(intake, every_fault_is_told_in_one_pass_with_line_and_column)
{
    int64_t size = workbench_size(&b);
    static const char *const faults[] = {
        "2|pieces|finds.csv: line 2: field objectQuantity: 'many'",
        "4|cc|finds.csv: line 4: field countryCode: 'XX'",
        "5||finds.csv: line 5: the row has 11 fields, the header 10",
        "6||finds.csv: line 6: a quote stands in the middle of a field",
        "7||finds.csv: line 7: the row does not say which subject it is about",
        "8||finds.csv: line 8: a row above says just the same of specimen/C-2; take one of them"
        " out",
        "10|pieces|finds.csv: line 10: field objectQuantity: '-1'",
        "12|lat|finds.csv: line 12: field decimalLatitude: '95.0'",
    };

    cr_assert_eq(take(faulty, (struct way){ .map = BOTH }), MB_REFUSED);
    cr_expect_eq(told("faultsInAll"), COUNT(faults), "%lld", (long long)told("faultsInAll"));
    for (size_t i = 0; i < COUNT(faults); i++)
        cr_expect(strncmp(fault(i), faults[i], strlen(faults[i])) == 0, "%zu: %s", i, fault(i));
    cr_expect_eq(told("rows"), 10);
    cr_expect(strstr(b.err.text, "finds.csv: 8 faults in 10 rows; nothing was recorded"), "%s",
              b.err.text);
    cr_expect_eq(workbench_size(&b), size);
    /* not all of them in full, if so asked */
    cr_assert_eq(take(faulty, (struct way){ .map = BOTH, .most_faults = 2 }), MB_REFUSED);
    cr_expect_eq(mb_json_get(b.out, "faults")->count, 2);
    cr_expect_eq(told("faultsInAll"), COUNT(faults));
    cr_expect_str_eq(workbench_verify(&b), "unknown-ledger");
}

Test(intake, good_and_faulty_rows_come_apart_and_add_up)
{
    const char *path;
    struct mb_str good_rows, faulty_rows;

    cr_assert_eq(take(faulty, (struct way){ .map = BOTH, .split = true }), MB_REFUSED);
    path = mb_json_cstr(b.arena, mb_json_get(b.out, "good"));
    cr_assert(path);
    cr_assert_eq(mb_file_read(b.arena, path, 1u << 20, &good_rows, NULL), MB_OK);
    path = mb_json_cstr(b.arena, mb_json_get(b.out, "faulty"));
    cr_assert_eq(mb_file_read(b.arena, path, 1u << 20, &faulty_rows, NULL), MB_OK);
    cr_expect(mb_str_is(good_rows,
                        HEADER "7,Cliff A,UK,Dorset,50.725,-2.93,C-2,1,,\r\n"
                               ",,,,,,,,,\r\n"
                               "8,Quarry,US,Kansas,38.9,-100.3,C-10,1,,\r\n"),
              "%.*s", MB_STR_ARG(good_rows));
    cr_expect(mb_str_is(faulty_rows,
                        HEADER "7,Cliff A,UK,Dorset,50.725,-2.93,C-1,many,,\r\n"
                               "9,Beach,XX,Dorset,50.7,-2.9,C-3,1,,\r\n"
                               "7,Cliff A,UK,Dorset,50.725,-2.93,C-4,1,,,extra\r\n"
                               "7,Cliff A,UK,Dorset,50.725,-2.93,C-\"5,1,,\r\n"
                               "7,Cliff A,UK,Dorset,50.725,-2.93,,1,,\r\n"
                               "7,Cliff A,UK,Dorset,50.725,-2.93,C-2,1,,\r\n"
                               "7,Cliff A,UK,Dorset,50.725,-2.93,C-8,-1,,\r\n"
                               "8,Quarry,US,Kansas,95.0,-100.3,C-9,1,,\r\n"),
              "%.*s", MB_STR_ARG(faulty_rows));
    /* the good ones can be taken by themselves */
    cr_assert_eq(take(mb_arena_copy(b.arena, good_rows.at, good_rows.len),
                      (struct way){ .map = BOTH }),
                 MB_OK, "%s", fault(0));
    cr_expect_eq(told("entries"), 4);
}

Test(intake, rows_of_standard_input_cannot_be_put_apart)
{
    struct mb_intake intake = { .path = "-", .split = true };

    cr_expect_eq(mb_intake_file(b.ledger, b.arena, &intake, &b.out, &b.err), MB_REFUSED);
    cr_expect_str_eq(b.err.text, "rows can be put apart only of a table that is a file: name it");
}

Test(intake, a_dry_run_records_nothing_and_says_the_same)
{
    int64_t size = workbench_size(&b);

    cr_assert_eq(take(good, (struct way){ .map = BOTH, .dry_run = true }), MB_OK, "%s", fault(0));
    cr_expect_eq(told("entries"), 5);
    cr_expect(mb_json_true(mb_json_get(b.out, "dryRun")));
    cr_expect_null(mb_json_get(b.out, "batch"));
    cr_expect_eq(workbench_size(&b), size);
    cr_assert_eq(take(faulty, (struct way){ .map = BOTH, .dry_run = true }), MB_REFUSED);
    cr_expect_eq(told("faultsInAll"), 8);
    cr_assert_eq(take(good, (struct way){ .map = BOTH }), MB_OK);
    cr_expect_eq(told("entries"), 5);
}

/* Of work and notes there may be any number: another table of them is no second telling of the
 * first. */
Test(intake, a_second_note_is_another_note)
{
    static const char head[] = "kind,subject,text\n";
    int64_t size = workbench_size(&b);

    cr_assert_eq(take(mb_arena_printf(b.arena, "%snote,field-day/D001,rain\n"
                                               "note,field-day/D001,rain\n",
                                      head),
                      (struct way){ 0 }),
                 MB_OK, "%s", fault(0));
    cr_expect_eq(workbench_size(&b), size + 2, "it rained twice");
    cr_assert_eq(take(mb_arena_printf(b.arena, "%snote,field-day/D001,sun\n"
                                               "note,field-day/D001,rain\n",
                                      head),
                      (struct way){ 0 }),
                 MB_OK, "%s", fault(0));
    cr_expect_eq(workbench_size(&b), size + 3);
    cr_expect_eq(told("already"), 1);
}

/* ---- without a map ---- */

Test(intake, columns_may_be_called_as_the_fields_are)
{
    static const char head[] = "kind,subject,fieldDay,recordNumber,verbatimIdentification,"
                               "objectForm,objectQuantity,quantityHow,materialClass,horizon,"
                               "inPlace,text,\n";
    int64_t size = workbench_size(&b);

    cr_assert_eq(take(mb_arena_printf(b.arena,
                                      "%scollecting,specimen/26-0201,D001,T-201,\"ammonite,"
                                      " large\",single,1,counted,invertebrate,H-A,in place,,\n"
                                      "note,specimen/26-0201,,,,,,,,,,under the stairs,\n",
                                      head),
                      (struct way){ 0 }),
                 MB_OK, "%s %s", b.err.text, fault(0));
    cr_expect_eq(workbench_size(&b), size + 2);
    cr_expect_str_eq(workbench_field(&b, size, "eventDate", NULL), "\"2026-05-30\"",
                     "the day in the field says so");
    cr_expect_str_eq(workbench_field(&b, size + 1, "text", NULL), "\"under the stairs\"");
    /* a column that is no field of the row's kind is no matter while it is empty */
    cr_assert_eq(take(mb_arena_printf(b.arena,
                                      "%snote,specimen/26-0201,,,,,,,,H-A,,upstairs,\n", head),
                      (struct way){ 0 }),
                 MB_REFUSED);
    cr_expect(strstr(fault(0), "horizon"), "%s", fault(0));
    cr_assert_eq(take("kind,subject,text\nnote,specimen/26-0201,a\nnotes,specimen/26-0201,b\n",
                      (struct way){ 0 }),
                 MB_REFUSED);
    cr_expect(strstr(fault(0), "there is no kind 'notes'; did you mean note?"), "%s", fault(0));
    cr_assert_eq(take("kind,subject,text\nnote,specimen/26-0201,a\nnote,specimen/26-0201,"
                      "\"\xE2\x80\xAE\"\n",
                      (struct way){ 0 }),
                 MB_REFUSED);
    cr_expect(strncmp(fault(0), "3|text|", 7) == 0, "%s", fault(0));
}

static const struct {
    const char *what, *table, *said;
} headers[] = {
    { "no header", "", "finds.csv: the table is empty" },
    { "neither kind nor subject", "a,b\n1,2\n",
      "the table has no columns `kind` and `subject`; name a map with --map" },
    { "a column twice", "kind,subject,text,text\n",
      "finds.csv: line 1: columns 3 and 4 are both called 'text'" },
    { "divided by semicolons", "kind;subject;text\n",
      "line 1 is one field: divide the columns by commas, not by semicolons or tabs" },
    { "divided by tabs", "kind\tsubject\n",
      "line 1 is one field: divide the columns by commas, not by semicolons or tabs" },
    { "not UTF-8", "kind,subject,J\xFCra\n", "line 1: it is not UTF-8 text" },
};

Test(intake, a_header_that_cannot_be_is_refused_in_one_sentence)
{
    for (size_t i = 0; i < COUNT(headers); i++) {
        cr_expect_eq(take(headers[i].table, (struct way){ 0 }), MB_REFUSED, "%s",
                     headers[i].what);
        cr_expect(strstr(b.err.text, headers[i].said), "%s: %s", headers[i].what, b.err.text);
        cr_expect_null(b.out);
    }
}

Test(intake, what_is_made_once_is_made_by_the_first_row_that_can)
{
    int64_t size = workbench_size(&b);

    cr_assert_eq(take(HEADER "7,Cliff A,XX,Dorset,50.725,-2.93,C-1,1,,\r\n"
                             "7,Cliff A,UK,Dorset,50.725,-2.93,C-2,1,,\r\n",
                      (struct way){ .map = BOTH }),
                 MB_REFUSED);
    cr_expect_eq(told("faultsInAll"), 1, "%s", fault(1));
    cr_expect_eq(workbench_size(&b), size);
    /* and upper and lower case are one ID */
    cr_assert_eq(take(HEADER "k,Cliff A,UK,Dorset,50.725,-2.93,C-1,1,,\r\n"
                             "K,Cliff A,UK,Dorset,50.725,-2.93,C-2,1,,\r\n",
                      (struct way){ .map = BOTH }),
                 MB_OK, "%s", fault(0));
    cr_expect_eq(told("entries"), 3);
}

/* ---- many rows ---- */

#ifdef MB_ARENA_EACH
#define LIMITED false
#else
#define LIMITED true
#endif

static size_t done_last;

static void note_progress(void *ctx, size_t done, size_t rows)
{
    size_t *calls = ctx;

    (void)rows;
    ++*calls;
    done_last = done;
}

static long resident_kib(void)
{
    struct rusage use;

    getrusage(RUSAGE_SELF, &use);
    return use.ru_maxrss;
}

Test(intake, five_thousand_rows_take_little_memory_and_tell_how_far_they_are, .timeout = 120)
{
    struct mb_intake intake = { .progress = note_progress };
    FILE *file = fopen(mb_arena_printf(b.arena, "%s/../many.csv", b.folder), "w");
    int64_t size = workbench_size(&b);
    size_t calls = 0;
    long before;

    cr_assert(file);
    fputs(HEADER, file);
    for (int i = 0; i < 5000; i++)
        fprintf(file, "%d,Cliff %d,UK,Dorset,50.%03d,-2.93,M-%04d,1,%0200d,\r\n", i / 20, i / 20,
                i / 20, i, i);
    fclose(file);
    intake.path = mb_arena_printf(b.arena, "%s/../many.csv", b.folder);
    intake.map_path = paper_file(&b, "finds.map.json", mb_str_of(BOTH));
    intake.ctx = &calls;
    before = resident_kib();
    cr_assert_eq(mb_intake_file(b.ledger, b.arena, &intake, &b.out, &b.err), MB_OK, "%s %s",
                 b.err.text, fault(0));
    cr_expect_eq(told("entries"), 5250);
    cr_expect_eq(workbench_size(&b), size + 5250);
    cr_expect_geq(calls, 5);
    cr_expect_geq(done_last, 4500);
    /* Under a sanitizer the memory is the sanitizer's own and says nothing. */
    cr_expect(!LIMITED || resident_kib() - before < 48 * 1024, "%ld KiB more",
              resident_kib() - before);
    cr_expect_str_eq(workbench_verify(&b), "unknown-ledger");
}
