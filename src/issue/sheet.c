/*
 * The sheet on paper: what the certificate inside says, in words, with how to check it. Nothing is
 * printed that is not in the file; where the page and the data differ, the data was checked.
 */
#include <markerbed/certificate.h>

#include <math.h>
#include <string.h>

#include "canvas.h"
#include "pdf.h"
#include "picture.h"
#include "qr.h"
#include "text.h"
#include "verify_bundle.h"
#include "words.h"

#define MARGIN_MM 16.0
#define FOOT_MM 12.0
#define LABEL_MM 46.0
#define GAP_MM 4.0

static const struct mb_ink black = { 0x1A1A1A, 0 }, grey = { 0x5A5A5A, 0 }, pale = { 0xB8B8B8, 0 };

struct section {
    const char *title;
    const char *names; /* of statement lines, divided by spaces, in the order of printing */
};

/* In the order in which a buyer has to know it. */
static const struct section sections[] = {
    { "What it is",
      "whatItIs making vernacularName scientificName identificationQualifier typeStatus objectForm"
      " objectQuantity recount individuals joined divided preservation elements"
      " verbatimIdentification statedIdentification identifiedBy identifierTie identificationSure"
      " materialClass" },
    { "That this is the piece", "identifyingMarks dimensions mass numberOnObject" },
    { "How much is original",
      "shares elementsCount lotSummary lotExamined notExamined frame form examinedOn examinerTie"
      " means" },
    { "Joins, rock, surface, work", "joins rock surfaces preparationSittings preparation" },
    { "Where and when it was found",
      "eventDate recordedBy inPlace collectingMadeFrom countryCode countryOfDiscovery"
      " stateProvince county coarsePlace siteName decimalLatitude decimalLongitude"
      " coordinateUncertaintyInMeters placeHeldBackBy formation member bed earliestStage"
      " latestStage" },
    { "Land and permission, as recorded", "standing landCategory permissionType saleAllowed" },
    { "Who held and owned it",
      "receivedOn fromLabel labelLink custody title loss claims relations earlierCertificates"
      " corrections" },
    { "Hazards and care", "hazardsSeen hazards stability care" },
};
enum { SECTIONS = sizeof sections / sizeof *sections };

struct sheet {
    mb_arena *arena;
    mb_canvas *canvas;
    double width, height, y;
    const struct mb_bundle_check *check;
    const struct mb_bundle_entry *certificate;
    const mb_json *lines;
    const char *id;
    struct mb_error *err;
    enum mb_rc rc;
};

static double bottom(const struct sheet *s)
{
    return s->height - MARGIN_MM - FOOT_MM;
}

static double text_width(const struct sheet *s)
{
    return s->width - 2 * MARGIN_MM;
}

static void draw(struct sheet *s, const struct mb_type *type, const char *text, double x,
                 double width, double *height)
{
    if (!s->rc)
        s->rc = mb_canvas_text(s->canvas, type, mb_str_of(text), x, s->y, width, height, s->err);
}

static void foot(struct sheet *s)
{
    const struct mb_type type = { .size_pt = 7, .ink = grey };
    double y = s->y;

    s->y = s->height - MARGIN_MM - 6;
    draw(s, &type,
         mb_arena_printf(s->arena, "%.*s, entry %lld, page %d · certificate %s",
                         MB_STR_ARG(s->check->bundle->origin), (long long)s->certificate->index,
                         mb_canvas_pages(s->canvas), s->id),
         MARGIN_MM, text_width(s), NULL);
    s->y = y;
}

static void next_page(struct sheet *s)
{
    mb_canvas_page(s->canvas);
    foot(s);
    s->y = MARGIN_MM;
}

/* A long text flows over pages; the left column stays beside its beginning. */
static void flow(struct sheet *s, const struct mb_type *type, const char *text, double x,
                 double width)
{
    mb_block *block;

    if (s->rc)
        return;
    s->rc = mb_block_new(s->canvas, type, mb_str_of(text), width, &block, s->err);
    if (s->rc)
        return;
    while (!mb_block_done(block)) {
        double room = bottom(s) - s->y;

        if (mb_block_fits(block, room) <= 0) {
            if (s->y <= MARGIN_MM) /* one line taller than a page: rather long than lost */
                room = INFINITY;
            else {
                next_page(s);
                continue;
            }
        }
        s->y += mb_block_draw(block, x, s->y, room);
    }
    mb_block_free(block);
}

