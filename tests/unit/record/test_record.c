/* Recording from a person's side: what is typed, what is filled in, what stands in the log. */
#include <criterion/criterion.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "fileio.h"
#include "text.h"
#include "workbench.h"

static struct workbench b;

static void set_up(void)
{
    workbench_house(&b);
}

static void tear_down(void)
{
    workbench_done(&b);
}

TestSuite(record, .init = set_up, .fini = tear_down);

#define FIELD(seq, name, json) \
    cr_assert_str_eq(workbench_field(&b, seq, name, NULL), json, "%s is %s", name, \
                     workbench_field(&b, seq, name, NULL))

/* A find with everything said that no source says. */
#define FIND(id, ...) \
    workbench_must(&b, "collecting", id, "recordNumber=T-118", \
                   "verbatimIdentification=crinoid slab", "objectQuantity=1", "objectForm=slab", \
                   "quantityHow=counted", "materialClass=invertebrate", "horizon=H-A", \
                   "inPlace=in place", __VA_ARGS__, NULL)

static const mb_json *filled(const char *name)
{
    return mb_json_get(mb_json_get(b.out, "filled"), name);
}

static bool warned(const char *part)
{
    MB_JSON_EACH(one, mb_json_get(b.out, "warnings"))
    {
        const char *text = mb_json_cstr(b.arena, one);

        if (strstr(text, part))
            return true;
    }
    return false;
}

/* ---- filling in ---- */

Test(record, a_find_takes_three_answers_once_the_first_of_the_day_is_in)
{
    int64_t seq;

    cr_assert_eq(mb_setting(b.ledger, b.arena, "fieldDay", "D001", &b.err), MB_OK, "%s",
                 b.err.text);
    FIND("26-0115", "remarks=first");
    seq = workbench_must(&b, "collecting", "26-0116", "recordNumber=T-119",
                         "verbatimIdentification=fish, big", "objectQuantity=2", NULL);
    FIELD(seq, "fieldDay", "{\"ref\":\"field-day/D001\"}");
    FIELD(seq, "eventDate", "\"2026-05-30\"");
    FIELD(seq, "site", "{\"ref\":\"site/S001\"}");
    FIELD(seq, "permission", "{\"ref\":\"permission/L001\"}");
    FIELD(seq, "recordedBy", "[{\"ref\":\"party/P003\"},{\"ref\":\"party/P001\"}]");
    FIELD(seq, "tools", "[\"hand tools\"]");
    FIELD(seq, "purpose", "\"commercial\"");
    FIELD(seq, "horizon", "{\"ref\":\"horizon/H-A\"}");
    FIELD(seq, "inPlace", "\"in place\"");
    FIELD(seq, "objectForm", "\"slab\"");
    FIELD(seq, "quantityHow", "\"counted\"");
    FIELD(seq, "objectQuantity", "2");
    FIELD(seq, "fieldTreatment", "{\"answer\":\"not known\"}");
    FIELD(seq, "madeFrom", "\"own observation\"");
    FIELD(seq, "remarks", "");
    cr_assert(filled("site"));
    cr_assert(filled("objectForm"));
    cr_assert_null(filled("objectQuantity"));
}

Test(record, nothing_of_last_time_is_taken_to_another_place)
{
    FIND("26-0115", "fieldDay=D001");
    workbench_must(&b, "site", "S002", "siteName=Gannet Flat", "countryCode=US",
                   "stateProvince=Kansas", "county=Logan", "decimalLatitude=not known",
                   "decimalLongitude=not known", NULL);
    cr_assert_eq(workbench_record(&b, "collecting", "26-0116", "site=S002", "recordNumber=T-119",
                                  "verbatimIdentification=fish", "objectQuantity=2", NULL),
                 MB_REFUSED);
    cr_assert_str_eq(b.err.text,
                     "still missing: horizon (or 'not known'), inPlace, permission (or 'none'),"
                     " objectForm, quantityHow (or 'not known'), materialClass; see `markerbed"
                     " record collecting --help`");
}

