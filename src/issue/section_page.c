/*
 * A measured section on paper: the column to scale with its finds, a legend, and tables that say
 * all of it once more in words. The SVG is the drawing alone.
 */
#include <markerbed/land.h>

#include <math.h>
#include <string.h>

#include "date.h"
#include "decimal.h"
#include "report_paper.h"
#include "rock_pattern.h"
#include "section.h"
#include "text.h"

/* The drawing from left to right, in mm from the margin. */
#define AXIS_MM 13.0
#define COLUMN_MM 30.0
#define FINDS_MM 40.0
#define UNITS_MM 47.0
#define STRIP_MM 24.0
#define LINE_MM 4.2
#define HEIGHT_MM 158.0

struct column {
    struct mb_report *r;
    const mb_json *json;
    struct mb_section section;
    const mb_json **unit_of; /* JSON of each bed, from the lowest up */
    struct mb_section_layout layout;
    struct mb_section_mark *marks;
    bool *somewhere;
    size_t mark_count;
    double x, top; /* of the column's own box */
};

static double number_of(const mb_json *json, const char *name)
{
    return mb_decimal_double(mb_json_get(json, name) ? mb_json_get(json, name)->text
                                                     : (struct mb_str){ NULL, 0 });
}

static const char *text_of(struct column *c, const mb_json *json, const char *name)
{
    return mb_json_cstr(c->r->arena, mb_json_get(json, name));
}

/* ---- what is drawn ---- */

static void take_beds(struct column *c)
{
    const mb_json *units = mb_json_get(c->json, "units");
    struct mb_section_bed *beds = MB_ARRAY(c->r->arena, units->count + 1, struct mb_section_bed);
    size_t count = 0;

    c->unit_of = MB_ARRAY(c->r->arena, units->count + 1, const mb_json *);
    MB_JSON_EACH (unit, units) {
        beds[count].base_m = number_of(unit, "base");
        beds[count].top_m = number_of(unit, "top");
        beds[count].true_m = number_of(unit, "thickness");
        c->unit_of[count++] = unit;
    }
    c->section = (struct mb_section){ .beds = beds, .count = count, .base_m = beds[0].base_m,
                                      .top_m = beds[count - 1].top_m };
}

/* "26-0115, 26-0116 and 3 more": what fits on one line. */
static const char *label_of(struct column *c, const mb_json *subjects, bool somewhere)
{
    const char *text = "";
    size_t told = 0, may = somewhere ? 1 : 2;

    MB_JSON_EACH (one, subjects) {
        struct mb_str id = one->text;

        if (told == may)
            return mb_arena_printf(c->r->arena, "%s and %u more", text,
                                   (unsigned)(subjects->count - may));
        if (mb_str_starts(id, "specimen/"))
            id = (struct mb_str){ id.at + 9, id.len - 9 };
        text = mb_arena_printf(c->r->arena, "%s%s%.*s", text, told++ ? ", " : "", MB_STR_ARG(id));
    }
    return text;
}

/* Where there are more than the column has room for, neighbours share a line and a range of
 * heights; the table has each. Answers how many share one. */
static size_t take_marks(struct column *c, double height_mm)
{
    const mb_json *finds = mb_json_get(c->json, "finds");
    size_t most = (size_t)(height_mm / LINE_MM), together = (finds->count + most - 1) / most;
    size_t at = 0;

    c->marks = MB_ARRAY(c->r->arena, finds->count + 1, struct mb_section_mark);
    c->somewhere = MB_ARRAY(c->r->arena, finds->count + 1, bool);
    MB_JSON_EACH (find, finds) {
        bool somewhere = mb_json_get(find, "somewhereIn") != NULL;
        struct mb_section_mark mark = { label_of(c, mb_json_get(find, "subjects"), somewhere),
                                        number_of(find, "from"), number_of(find, "to") };

        if (together > 1 && at % together) {
            struct mb_section_mark *last = &c->marks[c->mark_count - 1];

            last->from_m = fmin(last->from_m, mark.from_m);
            last->to_m = fmax(last->to_m, mark.to_m);
            c->somewhere[c->mark_count - 1] |= somewhere;
        } else {
            if (together > 1)
                mark.label = mb_arena_printf(c->r->arena, "%s and others",
                                             label_of(c, mb_json_get(find, "subjects"), true));
            c->somewhere[c->mark_count] = somewhere;
            c->marks[c->mark_count++] = mark;
        }
        at++;
    }
    return together;
}

