/* Cards: for the bench, with what is open about a specimen and its cautions; for the field. */
#include <markerbed/handover.h>
#include <markerbed/labels.h>

#include <math.h>
#include <string.h>

#include "asset.h"
#include "canvas.h"
#include "door.h"
#include "kinds.h"
#include "text.h"
#include "views.h"

#define MARGIN_MM 10.0
#define A5_WIDTH_MM 148.0
#define A5_HEIGHT_MM 210.0
#define QR_MM 26.0

static const struct mb_ink black = { 0x1A1A1A, 0 };

struct card {
    mb_arena *arena;
    mb_canvas *canvas;
    double width, height, y;
    struct mb_error *err;
    enum mb_rc rc;
};

static void next_page(struct card *c)
{
    mb_canvas_page(c->canvas);
    c->y = MARGIN_MM;
}

static void flow(struct card *c, const struct mb_type *type, const char *text, double indent,
                 double right)
{
    mb_block *block;

    if (c->rc)
        return;
    c->rc = mb_block_new(c->canvas, type, mb_str_of(text),
                         c->width - 2 * MARGIN_MM - indent - right, &block, c->err);
    while (!c->rc && !mb_block_done(block)) {
        double room = c->height - MARGIN_MM - c->y;

        if (mb_block_fits(block, room) <= 0) {
            if (c->y > MARGIN_MM) {
                next_page(c);
                continue;
            }
            room = INFINITY;
        }
        c->y += mb_block_draw(block, MARGIN_MM + indent, c->y, room);
    }
}

static void heading(struct card *c, const char *text)
{
    const struct mb_type type = { .size_pt = 11, .weight = 700, .ink = black };

    c->y += 2.5;
    flow(c, &type, text, 0, 0);
    c->y += 0.6;
}

/* With a box to tick before it. */
static void point(struct card *c, const char *text, double size)
{
    const struct mb_type type = { .size_pt = size, .ink = black };
    const struct mb_stroke line = { .width_mm = 0.25, .ink = black };
    mb_block *block;

    if (c->rc)
        return;
    c->rc = mb_block_new(c->canvas, &type, mb_str_of(text), c->width - 2 * MARGIN_MM - 5, &block,
                         c->err);
    if (c->rc)
        return;
    if (c->y + mb_block_height(block) > c->height - MARGIN_MM && c->y > MARGIN_MM)
        next_page(c);
    mb_block_free(block);
    mb_canvas_rect(c->canvas, MARGIN_MM, c->y + 0.7, 2.8, 2.8, NULL, &line);
    flow(c, &type, text, 5, 0);
    c->y += 1;
}

static void say(struct card *c, const char *text, double size)
{
    const struct mb_type type = { .size_pt = size, .ink = black };

    flow(c, &type, text, 0, 0);
    c->y += 1;
}

/* ---- the bench ---- */

static const char tasks[] =
    "SELECT 'Job or loan ' || substr(d.sub, 9) || ': ' || coalesce(d.dealing_type, 'not said')"
    " || coalesce(', due back ' || d.due_back, '') || coalesce('. ' || d.terms, '')"
    " FROM v_dealing d WHERE (d.status IS NULL OR d.status NOT IN ('closed', 'done', 'ended',"
    " 'returned', 'refused')) AND d.sub IN (SELECT dealing FROM v_dealing_piece WHERE specimen = ?1"
    " UNION SELECT f.value FROM v_field f JOIN v_entry e USING (seq) WHERE e.sub = ?1"
    " AND f.name = 'dealing')"
    " UNION ALL SELECT 'Open claim about ' || coalesce(nature, 'it') || coalesce('; asks: '"
    " || nullif(hold, 'none'), '') || '. Ask before you go on.' FROM v_claim"
    " WHERE sub = ?1 AND is_open"
    " UNION ALL SELECT 'Not looked at yet: no condition is on record.' WHERE NOT EXISTS"
    " (SELECT 1 FROM v_condition WHERE sub = ?1)"
    " UNION ALL SELECT 'Not named yet: no identification is on record.' WHERE NOT EXISTS"
    " (SELECT 1 FROM v_identification WHERE sub = ?1)"
    " UNION ALL SELECT 'Left from the last examination, not looked at: ' || not_examined"
    " FROM (SELECT not_examined FROM v_condition WHERE sub = ?1 ORDER BY seq DESC LIMIT 1)"
    " WHERE not_examined NOT IN ('none', 'nothing', '')"
    " UNION ALL SELECT 'How much is original was not measured.' WHERE EXISTS"
    " (SELECT 1 FROM v_condition WHERE sub = ?1) AND NOT EXISTS (SELECT 1 FROM v_field f"
    " JOIN v_entry e USING (seq) WHERE e.sub = ?1 AND e.kind = 'condition' AND e.voided_by IS NULL"
    " AND f.name IN ('shares', 'lotSummary') AND f.value <> 'not examined')"
    " UNION ALL SELECT 'Missing or stolen, and not recovered: entry #' || seq FROM v_loss"
    " WHERE sub = ?1 AND nature IN ('stolen', 'missing') AND closed_by IS NULL";