Test(record, a_corrected_day_fills_in_what_it_says_now)
{
    int64_t day = workbench_must(&b, "correction", "field-day/D001", "target=#8",
                                 "action=change fields", "why=typing", "eventDate=2026-05-29",
                                 NULL);
    int64_t seq = FIND("26-0115", "fieldDay=D001");

    FIELD(day, "changesFacts", "\"no\"");
    FIELD(seq, "eventDate", "\"2026-05-29\"");
}

Test(record, a_sitting_at_the_bench_takes_one_line)
{
    int64_t seq;

    FIND("26-0115", "fieldDay=D001");
    FIND("26-0116", "fieldDay=D001");
    seq = workbench_must(&b, "preparation", "26-0115", "steps=method:airscribe; where:left margin",
                         "lostInWork=none", NULL);
    FIELD(seq, "preparedBy", "[{\"ref\":\"party/P001\"}]");
    FIELD(seq, "preparationDate", "\"2026-06-01\"");
    FIELD(seq, "whose", "\"our work\"");
    seq = workbench_must(&b, "preparation", "26-0115", "lostInWork=tip of arm 7, 2 mm", NULL);
    FIELD(seq, "steps", "[{\"method\":\"airscribe\",\"where\":\"left margin\"}]");
    cr_assert(filled("steps"));
    cr_assert_eq(workbench_record(&b, "preparation", "26-0116", "lostInWork=none", NULL),
                 MB_REFUSED, "work on one piece is not work on another");
    cr_assert_str_eq(b.err.text, "still missing: steps; see `markerbed record preparation"
                                 " --help`");
}

Test(record, what_was_voided_is_no_last_time)
{
    int64_t seq = FIND("26-0115", "fieldDay=D001");

    workbench_must(&b, "correction", "specimen/26-0115",
                   mb_arena_printf(b.arena, "target=#%lld", (long long)seq),
                   "action=void (did not happen)", "why=typing", NULL);
    cr_assert_eq(workbench_record(&b, "collecting", "26-0116", "fieldDay=D001",
                                  "recordNumber=T-1", "verbatimIdentification=x",
                                  "objectQuantity=1", NULL),
                 MB_REFUSED);
    /* and the number is free again */
    FIND("26-0115", "fieldDay=D001");
}

Test(record, a_word_keeps_a_field_from_being_filled_in)
{
    int64_t seq = FIND("26-0115", "fieldDay=D001");

    seq = workbench_must(&b, "preparation", "26-0115", "steps=method:needle", "lostInWork=none",
                         "magnification=10x", NULL);
    FIELD(seq, "magnification", "\"10x\"");
    seq = workbench_must(&b, "preparation", "26-0115", "lostInWork=none",
                         "magnification=(remove)", NULL);
    FIELD(seq, "magnification", "");
}

Test(record, the_day_is_the_calendars_where_the_machine_stands)
{
    int64_t seq;

    FIND("26-0115", "fieldDay=D001");
    setenv("TZ", "UTC+13", 1); /* thirteen hours behind: there it is still the day before */
    seq = workbench_must(&b, "preparation", "26-0115", "steps=method:needle", "lostInWork=none",
                         NULL);
    FIELD(seq, "preparationDate", "\"2026-05-31\"");
    setenv("TZ", "UTC", 1);
}

Test(record, keeper_and_owner_follow_from_the_record)
{
    int64_t seq;

    workbench_must(&b, "arrival", "26-0200", "receivedFrom=P002", "fromLabel=client",
                   "reason=preparation", "owner=P003", "objectForm=slab", "objectQuantity=1",
                   "materialClass=invertebrate", "verbatimLabel=none", "labelLink=no label",
                   "hazardsSeen=none", "countryOfDiscovery=US", NULL);
    seq = workbench_must(&b, "custody", "26-0200", "to=P002", "toLabel=client",
                         "reason=consignment", "capacity=agent", "acknowledged=by message",
                         "receipt=none", "fromCountry=US", "toCountry=US", NULL);
    FIELD(seq, "from", "{\"ref\":\"party/P001\"}");
    FIELD(seq, "fromLabel", "\"us\"");
    seq = workbench_must(&b, "custody", "26-0200", "to=P001", "toLabel=us", "reason=consignment",
                         "capacity=agent", "acknowledged=by message", "receipt=none",
                         "fromCountry=US", "toCountry=US", NULL);
    FIELD(seq, "from", "{\"ref\":\"party/P002\"}");
    FIELD(seq, "fromLabel", "\"client\"");
    seq = workbench_must(&b, "title", "26-0200", "to=P001", "fromLabel=client", "toLabel=us",
                         "manner=sale", "basis=none", "conditions=none",
                         "acknowledged=one side only", NULL);
    FIELD(seq, "from", "{\"ref\":\"party/P003\"}");
    FIELD(seq, "part", "\"all\"");
}

