/* How many pieces there are, and where the others went. Every number is worked out by hand beside
 * its check; the rules are common practice, no source (docs/views.md tells them). */
#include "viewing.h"

static struct viewing v;

static void set_up(void)
{
    viewing_new(&v);
}

static void tear_down(void)
{
    viewing_done(&v);
}

TestSuite(views_pieces, .init = set_up, .fini = tear_down);

#define LOT "specimen/26-0240"

static struct mb_entry found(const char *sub, const char *form, int pieces, const char *day)
{
    return viewing_add(&v, sub, "collecting",
                       mb_arena_printf(v.t.arena,
                                       "{\"open\":{\"objectForm\":\"%s\"},\"sale\":{"
                                       "\"eventDate\":\"%s\",\"objectQuantity\":%d,"
                                       "\"materialClass\":\"vertebrate\","
                                       "\"verbatimIdentification\":\"shark teeth\","
                                       "\"site\":{\"ref\":\"site/S001\"}}}",
                                       form, day, pieces));
}

/* Gives `pieces` of a specimen to a new number, with the entry that begins it. */
static struct mb_entry drawn(const char *sub, const char *to, int pieces, const char *day,
                             const char *more)
{
    mb_arena *arena = v.t.arena;
    struct mb_entry division;

    temp_ledger_begin(&v.t);
    division = temp_ledger_put_by(
        &v.t, v.t.owner, sub, "division",
        mb_arena_printf(arena,
                        "{\"open\":{\"side\":\"divided\"},\"sale\":{\"date\":\"%s\","
                        "\"purpose\":\"drawn from lot\",\"intoQuantity\":%d,"
                        "\"into*\":[{\"specimen\":{\"ref\":\"%s\"},\"form\":\"lot\","
                        "\"quantity\":%d,\"what\":\"show tray\"}]%s}}",
                        day, pieces, to, pieces, more));
    temp_ledger_put_by(&v.t, v.t.owner, to, "division",
                       mb_arena_printf(arena,
                                       "{\"open\":{\"side\":\"came out\",\"objectForm\":\"lot\","
                                       "\"outOf\":{\"entry\":\"%s\"}},\"sale\":{\"date\":\"%s\","
                                       "\"objectQuantity\":%d,\"parent\":{\"ref\":\"%s\"}}}",
                                       viewing_leaf(&v, &division), day, pieces, sub));
    temp_ledger_commit(&v.t);
    return division;
}

static struct mb_entry lost(const char *sub, const char *nature, int pieces, const char *day)
{
    return viewing_add(&v, sub, "loss",
                       mb_arena_printf(v.t.arena,
                                       "{\"open\":{\"nature\":\"%s\"},\"sale\":{\"date\":\"%s\","
                                       "\"quantity\":%d}}",
                                       nature, day, pieces));
}

static struct mb_entry counted(const char *sub, int pieces, const char *day)
{
    return viewing_add(&v, sub, "measurement",
                       mb_arena_printf(v.t.arena,
                                       "{\"sale\":{\"what\":\"pieces\",\"value\":\"%d\","
                                       "\"unit\":\"piece\",\"on\":\"%s\",\"recount\":%d}}",
                                       pieces, day, pieces));
}

#define CHANGES "SELECT change, balance, why FROM v_quantity WHERE sub = '" LOT "' ORDER BY seq, n"
#define BALANCE \
    "SELECT quantity_in, quantity_out, quantity_counted, quantity_now, quantity_lowest," \
    " overdrawn FROM v_lot_balance WHERE sub = '" LOT "'"