static const char hazards[] =
    "SELECT f.value FROM v_field f JOIN v_entry e USING (seq) WHERE e.sub = ?1"
    " AND e.voided_by IS NULL AND f.name IN ('hazards', 'hazardsSeen', 'stability', 'care')"
    " AND f.value NOT IN ('none', 'none seen', 'not examined') ORDER BY e.seq DESC";

static const char head[] =
    "SELECT coalesce(scientific_name, vernacular_name, verbatim_identification,"
    " 'not named yet') || coalesce(', ' || object_form, '') || CASE WHEN quantity_now > 1"
    " THEN ', ' || quantity_now || ' pieces' ELSE '' END, coalesce((SELECT 'Lies in '"
    " || substr(place, 7) FROM v_where WHERE v_where.sub = ?1),"
    " 'No place in the house is on record')"
    " FROM v_specimen WHERE sub = ?1";

/* Texts of one or two columns, in order. */
static enum mb_rc texts_of(struct card *c, mb_db *views, const char *sql, struct mb_str subject,
                           mb_json **out)
{
    mb_json *list = mb_json_array(c->arena);
    mb_stmt *stmt;
    bool row = true;
    enum mb_rc rc = mb_stmt_make(views, sql, &stmt, c->err);

    if (rc)
        return rc;
    mb_bind_text(stmt, 1, subject);
    while (!(rc = mb_stmt_step(stmt, &row, c->err)) && row)
        for (int i = 0; i < mb_col_count(stmt); i++)
            mb_json_add(list, mb_json_string_str(c->arena, mb_col_text(stmt, i)));
    mb_stmt_free(stmt);
    *out = list;
    return rc;
}

/* The usual cautions of hazards that the words name. */
static void put_cautions(struct card *c, const mb_json *words)
{
    const struct mb_asset *asset = mb_asset_find("vocab/hazard.json");
    const mb_json *vocab = NULL;

    heading(c, "Cautions");
    MB_JSON_EACH(word, words)
    {
        say(c, mb_arena_printf(c->arena, "On record: %.*s", MB_STR_ARG(mb_json_str(word))), 9.5);
    }
    if (!asset
        || mb_json_read(c->arena, (struct mb_str){ asset->data, asset->size }, MB_JSON_PLAIN,
                        &vocab, NULL))
        return;
    MB_JSON_EACH(term, mb_json_get(vocab, "terms"))
    {
        struct mb_str id = mb_json_str(mb_json_get(term, "id"));
        bool named = mb_str_is(id, "silica dust"); /* in any rock that is worked */

        MB_JSON_EACH(word, words)
        {
            named = named
                    || memmem(mb_json_str(word).at, mb_json_str(word).len, id.at, id.len) != NULL;
        }
        if (named && mb_json_get(term, "guard"))
            say(c, mb_arena_printf(c->arena, "%.*s: %.*s.", MB_STR_ARG(id),
                                   MB_STR_ARG(mb_json_str(mb_json_get(term, "guard")))),
                9.5);
    }
    say(c, "Common practice. Local codes, the product's safety data sheet and licensed advice come"
           " first.", 8);
}

/* "Place: Datum of the point, Uncertainty of the point": a line for each subject that is asked
 * about. What is on record as not known is an answer, and no task. */
static void put_gaps(struct card *c, const mb_json *gaps)
{
    const char *about = "", *line = NULL;

    MB_JSON_EACH(gap, gaps)
    {
        const char *next = mb_json_cstr(c->arena, mb_json_get(gap, "about"));
        const char *title = mb_json_cstr(c->arena, mb_json_get(gap, "title"));

        if (!mb_json_text_is(mb_json_get(gap, "state"), "missing") || !next || !title)
            continue;
        if (line && strcmp(about, next) != 0) {
            point(c, line, 10);
            line = NULL;
        }
        line = line ? mb_arena_printf(c->arena, "%s, %s", line, title)
                    : mb_arena_printf(c->arena, "Not on record yet, of the %s: %s", next, title);
        about = next;
    }
    if (line)
        point(c, line, 10);
}

/* Tasks are no entries: what somebody means to do is written by hand. */
static void put_by_hand(struct card *c)
{
    const struct mb_stroke line = { .width_mm = 0.25, .ink = black };
    const struct mb_stroke thin = { .width_mm = 0.15, .ink = { 0x808080, 0 } };

    heading(c, "To do, written by hand");
    for (int i = 0; i < 4; i++) {
        if (c->y + 8 > c->height - MARGIN_MM)
            next_page(c);
        c->y += 7;
        mb_canvas_rect(c->canvas, MARGIN_MM, c->y - 3.4, 2.8, 2.8, NULL, &line);
        mb_canvas_line(c->canvas, MARGIN_MM + 5, c->y, c->width - MARGIN_MM, c->y, &thin);
    }
    c->y += 1.5;
}