Test(record, a_coarse_place_is_worked_out_once)
{
    int64_t seq = workbench_must(
        &b, "site", "S002", "siteName=Long Table", "countryCode=US", "stateProvince=Kansas",
        "county=Gove", "decimalLatitude=-0.05", "decimalLongitude=100.31442",
        "geodeticDatum=EPSG:4326", "coordinateSource=map", "placeFinestAllowed=1 km", NULL);

    FIELD(seq, "coarsePlace", "\"cell 0.1 S 100.3 E\"");
    seq = workbench_must(&b, "site", "S003", "siteName=Long Table", "countryCode=US",
                         "stateProvince=Kansas", "county=Gove", "decimalLatitude=38.94127",
                         "decimalLongitude=-100.31442", "geodeticDatum=EPSG:4326",
                         "coordinateSource=map", NULL);
    FIELD(seq, "coarsePlace", ""); /* nobody asked: the finest place allowed is the county */
}

Test(record, a_default_is_checked_when_it_is_set)
{
    static const char *const wrong[][3] = {
        { "pourpose", "x", "no form asks for a default called 'pourpose' (did you mean purpose?)" },
        { "purpose", "profit", "purpose: 'profit' is none of its values" },
        { "fieldDay", "D009", "fieldDay: unknown field-day/D009 (did you mean D001?)" },
        { "keeper", "P009", "keeper: unknown party/P009" },
        { "fieldDay", "a\nb", "the default for fieldDay must be one line of plain text" },
    };

    for (size_t i = 0; i < sizeof wrong / sizeof *wrong; i++) {
        struct mb_error err = { 0 };

        cr_expect_eq(mb_setting(b.ledger, b.arena, wrong[i][0], wrong[i][1], &err), MB_REFUSED);
        cr_expect(strncmp(err.text, wrong[i][2], strlen(wrong[i][2])) == 0, "%s", err.text);
    }
}

Test(record, a_default_that_no_longer_fits_says_where_it_stands)
{
    const char *path = mb_arena_printf(b.arena, "%s/settings.json", b.folder);

    cr_assert_eq(mb_file_write(path,
                               MB_STR("{\"everybody\":{\"purpose\":\"profit\"},"
                                      "\"format\":\"markerbed-settings/1\"}"),
                               0644, &b.err),
                 MB_OK);
    workbench_must(&b, "site", "S002", "siteName=Gannet Flat", "countryCode=US",
                   "stateProvince=Kansas", "county=Logan", "decimalLatitude=not known",
                   "decimalLongitude=not known", NULL);
    cr_assert_eq(workbench_record(&b, "field-day", "D003", "site=S002", "permission=L001",
                                  "present=party:P001; role:named", "tools=hand tools", NULL),
                 MB_REFUSED);
    cr_assert(strstr(b.err.text, "field purpose: your default for purpose (change it with"
                                 " `markerbed setting`): 'profit' is none of its values"),
              "%s", b.err.text);
    workbench_must(&b, "field-day", "D003", "site=S002", "permission=L001", "purpose=research",
                   "present=party:P001; role:named", "tools=hand tools", NULL);
}

