/* What entries say in one sentence, and the words of values. */
#include "kinds.h"
#include "sentence.h"
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

TestSuite(sentence, .init = set_up, .fini = tear_down);

static const struct {
    const char *sub, *kind, *fields, *line;
} lines[] = {
    { "party/P001", "party",
      "{\"science\":{\"name\":\"Ottoline Harrow\",\"partyType\":\"person\",\"role\":"
      "[\"collector\",\"preparator\"]}}",
      "Ottoline Harrow, person (collector and preparator)" },
    { "party/P002", "party", "{\"science\":{\"name\":\"Teodor Vane\"}}", "Teodor Vane" },
    { "site/S001", "site",
      "{\"open\":{\"countryCode\":\"US\"},\"science\":{\"siteName\":\"Sallow Draw\"},\"sale\":"
      "{\"county\":{\"answer\":\"not known\"},\"stateProvince\":\"Kansas\"}}",
      "Sallow Draw, Kansas, US" },
    { "site/S001", "land-status",
      "{\"sale\":{\"landCategory\":\"private\"},\"land\":{\"from\":\"2001\",\"surfaceOwner\":"
      "{\"ref\":\"party/P002\"}}}",
      "Land: private, owner Teodor Vane, from 2001" },
    { "horizon/H-A", "horizon",
      "{\"sale\":{\"formation\":\"Niobrara Formation\",\"earliestStage\":\"Santonian\"}}",
      "Niobrara Formation, Santonian" },
    { "horizon/H-B", "horizon", "{\"science\":{\"zone\":\"x\"}}", "Layer" },
    { "permission/L1", "permission",
      "{\"sale\":{\"permissionType\":\"lease\"},\"land\":{\"grantor\":{\"ref\":\"party/P002\"},"
      "\"holder\":{\"ref\":\"party/P001\"},\"validFrom\":\"2025-01-01\",\"validUntil\":"
      "\"until ended\"}}",
      "Permission: lease, given by Teodor Vane to Ottoline Harrow, from 2025-01-01 until"
      " ended" },
    { "permission/L1", "permission-change",
      "{\"land\":{\"what\":\"suspended\",\"from\":\"2025-06-01\",\"until\":\"2025-07-01\"}}",
      "Permission suspended from 2025-06-01 until 2025-07-01" },
    { "permission/L1", "permission-report",
      "{\"land\":{\"filedOn\":\"2026-01-31\",\"specimensReported\":1}}",
      "Report filed on 2026-01-31: 1 piece reported" },
    { "field-day/D1", "field-day",
      "{\"sale\":{\"eventDate\":\"2026-05-02\",\"site\":{\"ref\":\"site/S001\"},\"recordedBy\":"
      "[{\"ref\":\"party/P001\"}]}}",
      "Day in the field on 2026-05-02 at site/S001 with Ottoline Harrow" },
    { "dealing/J1", "dealing",
      "{\"science\":{\"type\":\"preparation job\",\"opened\":\"2026-01-12\"}}",
      "Preparation job, opened 2026-01-12" },
    { "place/T1", "placement",
      "{\"private\":{\"what*\":[{\"ref\":\"specimen/A\"},{\"ref\":\"specimen/B\"}],\"date\":"
      "\"2026-05-03\",\"placeName\":\"flat 7\"}}",
      "2 put in flat 7 on 2026-05-03" },
    { "place/T2", "placement",
      "{\"private\":{\"what*\":[{\"ref\":\"specimen/A\"}],\"date\":\"2026-05-03\"}}",
      "1 put in place/T2 on 2026-05-03" },
    { "specimen/A", "collecting",
      "{\"sale\":{\"eventDate\":\"2026-05-02\",\"recordedBy\":[{\"ref\":\"party/P001\"}],\"site\":"
      "{\"ref\":\"site/S001\"},\"horizon\":{\"answer\":\"not known\"},\"objectQuantity\":1}}",
      "Found by Ottoline Harrow on 2026-05-02 at site/S001, 1 piece" },
    { "specimen/A2", "collecting", "{\"sale\":{\"madeFrom\":\"memory\"}}", "Found" },
    { "specimen/B", "arrival",
      "{\"sale\":{\"receivedOn\":\"2026-01-12\",\"fromLabel\":\"client\",\"reason\":\"loan\","
      "\"objectQuantity\":3,\"statedIdentification\":\"fish\"}}",
      "Came in from client on 2026-01-12 for loan: fish, 3 pieces" },
    { "specimen/A", "identification",
      "{\"open\":{\"whatItIs\":\"natural fossil\",\"vernacularName\":\"crinoid\"},\"sale\":"
      "{\"identifiedBy\":[{\"ref\":\"party/P001\"},{\"ref\":\"party/P009\"}],\"sure\":\"sure\"}}",
      "Identified by Ottoline Harrow and party/P009 as crinoid, natural fossil (sure)" },
    { "specimen/A", "numbering",
      "{\"science\":{\"number\":\"WSM 12\",\"numberType\":\"catalogue\"}}",
      "Catalogue number WSM 12" },
    { "specimen/A", "measurement",
      "{\"sale\":{\"what\":\"length\",\"value\":\"12.50\",\"unit\":\"cm\",\"on\":\"2026-05-20\"}}",
      "Length: 12.50 cm, measured on 2026-05-20" },
    { "specimen/A", "measurement",
      "{\"sale\":{\"what\":\"pieces\",\"recount\":1512,\"on\":\"2026-05-20\"}}",
      "Counted again on 2026-05-20: 1512 pieces" },
    { "specimen/A", "preparation",
      "{\"sale\":{\"preparationDate\":\"2026-05-20\",\"preparedBy\":[{\"ref\":\"party/P002\"}],"
      "\"steps\":[{\"method\":\"airscribe\"},{\"method\":\"glue\"},{\"method\":\"airscribe\"}]}}",
      "Worked on by Teodor Vane on 2026-05-20: airscribe and glue" },
    { "specimen/A", "condition",
      "{\"sale\":{\"examinedOn\":\"2026-05-21\",\"occasion\":\"for sale\"}}",
      "Examined on 2026-05-21 (for sale)" },
    { "specimen/A", "custody",
      "{\"sale\":{\"fromLabel\":\"us\",\"toLabel\":\"museum\",\"handedOver\":\"2026-06-01\","
      "\"reason\":\"loan\"},\"science\":{\"from\":{\"ref\":\"party/P001\"}}}",
      "Handed over by Ottoline Harrow to museum on 2026-06-01 for loan" },
    { "specimen/A", "title",
      "{\"sale\":{\"fromLabel\":\"nobody before\",\"date\":\"2026-05-02\",\"manner\":"
      "\"found on own land\"},\"science\":{\"to\":{\"ref\":\"party/P001\"}}}",
      "Ownership passed from nobody before to Ottoline Harrow on 2026-05-02 (found on own land)" },
    { "specimen/A", "division",
      "{\"open\":{\"side\":\"divided\"},\"sale\":{\"date\":\"2026-05-30\",\"purpose\":\"cut\","
      "\"intoCount\":2,\"intoQuantity\":2,\"remainder\":0}}",
      "Divided on 2026-05-30 (cut) into 2 new numbers, 2 pieces given out, 0 left" },
    { "specimen/C", "division",
      "{\"open\":{\"side\":\"came out\"},\"sale\":{\"parent\":{\"ref\":\"specimen/A\"},"
      "\"objectQuantity\":1}}",
      "Came out of specimen/A, 1 piece" },
    { "specimen/D", "joining",
      "{\"open\":{\"side\":\"whole\"},\"sale\":{\"date\":\"2026-05-30\",\"why\":\"refit\","
      "\"parts*\":[{\"ref\":\"specimen/A\"},{\"ref\":\"specimen/B\"}]}}",
      "Joined on 2026-05-30 from 2 parts (refit)" },
    { "specimen/A", "joining",
      "{\"open\":{\"side\":\"part\"},\"sale\":{\"date\":\"2026-05-30\",\"why\":\"refit\",\"whole\":"
      "{\"ref\":\"specimen/D\"}}}",
      "Now part of specimen/D, since 2026-05-30 (refit)" },
    { "specimen/A", "relation",
      "{\"sale\":{\"other\":{\"ref\":\"specimen/B\"},\"relation\":\"counterpart of\"}}",
      "Counterpart of specimen/B" },
    { "specimen/K", "making",
      "{\"open\":{\"what\":\"cast\"},\"sale\":{\"takenFrom\":{\"ref\":\"specimen/A\"}}}",
      "Cast made from specimen/A" },
    { "specimen/A", "loss",
      "{\"open\":{\"nature\":\"stolen\"},\"sale\":{\"date\":\"2026-07-04\",\"quantity\":12}}",
      "Stolen on 2026-07-04: 12 pieces" },
    { "specimen/A", "document",
      "{\"sale\":{\"docType\":\"letter\"},\"land\":{\"title\":\"From the ranch\"}}",
      "Paper on file: letter, From the ranch" },
    { "specimen/A", "note", "{\"private\":{\"text\":\"line one\\nline two\"}}",
      "Note: line one line two" },
    { "specimen/A", "claim",
      "{\"open\":{\"nature\":\"ownership\",\"status\":\"open\",\"hold\":\"none\"},\"sale\":"
      "{\"byLabel\":\"landowner\"}}",
      "Claim about ownership, open, by landowner" },
    { "specimen/A", "certificate", "{\"open\":{\"audience\":\"buyer\"}}",
      "Certificate issued, audience buyer" },
    { "specimen/A", "future-kind", "{\"open\":{\"what\":\"x\"}}", "future-kind" },
};

