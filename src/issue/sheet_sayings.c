#include "sheet_sayings.h"

const char *const mb_sheet_steps[MB_SHEET_STEPS] = {
    "The proof is in the file that this page was printed from. If you have only paper, ask for the"
    " file.",
    "Compare the fingerprint below, all groups, with the one that the issuer gave you by another"
    " way: by telephone, on an invoice, on a card.",
    "Open the file with `markerbed verify`, or with a program written by somebody else: the format"
    " is public. Then compare this page with what it prints.",
};

const char mb_sheet_reach[] =
    "What can be worked out: the statement in the file follows from its signed entries by public"
    " rules, and checking works it out again; compare this page with it. Lines marked “the issuer's"
    " word” do not follow from entries. What is only stated: what stands in the entries themselves."
    " People wrote it down.\n"
    "Checking shows that nothing was left out or rewritten since. It cannot show that what was"
    " written is true, or that this paper does not belong to another stone. It is no finding of"
    " law: it says what the record shows.";

const char mb_sheet_boxes[] =
    "Letters that look like small boxes could not be printed: the computer that made this page has"
    " no font for them. The file and the web page have them as they were written.";

const char mb_sheet_preview_mark[] = "PREVIEW, not signed";

const char mb_sheet_preview_code[] = "PREVIEW, not signed. The code comes here.";

const char mb_sheet_preview_print[] =
    "PREVIEW, not signed. The fingerprint comes here, in groups of four letters.";

const char *mb_sheet_signed(mb_arena *arena, const struct mb_page *page)
{
    if (page->preview)
        return mb_arena_printf(arena,
                               "PREVIEW, not signed. Signed until now by: %s; the signature under"
                               " the whole comes when it is issued.",
                               page->signers);
    return mb_arena_printf(arena, "Signed by: %s.", page->signers);
}

const char *mb_sheet_day(mb_arena *arena, const struct mb_page *page)
{
    return mb_arena_printf(arena,
                           "This sheet shows the record on %s. It says nothing of later, and does"
                           " not show who owns the piece today.",
                           page->as_of);
}