Test(record, a_default_is_a_persons_own)
{
    int64_t seq;

    cr_assert_eq(mb_setting(b.ledger, b.arena, "countryCode", "US", &b.err), MB_OK);
    cr_assert_eq(mb_setting(b.ledger, b.arena, "stateProvince", "Kansas", &b.err), MB_OK);
    seq = workbench_must(&b, "site", "S002", "siteName=Gannet Flat", "county=Logan",
                         "decimalLatitude=not known", "decimalLongitude=not known", NULL);
    FIELD(seq, "countryCode", "\"US\"");
    cr_assert_eq(mb_setting(b.ledger, b.arena, "countryCode", "", &b.err), MB_OK);
    cr_assert_eq(workbench_record(&b, "site", "S003", "siteName=Long Table", "county=Logan",
                                  "decimalLatitude=not known", "decimalLongitude=not known",
                                  NULL),
                 MB_REFUSED);
    cr_assert_str_eq(b.err.text,
                     "still missing: countryCode (or 'not known'); see `markerbed record site "
                     "--help`");
}

/* ---- what stands in the log ---- */

Test(record, each_field_is_in_the_class_of_its_form)
{
    int64_t seq = FIND("26-0115", "fieldDay=D001"), second;
    struct mb_entry entry;
    enum mb_class in;
    size_t elements = 0;

    second = workbench_must(&b, "collecting", "26-0116", "recordNumber=T-119",
                            "verbatimIdentification=x", "objectQuantity=1", "fieldDay=D001",
                            "foundWith=26-0115", "container=flat 3", "mass=1 kg",
                            "massHow=weighed", "massWithMatrix=no", NULL);
    workbench_field(&b, second, "objectForm", &in);
    cr_assert_eq(in, MB_OPEN);
    workbench_field(&b, second, "site", &in);
    cr_assert_eq(in, MB_SALE);
    workbench_field(&b, second, "recordNumber", &in);
    cr_assert_eq(in, MB_SCIENCE);
    workbench_field(&b, second, "mass", &in);
    cr_assert_eq(in, MB_LAND);
    workbench_field(&b, second, "container", &in);
    cr_assert_eq(in, MB_PRIVATE);
    entry = workbench_entry(&b, second);
    for (size_t i = 0; i < entry.slot_count; i++)
        elements += entry.slots[i].element;
    cr_assert_eq(elements, 1, "foundWith is salted element by element");
    FIELD(second, "foundWith", "[{\"ref\":\"specimen/26-0115\"}]");
    cr_assert_eq(workbench_entry(&b, seq).nth, 0);
}

Test(record, an_id_is_one_in_capitals_and_small_letters)
{
    int64_t seq = FIND("hv-26-1", "fieldDay=D001");

    seq = workbench_must(&b, "note", "specimen/HV-26-1", "text=ask again", NULL);
    cr_assert_eq(workbench_entry(&b, seq).nth, 1);
    cr_assert(mb_json_text_is(mb_json_get(b.out, "subject"), "specimen/hv-26-1"));
    cr_assert_eq(workbench_record(&b, "collecting", "Hv-26-1", NULL), MB_REFUSED);
    cr_assert(strstr(b.err.text, "recorded already"), "%s", b.err.text);
}

Test(record, an_id_that_tells_is_pointed_out)
{
    workbench_must(&b, "site", "Gannet-1", "siteName=Gannet Flat", "countryCode=US",
                   "stateProvince=Kansas", "county=Logan", "decimalLatitude=not known",
                   "decimalLongitude=not known", NULL);
    cr_assert(warned("the ID 'Gannet-1' gives away the name 'Gannet'"));
    cr_assert(warned("S002 would say nothing"), "the next free number is offered");
    FIND("SALLOW-0115", "fieldDay=D001");
    cr_assert(warned("gives away the name 'Sallow'"));
    FIND("26-0115", "fieldDay=D001");
    cr_assert_not(warned("gives away"));
}

Test(record, an_answer_tells_what_became_of_it)
{
    int64_t seq = FIND("26-0115", "fieldDay=D001");
    struct mb_entry entry = workbench_entry(&b, seq);
    char leaf[MB_HASH_B64U_LEN + 1];

    mb_b64u_write(leaf, entry.leaf.b, sizeof entry.leaf.b);
    cr_assert(mb_json_text_is(mb_json_get(b.out, "leaf"), leaf));
    cr_assert(mb_json_text_is(mb_json_get(b.out, "subject"), "specimen/26-0115"));
    cr_assert(mb_json_text_is(mb_json_get(b.out, "kind"), "collecting"));
    cr_assert_eq(mb_json_int(mb_json_get(b.out, "nth"), -1), 0);
    cr_assert_eq(mb_json_int(mb_json_get(b.out, "iat"), -1), workbench_now);
    cr_assert_eq(mb_json_get(mb_json_get(b.out, "fields"), "site")->count, 1);
}