Test(sentence, every_kind_has_its_own)
{
    int64_t first = 3;

    temp_ledger_begin(&v.t);
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++)
        temp_ledger_put_by(&v.t, v.t.owner, lines[i].sub, lines[i].kind, lines[i].fields);
    temp_ledger_commit(&v.t);
    for (size_t i = 0; i < sizeof lines / sizeof *lines; i++)
        SAYS(&v, mb_arena_printf(v.t.arena, "SELECT line FROM v_entry WHERE seq = %lld",
                                 (long long)first + (long long)i),
             lines[i].line);
}

Test(sentence, no_kind_is_forgotten)
{
    for (size_t i = 0; i < mb_kinds_count(); i++)
        cr_assert(mb_sentence_knows(mb_kinds_at(i)->name), "%s", mb_kinds_at(i)->name.at);
    cr_assert(!mb_sentence_knows(MB_STR("future-kind")));
}

Test(sentence, what_entries_are_about_is_named)
{
    struct mb_entry find =
        viewing_add(&v, "specimen/A", "collecting", "{\"sale\":{\"eventDate\":\"2026\"}}");
    const char *leaf = viewing_leaf(&v, &find);

    viewing_correct(&v, &find, "change fields", "\"sale\":{\"eventDate\":\"2026-05\"}");
    viewing_correct(&v, &find, "void (double)", "");
    viewing_add(&v, "specimen/A", "countersign",
                mb_arena_printf(v.t.arena,
                                "{\"open\":{\"whichEntry\":{\"entry\":\"%s\"},\"how\":\"key\","
                                "\"role\":\"receiver\"}}",
                                leaf));
    SAYS(&v, "SELECT line FROM v_entry WHERE sub = 'specimen/A' ORDER BY seq",
         "Found on 2026-05; Entry #3 corrected, because: typing;"
         " Entry #3 struck out: void (double), because: typing;"
         " Entry #3 signed by the other side as receiver (key)");
    SAYS(&v, "SELECT line FROM v_entry WHERE seq < 2",
         "Ledger ledger.harrowvane.example founded by Harrow & Vane Preparation;"
         " Key added for party/P001, may record enrol");
}

