/* Who held a piece and who owned it: intervals worked out by hand (common practice, no source). */
#include "viewing.h"

static struct viewing v;

static void set_up(void)
{
    viewing_new(&v);
    viewing_add(&v, "specimen/A", "collecting",
                "{\"open\":{\"objectForm\":\"slab\"},\"sale\":{\"eventDate\":\"2026-05-02\","
                "\"objectQuantity\":1}}");
}

static void tear_down(void)
{
    viewing_done(&v);
}

TestSuite(views_held, .init = set_up, .fini = tear_down);

static struct mb_entry handed(const char *from, const char *from_label, const char *to,
                              const char *to_label, const char *day, const char *received)
{
    return viewing_add(
        &v, "specimen/A", "custody",
        mb_arena_printf(v.t.arena,
                        "{\"sale\":{\"fromLabel\":\"%s\",\"toLabel\":\"%s\",\"handedOver\":\"%s\","
                        "\"received\":%s,\"reason\":\"loan\",\"acknowledged\":\"one side only\"},"
                        "\"science\":{\"from\":{\"ref\":\"party/%s\"},\"to\":{\"ref\":\"party/%s\"}"
                        "}}",
                        from_label, to_label, day, received, from, to));
}

static struct mb_entry passed(const char *from, const char *to, const char *day,
                              const char *part)
{
    return viewing_add(
        &v, "specimen/A", "title",
        mb_arena_printf(v.t.arena,
                        "{\"sale\":{\"fromLabel\":\"%s\",\"toLabel\":\"client\",\"date\":\"%s\","
                        "\"manner\":\"sale\",\"acknowledged\":\"by both keys\"},"
                        "\"science\":{%s\"to\":{\"ref\":\"party/%s\"},\"part\":\"%s\"}}",
                        *from ? "client" : "nobody before", day,
                        *from ? mb_arena_printf(v.t.arena, "\"from\":{\"ref\":\"party/%s\"},", from)
                              : "",
                        to, part));
}

#define DAY(c) "coalesce(date(" c " * 86400, 'unixepoch'), '-')"
#define HOLDERS \
    "SELECT coalesce(party, '-'), label, " DAY("from_day") ", " DAY("until_day") " FROM v_holder" \
    " WHERE sub = 'specimen/A' ORDER BY n"
#define OWNERS \
    "SELECT coalesce(party, '-'), part, " DAY("from_day") ", " DAY("until_day") " FROM v_owner" \
    " WHERE sub = 'specimen/A' ORDER BY n"

Test(views_held, days_on_the_road_are_a_gap)
{
    handed("P001", "us", "P004", "client", "2026-06-01", "\"2026-06-05\"");
    handed("P004", "client", "P001", "us", "2026-07-01", "{\"answer\":\"not known\"}");
    SAYS(&v, HOLDERS,
         "-|us|2026-05-02|2026-06-01; party/P004|client|2026-06-05|2026-07-01;"
         " party/P001|us|2026-07-01|-");
    SAYS(&v, "SELECT giver_held FROM v_custody ORDER BY seq", "1; 1");
    SAYS(&v, "SELECT holder, holder_label, status FROM v_specimen", "party/P001|us|with us");
}

Test(views_held, transfers_are_taken_by_their_days_not_by_when_they_were_recorded)
{
    handed("P004", "client", "P005", "museum", "2026-08-01", "\"2026-08-01\"");
    handed("P001", "us", "P004", "client", "2026-06-01", "\"2026-06-01\"");
    SAYS(&v, HOLDERS,
         "-|us|2026-05-02|2026-06-01; party/P004|client|2026-06-01|2026-08-01;"
         " party/P005|museum|2026-08-01|-");
    SAYS(&v, "SELECT giver_held FROM v_custody ORDER BY seq", "1; 1");
}

Test(views_held, giving_what_one_did_not_have_ends_the_other_stay_and_shows_the_hole)
{
    handed("P007", "dealer", "P005", "museum", "2026-06-01", "\"2026-06-02\"");
    SAYS(&v, HOLDERS,
         "-|us|2026-05-02|2026-06-01; party/P007|dealer|-|2026-06-01;"
         " party/P005|museum|2026-06-02|-");
    SAYS(&v, "SELECT giver_held FROM v_custody", "0");
    SAYS(&v, "SELECT seq_in IS NULL FROM v_holder WHERE party = 'party/P007'", "1");
}

Test(views_held, a_transfer_struck_out_never_happened)
{
    struct mb_entry out = handed("P001", "us", "P004", "client", "2026-06-01", "\"2026-06-05\"");

    viewing_correct(&v, &out, "void (wrong specimen)", "");
    SAYS(&v, HOLDERS, "-|us|2026-05-02|-");
    SAYS(&v, "SELECT count(*) FROM v_custody", "0");
    viewing_whole(&v);
}

Test(views_held, a_corrected_day_moves_the_interval)
{
    struct mb_entry out = handed("P001", "us", "P004", "client", "2026-06-01", "\"2026-06-05\"");

    viewing_correct(&v, &out, "change fields",
                    "\"sale\":{\"handedOver\":\"2026-06-03\",\"received\":null}");
    SAYS(&v, HOLDERS, "-|us|2026-05-02|2026-06-03; party/P004|client|2026-06-03|-");
}