Test(views_pieces, a_lot_gives_out_loses_and_is_counted_again)
{
    found(LOT, "lot", 240, "2026-05-02");
    SAYS(&v, BALANCE, "240|0|0|240|0|0");
    drawn(LOT, "specimen/26-0241", 80, "2026-05-10", ",\"remainder\":160,\"consumed\":0");
    SAYS(&v, BALANCE, "240|80|0|160|0|0");
    SAYS(&v, "SELECT quantity_now, parent, begins_as FROM v_specimen"
             " WHERE sub = 'specimen/26-0241'", "80|" LOT "|division");
    lost(LOT, "missing", 12, "2026-05-20");
    lost(LOT, "recovered", 5, "2026-05-22");
    SAYS(&v, BALANCE, "240|87|0|153|0|0");
    counted(LOT, 150, "2026-06-01");
    SAYS(&v, CHANGES,
         "240|240|found; -80|160|divided: drawn from lot; -12|148|missing; 5|153|recovered;"
         " -3|150|counted again");
    SAYS(&v, BALANCE, "240|87|-3|150|0|0");
    viewing_whole(&v);
}

Test(views_pieces, more_given_out_than_there_was_is_said_and_not_hidden_by_what_is_left)
{
    found(LOT, "lot", 240, "2026-05-02");
    drawn(LOT, "specimen/26-0241", 80, "2026-05-10", ",\"remainder\":160");
    drawn(LOT, "specimen/26-0242", 200, "2026-05-11", ",\"remainder\":0");
    /* 160 - 200 is 40 too many; that 0 are left shows that there were 40 more than anybody knew */
    SAYS(&v, CHANGES,
         "240|240|found; -80|160|divided: drawn from lot; -200|-40|divided: drawn from lot;"
         " 40|0|more than the account held");
    SAYS(&v, BALANCE, "240|280|40|0|-40|1");
    SAYS(&v, "SELECT given, remainder, difference FROM v_division ORDER BY seq",
         "80|160|0; 200|0|-40");
    SAYS(&v, "SELECT status FROM v_specimen WHERE sub = '" LOT "'", "divided up");
}

Test(views_pieces, what_a_division_does_not_account_for_is_a_row_of_its_own)
{
    found(LOT, "lot", 10, "2026-05-02");
    drawn(LOT, "specimen/26-0241", 4, "2026-05-10", ",\"consumed\":1,\"remainder\":3");
    SAYS(&v, CHANGES,
         "10|10|found; -4|6|divided: drawn from lot; -1|5|destroyed in dividing;"
         " -2|3|not accounted for");
    SAYS(&v, "SELECT quantity_before, given, consumed, remainder, difference FROM v_division",
         "10|4|1|3|2");
}

Test(views_pieces, used_up_means_that_nothing_is_left)
{
    found(LOT, "block", 3, "2026-05-02");
    drawn(LOT, "specimen/26-0241", 3, "2026-05-10", ",\"remains\":\"no, used up\"");
    SAYS(&v, BALANCE, "3|3|0|0|0|0");
    SAYS(&v, "SELECT status, holder_label FROM v_specimen WHERE sub = '" LOT "'", "divided up|-");
}

Test(views_pieces, a_count_holds_what_happened_before_it_whenever_that_was_recorded)
{
    found(LOT, "lot", 100, "2026-05-02");
    counted(LOT, 60, "2026-05-20");
    /* given out before the count, recorded after it: the count knew of it */
    drawn(LOT, "specimen/26-0241", 40, "2026-05-10", "");
    SAYS(&v, "SELECT change, counts, balance FROM v_quantity WHERE sub = '" LOT "' ORDER BY seq",
         "100|1|100; -40|1|60; -40|0|60");
    /* given out after the count */
    drawn(LOT, "specimen/26-0242", 10, "2026-05-25", "");
    SAYS(&v, BALANCE, "100|10|-40|50|0|0");
    /* a count of an earlier day, recorded late: 65 were there on the 22nd, 10 went after that */
    counted(LOT, 65, "2026-05-22");
    SAYS(&v, BALANCE, "100|10|-35|55|0|0");
    viewing_whole(&v);
}