static enum mb_rc lay_out(struct column *c, double height_mm, size_t *together)
{
    struct mb_section_want want = { .height_mm = height_mm, .label_mm = LINE_MM };
    enum mb_rc rc;

    take_beds(c);
    *together = 1;
    rc = mb_section_lay_out(c->r->arena, &c->section, &want, &c->layout, c->r->err);
    if (rc)
        return rc;
    *together = take_marks(c, fmax(c->layout.height_mm, LINE_MM));
    want.marks = c->marks;
    want.mark_count = c->mark_count;
    return mb_section_lay_out(c->r->arena, &c->section, &want, &c->layout, c->r->err);
}

/* ---- the drawing ---- */

static const struct mb_stroke thin = { .width_mm = 0.2, .ink = { 0x1A1A1A, 0 } };
static const struct mb_stroke pale = { .width_mm = 0.15, .ink = { 0x909090, 0 }, .dash_mm = 0.8,
                                       .gap_mm = 0.8 };
static const struct mb_fill white = { .pattern = MB_PATTERN_SOLID, .ink = { 0xFFFFFF, 0 } };
static const struct mb_type label = { .size_pt = 8, .ink = { 0x1A1A1A, 0 } };

static void axis(struct column *c)
{
    const struct mb_type right = { .size_pt = 8, .ink = mb_report_black, .align = MB_ALIGN_END };
    double x = c->x - 1.5;

    mb_canvas_line(c->r->canvas, x, c->top, x, c->top + c->layout.height_mm, &thin);
    for (size_t i = 0; i < c->layout.tick_count; i++) {
        double y = c->top + c->layout.ticks[i].mm;

        mb_canvas_line(c->r->canvas, x - 1.2, y, x, y, &thin);
        mb_report_text(c->r, &right, c->layout.ticks[i].text, c->x - AXIS_MM, y - 1.8,
                       AXIS_MM - 3.5);
    }
}

static void beds(struct column *c)
{
    for (size_t i = 0; i < c->layout.bed_count; i++) {
        const struct mb_section_drawn_bed *bed = &c->layout.beds[i];
        const mb_json *unit = c->unit_of[c->section.count - 1 - i];
        struct mb_mm_box box = { c->x, c->top + bed->top_mm, COLUMN_MM,
                                 bed->base_mm - bed->top_mm };

        mb_rock_box(c->r->canvas, mb_lithology_read(mb_json_str(mb_json_get(unit, "pattern"))),
                    box);
    }
}

/* The longest of these that goes onto one line. */
static void one_line(struct column *c, const char *const *texts, size_t count, double x, double y,
                     double width)
{
    for (size_t i = 0; i < count && !c->r->rc; i++) {
        mb_block *block;

        c->r->rc = mb_block_new(c->r->canvas, &label, mb_str_of(texts[i]), width, &block,
                                c->r->err);
        if (c->r->rc)
            return;
        if (mb_block_lines(block) == 1 || i + 1 == count) {
            mb_canvas_rect(c->r->canvas, x - 0.4, y, mb_block_width(block) + 0.8,
                           mb_block_height(block), &white, NULL);
            mb_block_draw(block, x, y, INFINITY);
            i = count;
        }
        mb_block_free(block);
    }
}

