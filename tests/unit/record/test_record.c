/* Recording from a person's side: what is typed, what is filled in, what stands in the log. */
#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>

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

Test(record, a_find_takes_three_answers_once_the_first_of_the_day_is_in)
{
    int64_t seq;

    cr_assert_eq(mb_setting(b.ledger, b.arena, "fieldDay", "D001", &b.err), MB_OK, "%s",
                 b.err.text);
    workbench_must(&b, "collecting", "26-0115", "recordNumber=T-118",
                   "verbatimIdentification=crinoid slab, three crowns", "objectQuantity=1",
                   "objectForm=slab", "quantityHow=counted", "materialClass=invertebrate",
                   "horizon=H-A", "inPlace=in place", NULL);
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
    FIELD(seq, "objectQuantity", "2");
    FIELD(seq, "fieldTreatment", "{\"answer\":\"not known\"}");
    FIELD(seq, "madeFrom", "\"own observation\"");
    cr_assert(mb_json_get(mb_json_get(b.out, "filled"), "site"));
    cr_assert_null(mb_json_get(mb_json_get(b.out, "filled"), "objectQuantity"));
}