Test(views_pieces, corrections_and_voids_apply_and_can_be_undone)
{
    struct mb_entry first = found(LOT, "lot", 240, "2026-05-02"), loss, wrong;

    loss = lost(LOT, "stolen", 40, "2026-05-20");
    SAYS(&v, BALANCE, "240|40|0|200|0|0");
    viewing_correct(&v, &first, "change fields", "\"sale\":{\"objectQuantity\":250}");
    SAYS(&v, BALANCE, "250|40|0|210|0|0");
    wrong = viewing_correct(&v, &loss, "void (did not happen)", "");
    SAYS(&v, BALANCE, "250|0|0|250|0|0");
    viewing_correct(&v, &wrong, "void (did not happen)", "");
    SAYS(&v, BALANCE, "250|40|0|210|0|0");
    SAYS(&v, "SELECT value, from_seq - seq > 0, corrected FROM v_field"
             " WHERE name = 'objectQuantity'", "250|1|1");
    SAYS(&v, "SELECT name, value_before, value_after, counts FROM v_change",
         "objectQuantity|240|250|1");
    SAYS(&v, "SELECT action, counts FROM v_correction ORDER BY seq",
         "change fields|1; void (did not happen)|0; void (did not happen)|1");
    viewing_whole(&v);
}

static void came_in(const char *day, const char *reason, int pieces)
{
    viewing_add(&v, LOT, "arrival",
                mb_arena_printf(v.t.arena,
                                "{\"open\":{\"objectForm\":\"lot\"},\"sale\":{"
                                "\"receivedOn\":\"%s\",\"reason\":\"%s\","
                                "\"objectQuantity\":%d}}",
                                day, reason, pieces));
}

Test(views_pieces, coming_back_adds_nothing_and_a_second_delivery_does)
{
    came_in("2026-01-02", "preparation", 5);
    came_in("2026-03-02", "return", 5);
    SAYS(&v, CHANGES, "5|5|came in; 0|5|came back");
    came_in("2026-04-02", "preparation", 2);
    SAYS(&v, BALANCE, "7|0|0|7|0|0");
}

static struct mb_entry joined(const char *whole, const char *why, const char *a, const char *b)
{
    mb_arena *arena = v.t.arena;
    const char *parts[] = { a, b };
    struct mb_entry entry;

    temp_ledger_begin(&v.t);
    entry = temp_ledger_put_by(&v.t, v.t.owner, whole, "joining",
                               mb_arena_printf(arena,
                                               "{\"open\":{\"side\":\"whole\"},\"sale\":{"
                                               "\"date\":\"2026-06-01\",\"why\":\"%s\","
                                               "\"partCount\":2,\"parts*\":[{\"ref\":\"%s\"},"
                                               "{\"ref\":\"%s\"}]}}",
                                               why, a, b));
    for (int i = 0; i < 2; i++)
        temp_ledger_put_by(&v.t, v.t.owner, parts[i], "joining",
                           mb_arena_printf(arena,
                                           "{\"open\":{\"side\":\"part\",\"joins\":{\"entry\":"
                                           "\"%s\"}},\"sale\":{\"date\":\"2026-06-01\","
                                           "\"why\":\"%s\",\"whole\":{\"ref\":\"%s\"}}}",
                                           viewing_leaf(&v, &entry), why, whole));
    temp_ledger_commit(&v.t);
    return entry;
}

#define NOW(id) "SELECT quantity_now, status FROM v_specimen WHERE id = '" id "'"

Test(views_pieces, lots_that_are_pooled_bring_all_their_pieces)
{
    struct mb_entry a = found("specimen/A", "lot", 30, "2026-05-02");

    found("specimen/B", "lot", 12, "2026-05-03");
    lost("specimen/B", "destroyed", 2, "2026-05-04");
    joined("specimen/C", "lot pooled", "specimen/A", "specimen/B");
    SAYS(&v, NOW("C"), "40|with us");
    SAYS(&v, NOW("A"), "0|joined into another");
    SAYS(&v, "SELECT site FROM v_specimen WHERE id = 'C'", "site/S001");
    /* what a part held is put right later, and so is the whole */
    viewing_correct(&v, &a, "change fields", "\"sale\":{\"objectQuantity\":33}");
    SAYS(&v, NOW("C"), "43|with us");
    SAYS(&v, NOW("A"), "0|joined into another");
    /* pooled once more, and the first part corrected again: it goes through both */
    found("specimen/D", "lot", 7, "2026-05-05");
    joined("specimen/E", "lot pooled", "specimen/C", "specimen/D");
    SAYS(&v, NOW("E"), "50|with us");
    viewing_correct(&v, &a, "change fields", "\"sale\":{\"objectQuantity\":31}");
    SAYS(&v, NOW("E"), "48|with us");
    viewing_whole(&v);
}