static void put_lines(struct card *c)
{
    const struct mb_stroke line = { .width_mm = 0.15, .ink = { 0x808080, 0 } };

    heading(c, "Day, by whom, what with, minutes, what came off or broke");
    for (int i = 0; i < 40 && c->y + 8 < c->height - MARGIN_MM; i++) {
        c->y += 8;
        mb_canvas_line(c->canvas, MARGIN_MM, c->y, c->width - MARGIN_MM, c->y, &line);
    }
}

static void put_open(struct card *c, const mb_json *tasks_known, const mb_json *gaps)
{
    double before;

    heading(c, "Open, as far as the record shows");
    before = c->y;
    MB_JSON_EACH(text, tasks_known)
        point(c, mb_arena_copy(c->arena, text->text.at, text->text.len), 10);
    put_gaps(c, gaps);
    if (c->y <= before)
        say(c, "Nothing that the record shows.", 10);
    put_by_hand(c);
}

static enum mb_rc bench_card(struct card *c, mb_ledger *ledger, mb_db *views,
                             struct mb_str subject, const mb_json *gaps)
{
    const struct mb_type large = { .size_pt = 20, .weight = 700, .ink = black };
    const struct mb_type plain = { .size_pt = 10.5, .ink = black };
    struct mb_str origin = mb_log_origin(ledger->log), prefix, id;
    const char *code = mb_arena_printf(c->arena, "%.*s %.*s", MB_STR_ARG(origin),
                                       MB_STR_ARG(subject));
    const struct mb_qr *qr;
    mb_json *texts;

    c->rc = mb_qr_make(c->arena, mb_str_of(code), MB_QR_LEVEL_M, &qr, c->err);
    if (!c->rc)
        c->rc = texts_of(c, views, head, subject, &texts);
    if (c->rc)
        return c->rc;
    mb_canvas_qr(c->canvas, qr, c->width - MARGIN_MM - QR_MM, MARGIN_MM, QR_MM);
    mb_str_cut(subject, '/', &prefix, &id);
    flow(c, &large, mb_arena_copy(c->arena, id.at, id.len), 0, QR_MM + 2);
    MB_JSON_EACH(text, texts)
    {
        flow(c, &plain, mb_arena_copy(c->arena, text->text.at, text->text.len), 0, QR_MM + 2);
    }
    if (c->y < MARGIN_MM + QR_MM && mb_canvas_pages(c->canvas) > 0)
        c->y = MARGIN_MM + QR_MM;
    c->rc = c->rc ? c->rc : texts_of(c, views, tasks, subject, &texts);
    if (!c->rc)
        put_open(c, texts, gaps);
    if (!c->rc)
        c->rc = texts_of(c, views, hazards, subject, &texts);
    if (!c->rc)
        put_cautions(c, texts);
    put_lines(c);
    return c->rc;
}

static enum mb_rc gaps_of(mb_ledger *ledger, mb_arena *arena, const char *specimen,
                          const mb_json **out, struct mb_error *err)
{
    mb_arena *scratch = mb_arena_new();
    const mb_json *gaps;
    enum mb_rc rc = mb_readiness(ledger, scratch, specimen, &gaps, err);

    if (!rc)
        *out = mb_json_copy(arena, gaps);
    mb_arena_free(scratch);
    return rc;
}

enum mb_rc mb_labels_bench(mb_ledger *ledger, mb_arena *arena, const char *const *specimens,
                           size_t count, struct mb_str *pdf, const mb_json **out,
                           struct mb_error *err)
{
    const struct mb_canvas_setup setup = { .form = MB_CANVAS_PDF, .width_mm = A5_WIDTH_MM,
                                           .height_mm = A5_HEIGHT_MM, .title = "Bench cards" };
    struct card c = { .arena = arena, .width = A5_WIDTH_MM, .height = A5_HEIGHT_MM,
                      .y = MARGIN_MM, .err = err };
    struct mb_views views = { NULL, false };
    mb_json *answer = mb_json_object(arena);
    const mb_json **gaps = MB_ARRAY(arena, count + 1, const mb_json *);
    MB_CANVAS_AUTO mb_canvas *canvas = NULL;
    enum mb_rc rc = mb_canvas_open(&setup, &canvas, err);