static void bed_labels(struct column *c, double x)
{
    if ((double)c->layout.bed_count * LINE_MM > c->layout.height_mm + LINE_MM) {
        mb_report_text(c->r, &label, "more layers than lines: the table below has them", x, c->top,
                       UNITS_MM - 2);
        return;
    }
    for (size_t i = 0; i < c->layout.bed_count; i++) {
        const struct mb_section_drawn_bed *bed = &c->layout.beds[i];
        const mb_json *unit = c->unit_of[c->section.count - 1 - i];
        const char *name = text_of(c, unit, "name"), *rock = text_of(c, unit, "rock");
        int64_t number = mb_json_int(mb_json_get(unit, "number"), 0);
        double thick = number_of(unit, "thickness");
        double middle = c->top + (bed->top_mm + bed->base_mm) / 2, at = c->top + bed->label_mm;
        const char *texts[4] = {
            mb_arena_printf(c->r->arena, "%lld  %s, %s, %.2f m", (long long)number,
                            name ? name : "not recorded", rock ? rock : "rock not recorded",
                            thick),
            mb_arena_printf(c->r->arena, "%lld  %s, %.2f m", (long long)number,
                            name ? name : "not recorded", thick),
            mb_arena_printf(c->r->arena, "%lld  %s", (long long)number,
                            name ? name : "not recorded"),
            mb_arena_printf(c->r->arena, "%lld", (long long)number),
        };

        mb_canvas_line(c->r->canvas, c->x + COLUMN_MM, middle, x - 1, at, &pale);
        one_line(c, texts, 4, x, at - 1.8, UNITS_MM - 1);
    }
}

/* A find at its height is a full rhomb, a range a bar with ends; where only the layer is known,
 * the bar is dashed. */
static void draw_finds(struct column *c)
{
    const struct mb_stroke strong = { .width_mm = 0.45, .ink = mb_report_black };
    const struct mb_stroke dashed = { .width_mm = 0.3, .ink = mb_report_black, .dash_mm = 1,
                                      .gap_mm = 0.7 };
    const struct mb_fill full = { .pattern = MB_PATTERN_SOLID, .ink = mb_report_black };
    double bar = c->x + COLUMN_MM + 2.2, text = bar + 5;

    for (size_t i = 0; i < c->layout.mark_count; i++) {
        const struct mb_section_drawn_mark *mark = &c->layout.marks[i];
        bool somewhere = c->somewhere[mark->mark - c->marks];
        double top = c->top + mark->top_mm, base = c->top + mark->base_mm;
        double middle = (top + base) / 2, at = c->top + mark->label_mm, x = bar;

        if (base - top > 0.05) {
            x = somewhere ? bar + 1.4 : bar;
            mb_canvas_line(c->r->canvas, x, top, x, base, somewhere ? &dashed : &strong);
            mb_canvas_line(c->r->canvas, x - 0.8, top, x + 0.8, top, &thin);
            mb_canvas_line(c->r->canvas, x - 0.8, base, x + 0.8, base, &thin);
        } else {
            struct mb_mm rhomb[4] = { { x, top - 1 }, { x + 1, top }, { x, top + 1 },
                                      { x - 1, top } };
            struct mb_mm_ring ring = { rhomb, 4 };

            mb_canvas_shape(c->r->canvas, &ring, 1, &full, NULL);
        }
        mb_canvas_line(c->r->canvas, x + 0.8, middle, text - 0.6, at, &thin);
        one_line(c, &mark->mark->label, 1, text, at - 1.8, FINDS_MM - 8);
    }
}