Test(views_pieces, pieces_that_are_joined_make_one)
{
    found("specimen/A", "single", 1, "2026-05-02");
    found("specimen/B", "single", 1, "2026-05-03");
    joined("specimen/C", "refit", "specimen/A", "specimen/B");
    SAYS(&v, NOW("C"), "1|with us");
    SAYS(&v, NOW("B"), "0|joined into another");
    SAYS(&v, "SELECT parent, child, how, other_seq IS NOT NULL FROM v_link ORDER BY seq, n",
         "specimen/A|specimen/C|joining|0; specimen/B|specimen/C|joining|0;"
         " specimen/A|specimen/C|joined|1; specimen/B|specimen/C|joined|1");
    /* into one that was there before: it stays one piece */
    found("specimen/D", "slab", 1, "2026-05-02");
    joined("specimen/D", "slab rebuilt", "specimen/C", "specimen/C");
    SAYS(&v, NOW("D"), "1|with us");
}

Test(views_pieces, a_piece_takes_over_what_it_came_out_of)
{
    struct mb_entry lot = found(LOT, "lot", 240, "2026-05-02");
    const char *of_child =
        "SELECT what, site, event_date, material_class, object_form FROM v_specimen"
        " WHERE id = '26-0241'";
    const char *of_grandchild = "SELECT site, event_date FROM v_specimen WHERE id = '26-0242'";

    drawn(LOT, "specimen/26-0241", 80, "2026-05-10", "");
    drawn("specimen/26-0241", "specimen/26-0242", 3, "2026-05-11", "");
    SAYS(&v, of_child, "shark teeth|site/S001|2026-05-02|vertebrate|lot");
    viewing_correct(&v, &lot, "change fields",
                    "\"sale\":{\"site\":{\"ref\":\"site/S002\"},\"eventDate\":\"2026-05\"}");
    SAYS(&v, of_child, "shark teeth|site/S002|2026-05|vertebrate|lot");
    SAYS(&v, of_grandchild, "site/S002|2026-05");
    viewing_add(&v, "specimen/26-0241", "identification",
                "{\"open\":{\"vernacularName\":\"shark tooth\","
                "\"scientificName\":\"Cretolamna appendiculata\","
                "\"isAcceptedIdentification\":\"yes\",\"whatItIs\":\"natural fossil\"}}");
    SAYS(&v, of_child,
         "shark tooth (Cretolamna appendiculata)|site/S002|2026-05|vertebrate|lot");
    viewing_whole(&v);
}

/* A form of the same that a later version may write. */
Test(views_pieces, a_descent_begins_a_piece_too)
{
    struct mb_entry division;

    found(LOT, "lot", 240, "2026-05-02");
    division = drawn(LOT, "specimen/26-0241", 80, "2026-05-10", "");
    viewing_add(&v, "specimen/26-0299", "descent",
                mb_arena_printf(v.t.arena,
                                "{\"open\":{\"cameFrom\":{\"entry\":\"%s\"},"
                                "\"objectForm\":\"single\"},\"sale\":{\"parent\":{\"ref\":\"" LOT
                                "\"},\"objectQuantity\":1}}",
                                viewing_leaf(&v, &division)));
    SAYS(&v, "SELECT begins_as, quantity_now, site FROM v_specimen WHERE id = '26-0299'",
         "descent|1|site/S001");
    SAYS(&v, "SELECT how, parent, other_seq FROM v_link WHERE child = 'specimen/26-0299'",
         mb_arena_printf(v.t.arena, "came out|" LOT "|%lld", (long long)division.seq));
}