static void rule(struct sheet *s)
{
    const struct mb_stroke stroke = { .width_mm = 0.2, .ink = pale };

    mb_canvas_line(s->canvas, MARGIN_MM, s->y, s->width - MARGIN_MM, s->y, &stroke);
    s->y += 1.2;
}

static void section_title(struct sheet *s, const char *title)
{
    const struct mb_type type = { .size_pt = 10.5, .weight = 700, .ink = black };

    if (s->y + 16 > bottom(s))
        next_page(s);
    s->y += 2.5;
    flow(s, &type, title, MARGIN_MM, text_width(s));
    rule(s);
}

static void pair(struct sheet *s, const char *label, const char *value)
{
    const struct mb_type left = { .size_pt = 8.5, .ink = grey };
    const struct mb_type right = { .size_pt = 9.5, .ink = black };
    double top, label_height = 0;
    int page;

    if (s->y + 8 > bottom(s))
        next_page(s);
    top = s->y;
    draw(s, &left, label, MARGIN_MM, LABEL_MM - GAP_MM, &label_height);
    page = mb_canvas_pages(s->canvas);
    flow(s, &right, value, MARGIN_MM + LABEL_MM, text_width(s) - LABEL_MM);
    if (page == mb_canvas_pages(s->canvas) && s->y < top + label_height)
        s->y = top + label_height;
    s->y += 0.8;
}

static const mb_json *line_named(const struct sheet *s, struct mb_str name)
{
    MB_JSON_EACH(line, s->lines)
    {
        if (mb_str_equal(mb_json_str(mb_json_get(line, "name")), name))
            return line;
    }
    return NULL;
}

static const char *said(const struct sheet *s, const char *name)
{
    const mb_json *line = line_named(s, mb_str_of(name));

    return line ? mb_words_line(s->arena, line) : NULL;
}

/* Carved, cast and composite come first, then what it is. */
static const char *headline(const struct sheet *s)
{
    const char *what = said(s, "whatItIs"), *group = said(s, "vernacularName");
    const char *name = said(s, "scientificName"), *made = said(s, "making");
    const char *field = said(s, "verbatimIdentification");
    const char *out = made ? made : group ? group : field ? field : "Not identified on the record";

    if (name && group && strcmp(name, "not known") != 0)
        out = mb_arena_printf(s->arena, "%s, %s", out, name);
    if (what && strcmp(what, "natural fossil") != 0 && strcmp(what, "trace") != 0)
        out = mb_arena_printf(s->arena, "%s: %s", what, out);
    return out;
}

static const char *audience_words(enum mb_audience audience)
{
    static const char *const words[MB_AUDIENCE_COUNT] = {
        [MB_PUBLIC] = "For the public. This is not a disclosure for a sale.",
        [MB_BUYER] = "Disclosure to a buyer.",
        [MB_INSTITUTION] = "For an institution, with place and permissions.",
        [MB_AUDITOR] = "For a land audit. This is not a disclosure for a sale.",
    };

    return words[audience];
}

/* The first attached photograph, at the right of the head. */
static double photo(struct sheet *s)
{
    double side = 62;

    for (size_t i = 0; i < s->check->bundle->file_count; i++) {
        struct mb_mm_box box = { s->width - MARGIN_MM - side, s->y, side, side * 0.75 }, drawn;
        struct mb_picture picture;
        struct mb_error ignored = { 0 };

        if (mb_picture_look(s->check->bundle->files[i].bytes, &picture, NULL))
            continue;
        if (mb_canvas_picture(s->canvas, &picture, box, MB_FIT_CORNER, &drawn, &ignored))
            continue;
        return side + GAP_MM;
    }
    return 0;
}