Test(sentence, long_texts_are_cut_at_a_letter)
{
    const char *text = "";

    for (int i = 0; i < 300; i++)
        text = mb_arena_printf(v.t.arena, "%s\xc3\xa4", text);
    viewing_add(&v, "specimen/A", "note",
                mb_arena_printf(v.t.arena, "{\"private\":{\"text\":\"%s\"}}", text));
    /* 60 letters of two bytes and the dots */
    SAYS(&v, "SELECT length(line), substr(line, -1) FROM v_entry WHERE seq = 3",
         "67|\xe2\x80\xa6");
}

Test(sentence, values_have_words)
{
    static const struct {
        const char *json, *words;
    } values[] = {
        { "\"in place\"", "in place" },
        { "240", "240" },
        { "true", "yes" },
        { "{\"answer\":\"not known\"}", "not known" },
        { "{\"ref\":\"site/S001\"}", "site/S001" },
        { "{\"unit\":\"kg\",\"value\":\"12.50\"}", "12.50 kg" },
        { "[\"a\",{\"ref\":\"party/P1\"}]", "a; party/P1" },
        { "[]", "" },
        { "[{\"part\":\"GPS\",\"value\":\"5\",\"unit\":\"m\"}]", "part: GPS, value: 5, unit: m" },
        { "{\"bytes\":3,\"file\":\"ab\",\"name\":\"x.jpg\",\"type\":\"image/jpeg\"}", "ab" },
    };

    for (size_t i = 0; i < sizeof values / sizeof *values; i++) {
        const mb_json *value;
        struct mb_str words;

        cr_assert_eq(mb_json_read(v.t.arena, mb_str_of(values[i].json), MB_JSON_STRICT, &value,
                                  &v.err),
                     MB_OK, "%s", v.err.text);
        words = mb_words(v.t.arena, value);
        cr_assert(mb_str_is(words, values[i].words), "%s: %.*s", values[i].json,
                  MB_STR_ARG(words));
    }
    cr_assert_null(mb_words(v.t.arena, NULL).at);
}
