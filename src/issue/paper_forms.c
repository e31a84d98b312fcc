/* Forms and receipts, filled in from the record, to be signed by hand. No form speaks of money: an
 * institution that does gets itself and the giver into trouble (the checklist of registrars that
 * registrar.c answers, point 19). */
#include <string.h>

#include "papers.h"
#include "text.h"

#define BLANK "______________________________"

/* ---- which ---- */

static bool all_of(const struct mb_handing *h, const char *group)
{
    for (size_t i = 0; i < h->count; i++)
        if (strcmp(mb_handing_land(h, mb_handing_subject(h, i)), group) != 0)
            return false;
    return true;
}

static const char *any_of(const struct mb_handing *h, const char *group)
{
    for (size_t i = 0; i < h->count; i++)
        if (strcmp(mb_handing_land(h, mb_handing_subject(h, i)), group) == 0)
            return mb_handing_id(h, i);
    return NULL;
}

/* gift, loan, deposit by the dealing that the newest change of hands names; NULL: it says none. */
static const char *by_dealing(const struct mb_handing *h)
{
    struct mb_str dealing = mb_handing_ref(h, mb_handing_subject(h, 0), "dealing", NULL);
    const mb_json *type = dealing.at ? mb_handing_value(h, dealing, "dealing", "type") : NULL;

    return mb_json_text_is(type, "loan")      ? "loan"
           : mb_json_text_is(type, "gift")    ? "gift"
           : mb_json_text_is(type, "deposit") ? "deposit"
                                              : NULL;
}

static enum mb_rc as_gift(const struct mb_handing *h, bool asked, enum mb_handed_as *as,
                          const char **why, struct mb_error *err)
{
    const char *federal = any_of(h, "federal"), *tribal = any_of(h, "tribal");

    if (asked && (federal || tribal))
        return mb_fail(err, MB_REFUSED,
                       "%s comes from %s land: there is no deed of gift for it; hand it over"
                       " --as deposit, with the agency's and the repository's papers",
                       federal ? federal : tribal, federal ? "federal" : "tribal");
    *as = MB_AS_NOTHING;
    if (federal || tribal)
        *why = mb_arena_printf(h->arena, "%s comes from federal or tribal land, which a deed of"
                                         " gift cannot pass on", federal ? federal : tribal);
    else if (any_of(h, "not known"))
        *why = mb_arena_printf(h->arena, "whose land %s comes from is not on record",
                               any_of(h, "not known"));
    else if (!all_of(h, "private"))
        *why = "not all of it comes from private land: ask counsel who can give it";
    else
        *as = MB_AS_GIFT;
    for (size_t i = 0; i < h->count && *as == MB_AS_GIFT; i++)
        if (!mb_handing_known(mb_handing_value(h, mb_handing_subject(h, i), "title", "to"))) {
            *as = MB_AS_NOTHING;
            *why = mb_arena_printf(h->arena, "who owns %s is not on record", mb_handing_id(h, i));
        }
    return MB_OK;
}

enum mb_rc mb_papers_choose(const struct mb_handing *h, const char *asked, enum mb_handed_as *as,
                            const char **why, struct mb_error *err)
{
    const char *word = asked ? asked : by_dealing(h);

    *why = NULL;
    if (!word && (any_of(h, "federal") || any_of(h, "tribal")))
        word = "deposit";
    if (word && strcmp(word, "loan") == 0)
        *as = MB_AS_LOAN;
    else if (word && strcmp(word, "deposit") == 0)
        *as = MB_AS_DEPOSIT;
    else if (!word || strcmp(word, "gift") == 0)
        return as_gift(h, asked != NULL, as, why, err);
    else
        return mb_fail(err, MB_REFUSED, "'%s' is no way to hand over; choose gift, loan or"
                                        " deposit", word);
    if (*as == MB_AS_DEPOSIT && (any_of(h, "federal") || any_of(h, "tribal")))
        *why = "the land is federal or tribal: the piece is not the finder's to give";
    return MB_OK;
}

/* ---- parts ---- */