/* ---- dividing and joining ---- */

Test(record, a_division_begins_the_record_of_each_new_piece)
{
    int64_t lot = FIND("26-0240", "fieldDay=D001"), seq, child;
    const mb_json *also;
    struct mb_entry entry;
    char leaf[MB_HASH_B64U_LEN + 1];

    seq = workbench_must(&b, "division", "26-0240", "purpose=drawn from lot",
                         "remains=yes, smaller",
                         "into=specimen:26-0241; form:lot; quantity:80; what:show tray |"
                         " specimen:26-0242; form:single; quantity:1",
                         "remainder=1432", "consumed=0", "sameIndividual=does not apply", NULL);
    cr_assert_eq(seq, lot + 1);
    FIELD(seq, "side", "\"divided\"");
    FIELD(seq, "intoCount", "2");
    FIELD(seq, "intoQuantity", "81");
    also = mb_json_get(b.out, "also");
    cr_assert_eq(also->count, 2);
    cr_assert(mb_json_text_is(mb_json_get(also->first, "subject"), "specimen/26-0241"));
    child = mb_json_int(mb_json_get(also->first, "seq"), -1);
    entry = workbench_entry(&b, seq);
    mb_b64u_write(leaf, entry.leaf.b, sizeof entry.leaf.b);
    cr_assert_eq(workbench_entry(&b, child).nth, 0);
    FIELD(child, "side", "\"came out\"");
    FIELD(child, "outOf", mb_arena_printf(b.arena, "{\"entry\":\"%s\"}", leaf));
    FIELD(child, "parent", "{\"ref\":\"specimen/26-0240\"}");
    FIELD(child, "objectForm", "\"lot\"");
    FIELD(child, "objectQuantity", "80");
    FIELD(child, "purpose", "\"drawn from lot\"");
    FIELD(child, "doneBy", "[{\"ref\":\"party/P001\"}]");
    cr_assert_eq(workbench_size(&b), seq + 3);
    /* the new pieces are pieces like any others */
    workbench_must(&b, "note", "specimen/26-0242", "text=for the show", NULL);
    cr_assert_eq(workbench_record(&b, "division", "26-0240", "purpose=drawn from lot",
                                  "remains=no, used up",
                                  "into=specimen:26-0241; form:lot; quantity:1", "consumed=0",
                                  "sameIndividual=does not apply", NULL),
                 MB_REFUSED);
    cr_assert(strstr(b.err.text, "specimen/26-0241 has a record already"), "%s", b.err.text);
}

Test(record, a_joining_ends_the_record_of_each_part)
{
    int64_t seq, part;

    FIND("26-0115", "fieldDay=D001");
    FIND("26-0116", "fieldDay=D001");
    seq = workbench_must(&b, "joining", "26-0130", "parts=26-0115 | 26-0116", "why=refit",
                         "sameIndividual=yes", "association=found together", "removable=yes",
                         NULL);
    FIELD(seq, "partCount", "2");
    cr_assert_eq(workbench_entry(&b, seq).nth, 0);
    part = mb_json_int(mb_json_get(mb_json_get(b.out, "also")->last, "seq"), -1);
    FIELD(part, "side", "\"part\"");
    FIELD(part, "whole", "{\"ref\":\"specimen/26-0130\"}");
    FIELD(part, "why", "\"refit\"");
    FIELD(part, "removable", "\"yes\"");
    cr_assert(mb_str_is(workbench_entry(&b, part).sub, "specimen/26-0116"));
}