/* Beds of the same formation, or age, in one box with its words where they fit. */
static void strip(struct column *c, const char *name, double x)
{
    const struct mb_type middle = { .size_pt = 7.5, .ink = mb_report_black,
                                    .align = MB_ALIGN_MIDDLE };

    for (size_t i = 0, end; i < c->layout.bed_count; i = end) {
        const mb_json *unit = c->unit_of[c->section.count - 1 - i];
        const char *text = text_of(c, unit, name);
        double top = c->top + c->layout.beds[i].top_mm, base, room;
        mb_block *block;

        for (end = i + 1; end < c->layout.bed_count; end++) {
            const char *next = text_of(c, c->unit_of[c->section.count - 1 - end], name);

            if (!text != !next || (text && strcmp(text, next) != 0))
                break;
        }
        base = c->top + c->layout.beds[end - 1].base_mm;
        room = base - top;
        mb_canvas_rect(c->r->canvas, x, top, STRIP_MM, room, NULL, &thin);
        if (!text || c->r->rc)
            continue;
        c->r->rc = mb_block_new(c->r->canvas, &middle, mb_str_of(text), STRIP_MM - 2, &block,
                                c->r->err);
        if (c->r->rc)
            return;
        if (mb_block_height(block) <= room)
            mb_block_draw(block, x + 1, top + (room - mb_block_height(block)) / 2, INFINITY);
        mb_block_free(block);
    }
}

static void headings(struct column *c)
{
    const struct mb_type head = { .size_pt = 7.5, .weight = 700, .ink = mb_report_grey };
    double x = c->x + COLUMN_MM, y = c->r->y;

    mb_report_text(c->r, &head, "m above\ndatum", c->x - AXIS_MM, y, AXIS_MM);
    mb_report_text(c->r, &head, "Rock", c->x, y + 3.2, COLUMN_MM);
    mb_report_text(c->r, &head, "Finds", x + 6, y + 3.2, FINDS_MM);
    mb_report_text(c->r, &head, "Layers", x + FINDS_MM, y + 3.2, UNITS_MM);
    mb_report_text(c->r, &head, "Formation", x + FINDS_MM + UNITS_MM, y + 3.2, STRIP_MM);
    mb_report_text(c->r, &head, "Age", x + FINDS_MM + UNITS_MM + STRIP_MM, y + 3.2, STRIP_MM);
    c->r->y = c->top = y + 8.5;
}

static void draw(struct column *c)
{
    double strips;

    c->x = MB_REPORT_MARGIN_MM + AXIS_MM;
    strips = c->x + COLUMN_MM + FINDS_MM + UNITS_MM;
    headings(c);
    axis(c);
    beds(c);
    bed_labels(c, c->x + COLUMN_MM + FINDS_MM);
    draw_finds(c);
    strip(c, "formation", strips);
    strip(c, "age", strips + STRIP_MM);
    c->r->y += c->layout.height_mm + 4;
}

/* ---- legend ---- */

static void legend(struct column *c)
{
    bool used[MB_LITHO_COUNT] = { false };
    double x = MB_REPORT_MARGIN_MM, width = mb_report_width(c->r) / 4, tallest = 0;
    int at = 0;

    for (size_t i = 0; i < c->section.count; i++)
        used[mb_lithology_read(mb_json_str(mb_json_get(c->unit_of[i], "pattern")))] = true;
    for (int i = 0; i < MB_LITHO_COUNT; i++) {
        struct mb_mm_box box = { x + at * width, c->r->y, 12, 6.5 };
        double height;

        if (!used[i])
            continue;
        mb_rock_box(c->r->canvas, (enum mb_lithology)i, box);
        height = mb_report_text(c->r, &label, mb_lithology_word[i], box.x + 13.5, c->r->y + 1.4,
                                width - 15);
        tallest = fmax(tallest, fmax(height + 1.4, 6.5));
        if (++at == 4) {
            at = 0;
            c->r->y += tallest + 1.5;
            tallest = 0;
        }
    }
    c->r->y += tallest + 2;
}