static void objects(const struct mb_handing *h, struct mb_page *page)
{
    static const size_t columns = 3;
    struct mb_page_item *item;
    const char **cells = MB_ARRAY(h->arena, columns * (h->count + 1), const char *), **at = cells;

    mb_page_section(page, "Objects");
    *at++ = "Number";
    *at++ = "What it is";
    *at++ = "Owner by the record";
    for (size_t i = 0; i < h->count; i++) {
        *at++ = mb_handing_id(h, i);
        *at++ = mb_paper_object(h, i);
        *at++ = mb_paper_giver(h, i);
    }
    item = mb_page_add(page, MB_PAGE_TABLE);
    item->cells = cells;
    item->columns = columns;
    item->rows = h->count + 1;
}

static void signatures(struct mb_page *page, const char *one, const char *other)
{
    mb_page_section(page, "Signatures");
    mb_page_pair(page, one, BLANK);
    mb_page_pair(page, "Name in capitals", BLANK);
    mb_page_pair(page, "Day", BLANK);
    mb_page_pair(page, other, BLANK);
    mb_page_pair(page, "Name and office", BLANK);
    mb_page_pair(page, "Day", BLANK);
}

static void parties(const struct mb_handing *h, struct mb_page *page, const char *giver,
                    const char *receiver)
{
    mb_page_section(page, "Parties");
    mb_page_pair(page, giver, mb_paper_giver(h, 0));
    mb_page_pair(page, "Handed over by", h->issuer);
    mb_page_pair(page, receiver, h->to_words);
}

static void conditions(const struct mb_handing *h, struct mb_page *page)
{
    for (size_t i = 0; i < h->count; i++) {
        const mb_json *value =
            mb_handing_value(h, mb_handing_subject(h, i), "title", "conditions");
        const char *words = value ? mb_handing_words(h, value) : "not on record";

        mb_page_pair(page, mb_arena_printf(h->arena, "Conditions on record, %s",
                                           mb_handing_id(h, i)),
                     words);
    }
}

static void certificate(const struct mb_handing *h, struct mb_page *page)
{
    mb_page_section(page, "What this paper rests on");
    mb_page_pair(page, "Certificate", h->pages[0]->id);
    mb_page_pair(page, "Ledger", h->origin);
    mb_page_pair(page, "As of", h->day);
    mb_page_say(page, "The record says what was written down, and when. It cannot show that it is"
                      " true, nor work that nobody disclosed.");
}

/* ---- the three forms ---- */

static void gift(const struct mb_handing *h, struct mb_page *page)
{
    parties(h, page, "Giver (owner by the record)", "Receiver");
    objects(h, page);
    mb_page_section(page, "Terms for counsel to settle");
    mb_page_say(page, "The giver states to be the owner of the objects named above, free to give"
                      " them, and gives them to the receiver for good.");
    conditions(h, page);
    mb_page_pair(page, "Images, casts and scans", "rights of giver and receiver: " BLANK);
    mb_page_pair(page, "Name of the giver in print", "to be named / not to be named: " BLANK);
    mb_page_pair(page, "Place of the find", "how coarse in public, who decides: " BLANK);
    signatures(page, "Giver", "For the receiver, after counsel");
}

static void loan(const struct mb_handing *h, struct mb_page *page)
{
    const mb_json *due = mb_handing_value(h, mb_handing_subject(h, 0), "custody", "dueBack");
    const mb_json *terms = mb_handing_value(h, mb_handing_subject(h, 0), "custody", "terms");

    parties(h, page, "Lender (owner by the record)", "Borrower");
    objects(h, page);
    mb_page_section(page, "Terms for counsel to settle");
    mb_page_pair(page, "Due back", due ? mb_handing_words(h, due) : BLANK);
    mb_page_pair(page, "Terms on record", terms ? mb_handing_words(h, terms) : BLANK);
    mb_page_pair(page, "Sampling, sections, casts", "only with the owner's consent in writing");
    mb_page_pair(page, "Preparation and repair", "only with the owner's consent in writing");
    mb_page_pair(page, "Images and publication", BLANK);
    conditions(h, page);
    signatures(page, "Lender", "For the borrower, after counsel");
}