Test(record, only_what_is_there_can_be_divided)
{
    cr_assert_eq(workbench_record(&b, "division", "26-0240", "purpose=cut", "remains=no, used up",
                                  "into=specimen:26-0241; form:lot; quantity:1", "consumed=0",
                                  "sameIndividual=yes", NULL),
                 MB_REFUSED);
    cr_assert_str_eq(b.err.text, "unknown specimen/26-0240: record collecting or arrival first");
}

Test(record, a_party_told_of_again_is_pointed_out)
{
    workbench_must(&b, "party", "P003", "partyType=person", "name=Wren Castellane",
                   "namedTo=anyone", NULL);
    cr_assert(warned("party/P003 was recorded already, by entry #4"));
}

/* ---- asking ---- */

static const mb_json *question(const mb_json *list, const char *name)
{
    MB_JSON_EACH(one, list)
    {
        if (mb_json_text_is(mb_json_get(one, "name"), name))
            return one;
    }
    return NULL;
}

Test(record, questions_come_in_the_kinds_own_order_with_what_would_be_filled_in)
{
    const mb_json *list, *one;

    FIND("26-0115", "fieldDay=D001");
    cr_assert_eq(mb_setting(b.ledger, b.arena, "fieldDay", "D001", &b.err), MB_OK);
    cr_assert_eq(mb_record_questions(b.ledger, b.arena, "collecting", "specimen/26-0116", false,
                                     &list, &b.err),
                 MB_OK, "%s", b.err.text);
    cr_assert(mb_json_text_is(mb_json_get(list->first, "name"), "recordNumber"));
    cr_assert_null(mb_json_get(list->first, "default"));
    one = question(list, "objectForm");
    cr_assert(mb_json_text_is(mb_json_get(one, "default"), "slab"));
    cr_assert(mb_json_text_is(mb_json_get(one, "type"), "choice"));
    cr_assert_gt(mb_json_get(one, "choices")->count, 5);
    cr_assert(mb_json_text_is(mb_json_get(question(list, "horizon"), "default"), "horizon/H-A"));
    cr_assert_null(question(list, "site"), "what is filled in need not be asked");
    cr_assert_eq(mb_record_questions(b.ledger, b.arena, "collecting", "specimen/26-0116", true,
                                     &list, &b.err),
                 MB_OK);
    cr_assert(mb_json_text_is(mb_json_get(question(list, "site"), "default"), "site/S001"));
    cr_assert(question(list, "remarks"));
    cr_assert_null(question(list, "batch"), "the program's own fields are nobody's to answer");
    cr_assert_eq(mb_record_questions(b.ledger, b.arena, "colecting", NULL, false, &list, &b.err),
                 MB_REFUSED);
    cr_assert_str_eq(b.err.text, "there is no kind 'colecting'; did you mean collecting?");
}

/* ---- numbers ---- */

static const char *next(const char *prefix, const char *pattern)
{
    const mb_json *out = NULL;

    b.err = (struct mb_error){ 0 };
    if (mb_next_id(b.ledger, b.arena, prefix, pattern, &out, &b.err))
        return b.err.text;
    return mb_json_cstr(b.arena, mb_json_get(out, "id"));
}

Test(record, the_next_free_number_goes_on_behind_the_last)
{
    cr_assert_str_eq(next("specimen", NULL), "26-0001");
    cr_assert_str_eq(next("place", NULL), "B001");
    cr_assert_str_eq(next("site", NULL), "S002");
    cr_assert_str_eq(next("party", NULL), "P004");
    FIND("26-0115", "fieldDay=D001");
    FIND("26-0117", "fieldDay=D001");
    FIND("26-0117-A", "fieldDay=D001");
    FIND("X9", "fieldDay=D001");
    cr_assert_str_eq(next("specimen", "26-####"), "26-0118");
    cr_assert_str_eq(next("specimen", "26-0001"), "26-0118");
    cr_assert_str_eq(next("specimen", NULL), "X10");
    cr_assert_str_eq(next("specimen", "25-####"), "25-0001");
    cr_assert_str_eq(next("specimen", "x#"), "x10", "capitals make no other number");
    cr_assert(strstr(next("specimen", "tray"), "ends in no digit"));
    cr_assert(strstr(next("key", NULL), "there are no 'key' to number"));
}