/* A metre, or what of it or of them makes a good length. */
static void scale_bar(struct column *c)
{
    double metres = 0.001, mm;
    double y = c->r->y + 1.5, x = MB_REPORT_MARGIN_MM;

    while (metres * 1000 / c->layout.scale < 8)
        metres *= 10;
    mm = metres * 1000 / c->layout.scale;
    mb_canvas_line(c->r->canvas, x, y, x + mm, y, &thin);
    mb_canvas_line(c->r->canvas, x, y - 1, x, y + 1, &thin);
    mb_canvas_line(c->r->canvas, x + mm, y - 1, x + mm, y + 1, &thin);
    mb_report_text(c->r, &label,
                   mb_arena_printf(c->r->arena, "%g m at a scale of 1 : %g. Rhomb: a find at its"
                                   " height; bar: a range of heights; dashed bar: somewhere in that"
                                   " layer.", metres, c->layout.scale),
                   x + mm + 3, y - 1.8, mb_report_width(c->r) - mm - 3);
    c->r->y += 7;
}

/* ---- in words ---- */

static const char *metres_of(struct column *c, const mb_json *json, const char *name)
{
    return mb_arena_printf(c->r->arena, "%.2f", number_of(json, name));
}

static void table_of_units(struct column *c)
{
    static const double shares[] = { 0.7, 2.2, 1.7, 2.3, 0.9, 1.8, 2.8 };
    static const char *const head[] = { "No.", "Layer", "Rock", "Formation, member", "Thick, m",
                                        "From, to, m", "Age" };
    const struct mb_report_table table = { 7, shares, head };

    mb_report_section(c->r, "Layers, from the top down");
    mb_report_table_begin(c->r, &table);
    for (size_t i = c->section.count; i-- > 0;) {
        const mb_json *unit = c->unit_of[i];
        const char *sub = text_of(c, unit, "horizon"), *member = text_of(c, unit, "member");
        const char *formation = text_of(c, unit, "formation");

        mb_report_table_row(
            c->r, &table,
            (const char *const[]){
                mb_arena_printf(c->r->arena, "%zu", i + 1),
                sub ? mb_arena_printf(c->r->arena, "%s (%s)", text_of(c, unit, "name"), sub + 8)
                    : "nothing recorded",
                text_of(c, unit, "rock"),
                member ? mb_arena_printf(c->r->arena, "%s, %s", formation ? formation : "not known",
                                         member)
                       : formation,
                metres_of(c, unit, "thickness"),
                mb_arena_printf(c->r->arena, "%s to %s", metres_of(c, unit, "base"),
                                metres_of(c, unit, "top")),
                text_of(c, unit, "age") });
    }
    mb_report_table_end(c->r);
    for (size_t i = c->section.count; i-- > 0;)
        if (mb_json_get(c->unit_of[i], "how"))
            mb_report_small(c->r, mb_arena_printf(c->r->arena, "%s: %s.",
                                                  text_of(c, c->unit_of[i], "name"),
                                                  text_of(c, c->unit_of[i], "how")));
}

static const char *all_of(struct column *c, const mb_json *subjects)
{
    const char *text = "";

    if (subjects->count > 400)
        return mb_arena_printf(c->r->arena, "%u finds, from %s on", (unsigned)subjects->count,
                               label_of(c, subjects, true));
    MB_JSON_EACH (one, subjects) {
        struct mb_str id = one->text;

        if (mb_str_starts(id, "specimen/"))
            id = (struct mb_str){ id.at + 9, id.len - 9 };
        text = mb_arena_printf(c->r->arena, "%s%s%.*s", text, *text ? ", " : "", MB_STR_ARG(id));
    }
    return text;
}