static void deposit(const struct mb_handing *h, struct mb_page *page)
{
    parties(h, page, "Owner by the record", "Repository");
    objects(h, page);
    mb_page_section(page, "Papers that have to lie with this");
    for (size_t i = 0; i < h->count; i++) {
        struct mb_str permission =
            mb_handing_ref(h, mb_handing_subject(h, i), "permission", NULL);
        const mb_json *number = permission.at ? mb_handing_value(h, permission, "permission",
                                                                 "permitNumber")
                                              : NULL;

        mb_page_pair(page, mb_arena_printf(h->arena, "Permit of %s", mb_handing_id(h, i)),
                     number ? mb_handing_words(h, number) : "not on record: " BLANK);
    }
    mb_page_pair(page, "Repository agreement with the agency, number and day", BLANK);
    mb_page_pair(page, "Letter of acceptance of the repository, day", BLANK);
    mb_page_pair(page, "Agency told of the deposit, day", BLANK);
    mb_page_pair(page, "Accession and catalogue numbers, told to the agency", BLANK);
    mb_page_say(page, "This is a receipt for keeping. It passes no title: what comes from the land"
                      " of an agency stays the public's.");
    conditions(h, page);
    signatures(page, "Handed over by", "For the repository, after counsel");
}

enum mb_rc mb_paper_form(const struct mb_handing *h, enum mb_handed_as as, const char *paper,
                         struct mb_str *pdf, struct mb_error *err)
{
    static const char *const titles[] = {
        [MB_AS_GIFT] = "Deed of gift",
        [MB_AS_LOAN] = "Loan agreement",
        [MB_AS_DEPOSIT] = "Receipt of a repository",
    };
    struct mb_page *page = mb_paper_new(h, 0);
    const struct mb_paper form = { .title = titles[as],
                                   .banner = "DRAFT, not for signing before counsel",
                                   .only = page };

    if (as == MB_AS_NOTHING)
        return mb_fail(err, MB_UNABLE, "there is no form for it");
    if (as == MB_AS_GIFT)
        gift(h, page);
    else if (as == MB_AS_LOAN)
        loan(h, page);
    else
        deposit(h, page);
    certificate(h, page);
    return mb_paper_draw(h, &form, paper, pdf, err);
}

/* ---- receipts ---- */

/* The minimum that the museum standard Spectrum 5 (Collections Trust) asks of entry, and of exit
 * (the latter from memory); money is left out on purpose. */
static const char *const lines_entry[] = {
    "Number given on entry", "Day", "Reason", "How it came in", "Address of the owner",
    "Address of whoever leaves it", "Pieces counted", "Boxes and seals",
    "Pests, dust, radiation: looked for, and found", "To be kept secret",
    "Return by, and to whom, if it is not accepted", "Terms handed out", NULL,
};
static const char *const lines_exit[] = {
    "Number of this exit", "Day", "Reason", "Destination", "Carrier", "Allowed by",
    "Pieces counted", "Boxes and seals", "Condition before leaving", "Place in the store changed",
    "Due back", NULL,
};

enum mb_rc mb_paper_receipt(const struct mb_handing *h, bool entry, const char *paper,
                            struct mb_str *pdf, struct mb_error *err)
{
    struct mb_page *page = mb_paper_new(h, 0);
    const struct mb_paper receipt = { .title = entry ? "Entry receipt" : "Exit receipt",
                                      .only = page };

    parties(h, page, "Owner by the record", entry ? "Received by" : "Released to");
    objects(h, page);
    mb_page_section(page, entry ? "On opening" : "On leaving");
    for (const char *const *line = entry ? lines_entry : lines_exit; *line; line++)
        mb_page_pair(page, *line, BLANK);
    for (size_t i = 0; i < h->count; i++) {
        const mb_json *marks =
            mb_handing_value(h, mb_handing_subject(h, i), "condition", "identifyingMarks");
        const char *words = marks ? mb_handing_said(h, MB_STR("identifyingMarks"), marks)
                                  : "none on record";

        mb_page_pair(page, mb_arena_printf(h->arena, "Marks of %s", mb_handing_id(h, i)), words);
        mb_page_pair(page, "Seen on the object", "yes / no, condition: " BLANK);
    }
    mb_page_say(page, "This receipt passes no title and makes no promise to accept.");
    signatures(page, entry ? "Left by" : "Released by", entry ? "Received by" : "Taken by");
    certificate(h, page);
    return mb_paper_draw(h, &receipt, paper, pdf, err);
}