Test(views_pieces, a_cast_was_made_and_not_found)
{
    found("specimen/A", "single", 1, "2026-05-02");
    viewing_add(&v, "specimen/CAST", "making",
                "{\"open\":{\"what\":\"cast\"},\"sale\":{\"takenFrom\":{\"ref\":\"specimen/A\"},"
                "\"date\":\"2026-06-01\"}}");
    SAYS(&v, NOW("CAST"), "1|with us");
    SAYS(&v, "SELECT site, what, begins_as FROM v_specimen WHERE id = 'CAST'", "-|cast|making");
    SAYS(&v, "SELECT parent, how, relation FROM v_link WHERE child = 'specimen/CAST'",
         "specimen/A|making|cast");
}

Test(views_pieces, what_nobody_counted_is_not_known)
{
    viewing_add(&v, LOT, "collecting",
                "{\"open\":{\"objectForm\":\"lot\"},\"sale\":{\"eventDate\":\"2026-05-02\"}}");
    lost(LOT, "missing", 3, "2026-05-20");
    SAYS(&v, "SELECT quantity_now, overdrawn, status FROM v_specimen", "-|0|with us");
}

/* The log holds what another program wrote, too. */
Test(views_pieces, numbers_that_count_nothing_are_passed_over)
{
    found(LOT, "lot", 10, "2026-05-02");
    for (int i = 0; i < 3; i++)
        viewing_add(&v, LOT, "loss",
                    "{\"open\":{\"nature\":\"missing\"},\"sale\":{\"date\":\"2026-05-20\","
                    "\"quantity\":9007199254740991}}");
    viewing_add(&v, LOT, "loss",
                "{\"open\":{\"nature\":[]},\"sale\":{\"date\":{\"x\":1},\"quantity\":\"1.5\"}}");
    viewing_add(&v, LOT, "division",
                "{\"open\":{\"side\":7},\"sale\":{\"into\":\"many\",\"intoQuantity\":{},"
                "\"remainder\":\"-3\"}}");
    viewing_add(&v, LOT, "joining",
                "{\"sale\":{\"why\":\"lot pooled\",\"parts\":[1,{\"ref\":\"specimen/NONE\"},"
                "{\"ref\":\"" LOT "\"}]}}");
    SAYS(&v, "SELECT quantity_in, quantity_now FROM v_specimen", "10|10");
    viewing_whole(&v);
}

/* Each of two lots pooled from the other, forty times over: working that out to the end would take
 * a million million readings, and the numbers would not fit. */
Test(views_pieces, lots_pooled_in_a_ring_come_to_an_end, .timeout = 120)
{
    found("specimen/A", "lot", 10, "2026-05-02");
    found("specimen/B", "lot", 10, "2026-05-02");
    for (int i = 0; i < 40; i++)
        viewing_add(&v, i % 2 ? "specimen/A" : "specimen/B", "joining",
                    mb_arena_printf(v.t.arena,
                                    "{\"open\":{\"side\":\"whole\"},\"sale\":{\"why\":"
                                    "\"lot pooled\",\"parts\":[{\"ref\":\"specimen/%c\"}]}}",
                                    i % 2 ? 'B' : 'A'));
    SAYS(&v, "SELECT count(*) FROM v_specimen WHERE quantity_now > 10", "2");
}

Test(views_pieces, a_struck_out_find_is_no_find)
{
    struct mb_entry first = found(LOT, "lot", 240, "2026-05-02");

    viewing_correct(&v, &first, "void (double)", "");
    SAYS(&v, "SELECT quantity_now, site, status FROM v_specimen", "-|-|struck out");
    SAYS(&v, "SELECT count(*) FROM v_find", "0");
    SAYS(&v, "SELECT kind, voided_by IS NOT NULL FROM v_entry WHERE sub = '" LOT "' ORDER BY seq",
         "collecting|1; correction|0");
    SAYS(&v, "SELECT count(*) FROM v_field f JOIN v_entry e USING (seq)"
             " WHERE e.voided_by IS NOT NULL AND name = 'eventDate'", "1");
    SAYS(&v, "SELECT kind FROM v_timeline t JOIN v_entry e USING (seq) WHERE t.sub = '" LOT "'",
         "correction");
}