    c.canvas = canvas;
    if (!rc)
        rc = mb_door_open(ledger, err);
    for (size_t i = 0; !rc && i < count; i++)
        rc = gaps_of(ledger, arena, specimens[i], &gaps[i], err);
    if (!rc)
        rc = mb_views_begin(ledger, NULL, &views, err);
    for (size_t i = 0; !rc && i < count; i++) {
        struct mb_str subject;

        rc = mb_door_subject(ledger, arena, "specimen", mb_str_of(specimens[i]), &subject, err);
        if (!rc && i > 0)
            next_page(&c);
        if (!rc)
            rc = bench_card(&c, ledger, views.db, subject, gaps[i]);
    }
    mb_views_end(&views);
    if (rc)
        return rc;
    mb_json_put_int(arena, answer, "labels", (int64_t)count);
    mb_json_put_int(arena, answer, "pages", mb_canvas_pages(canvas));
    *out = answer;
    return mb_canvas_finish(canvas, arena, pdf, err);
}

/* ---- the field ---- */

/* In the order of what nobody can make good later. Titles and help come from the forms. */
static const struct step {
    const char *title, *fields, *more;
} steps[] = {
    { "Before you bend down: whose ground, and who said yes?", "permission purpose",
      "Carry the paper. No paper and no yes: leave it, photograph it, write down where." },
    { "A number on the piece, first of all", "recordNumber",
      "A tag in every bag and on every jacket; the same number in the book and in the picture." },
    { "Where: by a receiver or phone, with how far it may be off",
      "decimalLatitude decimalLongitude geodeticDatum coordinateUncertaintyInMeters",
      "Stand on the spot. Write down all digits, the datum (usually WGS 84) and the metres." },
    { "The layer, before it is out", "horizon inPlace heightAboveBase wayUp",
      "Measure up from a bed that anybody finds again. Loose is no shame; untold it is worth"
      " less." },
    { "Day and people", "eventDate recordedBy foundBy", NULL },
    { "What and how many", "verbatimIdentification objectForm objectQuantity quantityHow"
                           " materialClass foundWith",
      "Your own words. What lay beside it, and which pieces belong together." },
    { "Pictures with a scale: from far, from near, before anything is lifted", "placePhotos",
      "One with the landmark, one with the layer, one with the number beside the piece." },
    { "What you put on it, and what broke", "fieldTreatment damageInDig tools",
      "Name and strength of any glue: somebody has to take it off again." },
};

static void put_step(struct card *c, size_t number, const struct step *step)
{
    const struct mb_type type = { .size_pt = 13, .weight = 700, .ink = black };
    const struct mb_kind *kind = mb_kind_find(MB_STR("collecting"));
    struct mb_str rest = mb_str_of(step->fields), name;
    const char *text = "";

    c->y += 3;
    flow(c, &type, mb_arena_printf(c->arena, "%zu. %s", number, step->title), 0, 0);
    c->y += 0.5;
    while (rest.len) {
        const struct mb_kind_field *field;

        mb_str_cut(rest, ' ', &name, &rest);
        field = mb_kind_field(kind, name);
        if (field)
            text = mb_arena_printf(c->arena, "%s%s%s: %s", text, *text ? " " : "", field->title,
                                   field->help);
    }
    say(c, text, 10.5);
    if (step->more)
        say(c, step->more, 10.5);
}

enum mb_rc mb_labels_field_card(mb_arena *arena, const char *paper, struct mb_str *pdf,
                                struct mb_error *err)
{
    bool letter = strcmp(paper, "Letter") == 0;
    const struct mb_canvas_setup setup = {
        .form = MB_CANVAS_PDF,
        .width_mm = letter ? MB_LETTER_WIDTH_MM : MB_A4_WIDTH_MM,
        .height_mm = letter ? MB_LETTER_HEIGHT_MM : MB_A4_HEIGHT_MM,
        .title = "Field card: what to write down at the find",
    };
    const struct mb_type title = { .size_pt = 22, .weight = 700, .ink = black };
    struct card c = { .arena = arena, .width = setup.width_mm, .height = setup.height_mm,
                      .y = MARGIN_MM, .err = err };
    MB_CANVAS_AUTO mb_canvas *canvas = NULL;

    c.rc = mb_canvas_open(&setup, &canvas, err);
    c.canvas = canvas;
    if (c.rc)
        return c.rc;
    flow(&c, &title, "At the find: what to write down", 0, 0);
    c.y += 1;
    say(&c,
        "In this order: what stands first cannot be made good later. \"Not known\" is an answer; an"
        " empty line is none.",
        11);
    for (size_t i = 0; i < sizeof steps / sizeof *steps; i++)
        put_step(&c, i + 1, &steps[i]);
    heading(&c, "Yourself");
    say(&c,
        "Somebody knows where you are and when you come back. Hard hat under a face, glasses when a"
        " hammer swings, never under an overhang, out of a gully before the rain. Ask the land"
        " manager about the ground; local rules come first.",
        10.5);
    if (!c.rc)
        c.rc = mb_canvas_finish(canvas, arena, pdf, err);
    return c.rc;
}