static void table_of_finds(struct column *c, size_t together)
{
    static const double shares[] = { 2, 6 };
    static const char *const head[] = { "Height, m", "Finds" };
    const struct mb_report_table table = { 2, shares, head };
    const mb_json *finds = mb_json_get(c->json, "finds");

    if (!finds->count)
        return;
    mb_report_section(c->r, "Finds, from the top down");
    if (together > 1)
        mb_report_say(c->r, mb_arena_printf(c->r->arena, "The drawing has no room for each: there"
                                            " %zu heights share a line. Here are all.",
                                            together));
    mb_report_table_begin(c->r, &table);
    MB_JSON_EACH (find, finds) {
        const char *from = metres_of(c, find, "from"), *to = metres_of(c, find, "to");
        const char *layer = text_of(c, find, "somewhereIn");
        const char *height = strcmp(from, to) == 0
                                 ? from
                                 : mb_arena_printf(c->r->arena, "%s to %s", from, to);

        if (layer)
            height = mb_arena_printf(c->r->arena, "not recorded; in layer %s", layer + 8);
        mb_report_table_row(c->r, &table, (const char *const[]){
                                              height, all_of(c, mb_json_get(find, "subjects")) });
    }
    mb_report_table_end(c->r);
}

static void notes(struct column *c)
{
    mb_report_section(c->r, "How to read it");
    mb_report_say(c->r, mb_arena_printf(c->r->arena,
                                        "Heights are metres above the datum, across the beds, as"
                                        " they were recorded. Ages are those of the international"
                                        " chronostratigraphic chart, version %s; where it states no"
                                        " uncertainty none is printed. The patterns are this"
                                        " program's own.", text_of(c, c->json, "chart")));
    MB_JSON_EACH (note, mb_json_get(c->json, "notes"))
        mb_report_say(c->r, mb_json_cstr(c->r->arena, note));
}

/* ---- the whole ---- */

static const char *title_of(struct column *c)
{
    const char *site = text_of(c, c->json, "siteName");

    return site ? mb_arena_printf(c->r->arena, "Measured section: %s", site)
                : mb_arena_printf(c->r->arena, "Measured section: %s",
                                  text_of(c, c->json, "name"));
}

static void head(struct column *c)
{
    const char *section = text_of(c, c->json, "section");

    mb_report_title(c->r, title_of(c));
    mb_report_say(c->r,
                  mb_arena_printf(c->r->arena, "Around %s (%s)%s%s. Datum: %s. From the ledger %s,"
                                  " as of %s.", text_of(c, c->json, "name"),
                                  text_of(c, c->json, "horizon"), section ? ", measured at " : "",
                                  section ? section : "", text_of(c, c->json, "datum"),
                                  text_of(c, c->json, "origin"), text_of(c, c->json, "asOf")));
    c->r->y += 1;
}

static enum mb_rc make(mb_arena *arena, const mb_json *json, struct mb_report_setup setup,
                       struct mb_str *out, double *scale, struct mb_error *err)
{
    struct mb_report report = { .arena = arena };
    struct column c = { .r = &report, .json = json };
    size_t together;
    enum mb_rc rc;

    setup.title = title_of(&c);
    setup.author = setup.foot = text_of(&c, json, "origin");
    setup.subject = "A measured section, drawn to scale";
    setup.created = mb_now();
    rc = mb_report_open(&report, arena, &setup, err);
    if (rc)
        return rc;
    head(&c);
    report.rc = lay_out(&c, HEIGHT_MM, &together);
    if (!report.rc) {
        draw(&c);
        legend(&c);
        scale_bar(&c);
    }
    if (!report.rc && !setup.svg) {
        table_of_units(&c);
        table_of_finds(&c, together);
        notes(&c);
    }
    if (!report.rc && scale)
        *scale = c.layout.scale;
    rc = mb_report_finish(&report, out);
    mb_canvas_close(report.canvas);
    return rc;
}

enum mb_rc mb_section_pdf(mb_arena *arena, const mb_json *section, const char *paper,
                          struct mb_str *pdf, double *scale, struct mb_error *err)
{
    return make(arena, section, (struct mb_report_setup){ .paper = paper }, pdf, scale, err);
}

enum mb_rc mb_section_svg(mb_arena *arena, const mb_json *section, struct mb_str *svg,
                          double *scale, struct mb_error *err)
{
    return make(arena, section, (struct mb_report_setup){ .svg = true }, svg, scale, err);
}