Test(views_held, what_came_in_was_with_the_sender_before)
{
    viewing_add(&v, "specimen/B", "arrival",
                "{\"open\":{\"objectForm\":\"single\"},\"sale\":{\"receivedOn\":\"2026-01-12\","
                "\"fromLabel\":\"client\",\"reason\":\"preparation\",\"objectQuantity\":1},"
                "\"science\":{\"receivedFrom\":{\"ref\":\"party/P004\"}},"
                "\"private\":{\"owner\":{\"ref\":\"party/P004\"}}}");
    SAYS(&v, "SELECT party, label, " DAY("from_day") ", " DAY("until_day")
             " FROM v_holder WHERE sub = 'specimen/B' ORDER BY n",
         "party/P004|client|-|2026-01-12; -|us|2026-01-12|-");
    SAYS(&v, "SELECT owner, owner_label FROM v_specimen WHERE id = 'B'", "party/P004|client");
}

Test(views_held, a_day_before_the_find_is_recorded_and_the_holder_stays_right)
{
    handed("P001", "us", "P004", "client", "2026-04-01", "\"2026-04-01\"");
    SAYS(&v, "SELECT holder FROM v_specimen", "party/P004");
}

Test(views_held, ownership_goes_from_hand_to_hand)
{
    passed("", "P001", "2026-05-02", "all");
    passed("P001", "P009", "2026-09-01", "all");
    SAYS(&v, OWNERS,
         "party/P001|all|2026-05-02|2026-09-01; party/P009|all|2026-09-01|-");
    SAYS(&v, "SELECT giver_owned FROM v_title ORDER BY seq", "1; 1");
    passed("P001", "P010", "2026-10-01", "all"); /* sold twice */
    SAYS(&v, "SELECT giver_owned FROM v_title ORDER BY seq", "1; 1; 0");
    SAYS(&v, "SELECT owner FROM v_specimen", "party/P010");
    passed("", "P011", "2026-11-01", "all"); /* nobody before? there was somebody */
    SAYS(&v, "SELECT giver_owned FROM v_title ORDER BY seq", "1; 1; 0; 0");
}

Test(views_held, parts_of_the_ownership_add_up)
{
    passed("", "P001", "2026-05-02", "all");
    passed("P001", "P002", "2026-06-01", "1/2");
    SAYS(&v, OWNERS,
         "party/P001|all|2026-05-02|2026-06-01; party/P001|1/2|2026-06-01|-;"
         " party/P002|1/2|2026-06-01|-");
    passed("P001", "P003", "2026-07-01", "1/3");
    /* 1/2 - 1/3 = 1/6 */
    SAYS(&v, "SELECT party, part FROM v_owner WHERE until_day IS NULL ORDER BY n",
         "party/P002|1/2; party/P001|1/6; party/P003|1/3");
    passed("P003", "P004", "2026-08-01", "2/3"); /* more than a third */
    SAYS(&v, "SELECT giver_owned FROM v_title ORDER BY seq", "1; 1; 1; 0");
}

Test(views_held, a_countersignature_is_found_by_the_entry_it_is_over)
{
    struct mb_entry out = handed("P001", "us", "P004", "client", "2026-06-01", "\"2026-06-01\"");
    struct mb_entry over;

    handed("P004", "client", "P005", "museum", "2026-07-01", "\"2026-07-01\"");
    over = viewing_add(&v, "specimen/A", "countersign",
                       mb_arena_printf(v.t.arena,
                                       "{\"open\":{\"whichEntry\":{\"entry\":\"%s\"},"
                                       "\"how\":\"paper with both signatures\","
                                       "\"role\":\"receiver\"}}",
                                       viewing_leaf(&v, &out)));
    SAYS(&v, "SELECT seq, countersigned FROM v_custody ORDER BY seq",
         mb_arena_printf(v.t.arena, "%lld|%lld; %lld|-", (long long)out.seq, (long long)over.seq,
                         (long long)out.seq + 1));
}

Test(views_held, a_stolen_piece_is_with_nobody_until_it_is_back)
{
    struct mb_entry theft = viewing_add(
        &v, "specimen/A", "loss",
        "{\"open\":{\"nature\":\"stolen\"},\"sale\":{\"date\":\"2026-06-01\",\"quantity\":1}}");

    SAYS(&v, "SELECT status, holder_label FROM v_specimen", "stolen|-");
    SAYS(&v, HOLDERS, "-|us|2026-05-02|2026-06-01");
    viewing_add(&v, "specimen/A", "loss",
                mb_arena_printf(v.t.arena,
                                "{\"open\":{\"nature\":\"recovered\"},\"sale\":{\"date\":"
                                "\"2026-06-09\",\"quantity\":1,\"closes\":{\"entry\":\"%s\"}}}",
                                viewing_leaf(&v, &theft)));
    SAYS(&v, "SELECT status, holder_label FROM v_specimen", "with us|us");
    SAYS(&v, "SELECT nature, closed_by IS NOT NULL FROM v_loss ORDER BY seq",
         "stolen|1; recovered|0");
}

Test(views_held, where_things_lie_is_told_by_the_last_move)
{
    viewing_add(&v, "place/T1", "placement",
                "{\"private\":{\"placeName\":\"flat 7\",\"date\":\"2026-05-03\","
                "\"what*\":[{\"ref\":\"specimen/A\"},{\"ref\":\"specimen/B\"}]}}");
    viewing_add(&v, "place/T2", "placement",
                "{\"private\":{\"placeName\":\"tank 2\",\"date\":\"2026-05-09\","
                "\"what*\":[{\"ref\":\"specimen/A\"},{\"ref\":\"place/T1\"}]}}");
    SAYS(&v, "SELECT sub, place, date FROM v_where ORDER BY sub",
         "place/T1|place/T2|2026-05-09; specimen/A|place/T2|2026-05-09;"
         " specimen/B|place/T1|2026-05-03");
}