static void head(struct sheet *s)
{
    const struct mb_type small = { .size_pt = 8.5, .ink = grey };
    const struct mb_type large = { .size_pt = 17, .weight = 700, .ink = black };
    const struct mb_type middle = { .size_pt = 10, .ink = black };
    const mb_json *about = mb_bundle_about(s->arena, s->check);
    double taken, top, width;

    foot(s);
    flow(s, &small,
         mb_arena_printf(s->arena, "%.*s · %.*s",
                         MB_STR_ARG(mb_json_str(mb_json_get(about, "name"))),
                         MB_STR_ARG(s->check->bundle->origin)),
         MARGIN_MM, text_width(s));
    s->y += 2;
    top = s->y;
    taken = photo(s);
    width = text_width(s) - taken;
    flow(s, &large, headline(s), MARGIN_MM, width);
    s->y += 1.5;
    flow(s, &middle,
         mb_arena_printf(s->arena, "Number %.*s", (int)s->certificate->entry.sub.len - 9,
                         s->certificate->entry.sub.at + 9),
         MARGIN_MM, width);
    flow(s, &middle, audience_words(s->check->audience), MARGIN_MM, width);
    flow(s, &middle,
         mb_arena_printf(s->arena,
                         "This sheet shows the record on %s; it says nothing of later, and does"
                         " not show who owns the piece today.",
                         mb_json_cstr(s->arena, mb_json_get(about, "asOf"))),
         MARGIN_MM, width);
    if (taken > 0 && s->y < top + 62 * 0.75)
        s->y = top + 62 * 0.75;
    s->y += 1;
}

static void print_section(struct sheet *s, const struct section *section)
{
    struct mb_str rest = mb_str_of(section->names), name;
    bool begun = false;

    while (rest.len) {
        const mb_json *line;
        struct mb_str title;

        mb_str_cut(rest, ' ', &name, &rest);
        line = line_named(s, name);
        if (!line)
            continue;
        if (!begun)
            section_title(s, section->title);
        begun = true;
        title = mb_statement_title(s->check->table, name);
        pair(s,
             mb_arena_printf(s->arena, "%.*s%s", MB_STR_ARG(title),
                             mb_json_true(mb_json_get(line, "attested")) ? " (stated by the issuer)"
                                                                         : ""),
             mb_words_line(s->arena, line));
    }
}

static void print_withheld(struct sheet *s)
{
    const mb_json *withheld = mb_json_get(mb_bundle_about(s->arena, s->check), "withheld");
    mb_json *told = mb_json_array(s->arena);

    if (!withheld || withheld->count == 0)
        return;
    section_title(s, "Not given here");
    MB_JSON_EACH(row, withheld)
    {
        const char *text = mb_arena_printf(
            s->arena, "A field of %.*s (%.*s), at the wish: %.*s",
            MB_STR_ARG(mb_json_str(mb_json_get(row, "subject"))),
            MB_STR_ARG(mb_json_str(mb_json_get(row, "kind"))),
            MB_STR_ARG(mb_json_str(mb_json_get(row, "reason"))));
        bool again = false;

        MB_JSON_EACH(have, told)
        {
            again = again || mb_json_text_is(have, text);
        }
        if (!again)
            pair(s, "", mb_json_cstr(s->arena, mb_json_add_text(s->arena, told, text)));
    }
}

static const char *signers(const struct sheet *s)
{
    const mb_json *list = mb_json_get(mb_bundle_about(s->arena, s->check), "signers");
    char *out = mb_arena_text(s->arena, "");

    MB_JSON_EACH(signer, list)
    {
        out = mb_arena_printf(s->arena, "%s%s%.*s (%lld entries)", out, *out ? ", " : "",
                              MB_STR_ARG(mb_json_str(mb_json_get(signer, "holder"))),
                              (long long)mb_json_int(mb_json_get(signer, "entries"), 0));
    }
    return out;
}

static void print_check(struct sheet *s)
{
    const struct mb_type type = { .size_pt = 8.5, .ink = black };
    const struct mb_type mono = { .size_pt = 9, .mono = true, .ink = black };
    const mb_json *about = mb_bundle_about(s->arena, s->check);
    const char *text = mb_arena_printf(s->arena, "%.*s %s",
                                       MB_STR_ARG(s->check->bundle->origin), s->id);
    const struct mb_qr *qr;
    const double side = 34;
    double top;

    if (s->y + side + 14 > bottom(s))
        next_page(s);
    section_title(s, "How to check this sheet");
    if (!s->rc)
        s->rc = mb_qr_make(s->arena, mb_str_of(text), MB_QR_LEVEL_M, &qr, s->err);
    if (s->rc)
        return;
    top = s->y;
    mb_canvas_qr(s->canvas, qr, s->width - MARGIN_MM - side, top, side);
    flow(s, &type,
         "1. The proof is inside this PDF, as the attachment certificate.json. Ask for the file if"
         " you have only paper.\n"
         "2. Compare the fingerprint below, all groups, with the one you were given by another"
         " way.\n"
         "3. Check the file with `markerbed verify`, or with a verifier written by somebody else:"
         " the format is public. Then compare this page with what it prints.",
         MARGIN_MM, text_width(s) - side - GAP_MM);
    s->y += 1.5;
    flow(s, &mono, mb_json_cstr(s->arena, mb_json_get(about, "fingerprintGrouped")), MARGIN_MM,
         text_width(s) - side - GAP_MM);
    s->y += 1.5;
    flow(s, &type, mb_arena_printf(s->arena, "Signed by: %s.", signers(s)), MARGIN_MM,
         text_width(s) - side - GAP_MM);
    if (s->y < top + side)
        s->y = top + side;
    s->y += 1;
    flow(s, &type,
         "Checking shows that nothing was left out or rewritten. It cannot show that what was"
         " written is true, or that this paper does not belong to another stone. It is no finding"
         " of law: it says what the record shows.",
         MARGIN_MM, text_width(s));
}

static enum mb_rc draw_sheet(struct sheet *s, struct mb_str *out)
{
    for (size_t i = 0; i < s->check->certificate_count && !s->rc; i++) {
        char id[MB_HASH_B64U_LEN + 1];

        s->certificate = s->check->certificates[i];
        mb_b64u_write(id, s->certificate->entry.leaf.b, 32);
        s->id = mb_arena_text(s->arena, id);
        s->lines =
            mb_json_get(mb_entry_field(&s->certificate->entry, "statement", NULL), "lines");
        s->y = MARGIN_MM;
        if (i > 0)
            mb_canvas_page(s->canvas);
        head(s);
        for (size_t j = 0; j < SECTIONS; j++)
            print_section(s, &sections[j]);
        print_withheld(s);
        print_check(s);
    }
    return s->rc ? s->rc : mb_canvas_finish(s->canvas, s->arena, out, s->err);
}

static enum mb_rc open_certificate(mb_arena *arena, struct mb_str certificate,
                                   struct mb_bundle_check *check, struct mb_error *err)
{
    const mb_json *json;
    enum mb_rc rc = mb_json_read(arena, certificate, MB_JSON_STRICT, &json, err);

    check->arena = arena;
    check->bundle = MB_NEW(arena, struct mb_bundle);
    check->findings = mb_findings_new(arena, 10);
    check->foreign_left = MB_FOREIGN_MAX;
    if (!rc)
        rc = mb_bundle_read(arena, json, check->bundle, err);
    if (rc)
        return rc;
    mb_bundle_verify(check);
    if (check->certificate_count == 0 || mb_findings_count(check->findings, MB_FAULT))
        return mb_fail(err, MB_REFUSED,
                       "the certificate does not hold, so no sheet is printed of it: %s",
                       mb_findings_first(check->findings)->text);
    return MB_OK;
}

enum mb_rc mb_sheet_pdf(mb_arena *arena, struct mb_str certificate, const char *paper,
                        struct mb_str *pdf, struct mb_error *err)
{
    struct mb_bundle_check check = { 0 };
    struct sheet s = { .arena = arena, .check = &check, .err = err };
    struct mb_pdf_file file = { "certificate.json", "application/json",
                                "The certificate: check it with markerbed verify", certificate };
    bool letter = paper && strcmp(paper, "Letter") == 0;
    struct mb_canvas_setup setup = { .form = MB_CANVAS_PDF };
    struct mb_pdf_dress dress = { .language = "en", .xmp = true, .file = &file };
    struct mb_str drawn;
    enum mb_rc rc;

    if (paper && !letter && strcmp(paper, "A4") != 0)
        return mb_fail(err, MB_REFUSED, "'%s' is no paper size; choose A4 or Letter", paper);
    rc = open_certificate(arena, certificate, &check, err);
    if (rc)
        return rc;
    setup.width_mm = s.width = letter ? MB_LETTER_WIDTH_MM : MB_A4_WIDTH_MM;
    setup.height_mm = s.height = letter ? MB_LETTER_HEIGHT_MM : MB_A4_HEIGHT_MM;
    setup.title = mb_arena_printf(arena, "Sheet for %.*s",
                                  MB_STR_ARG(check.certificates[0]->entry.sub));
    setup.author = mb_arena_copy(arena, check.bundle->origin.at, check.bundle->origin.len);
    setup.created = dress.created = check.certificates[0]->entry.iat;
    rc = mb_canvas_open(&setup, &s.canvas, err);
    if (rc)
        return rc;
    rc = draw_sheet(&s, &drawn);
    mb_canvas_close(s.canvas);
    return rc ? rc : mb_pdf_finish(arena, drawn, &dress, pdf, err);
}
