/* Each permission's days against the days of collecting, on a line of its own. */
#include "audit_page.h"

#include <math.h>
#include <string.h>

#include "date.h"
#include "text.h"

#define BAR_MM 5.0
#define INSET_MM 4.0
#define DAYS_TOLD 60

struct line {
    struct mb_audit_page *page;
    const mb_json *json;
    int32_t first, last; /* of the axis */
    double x, width, y;
};

static const struct mb_stroke thin = { .width_mm = 0.2, .ink = { 0x1A1A1A, 0 } };
static const struct mb_stroke strong = { .width_mm = 0.6, .ink = { 0x1A1A1A, 0 } };

static bool days_of(const mb_json *json, const char *name, struct mb_days *out)
{
    struct mb_str text = mb_json_str(mb_json_get(json, name));

    return text.at && mb_days_read(text, out);
}

static void widen(struct line *l, struct mb_days days, bool *any)
{
    if (!*any || days.first < l->first)
        l->first = days.first;
    if (!*any || days.last > l->last)
        l->last = days.last;
    *any = true;
}

/* From the first to the last day that counts; a permission that began long before the first find
 * would leave the finds in a corner, so its beginning is then cut off, and drawn as cut off. */
static bool choose_axis(struct line *l)
{
    const int32_t long_before = 2 * 365;
    struct mb_days days, valid;
    bool any = false;

    MB_JSON_EACH (day, mb_json_get(l->json, "days"))
        if (days_of(day, "day", &days))
            widen(l, days, &any);
    MB_JSON_EACH (change, mb_json_get(l->json, "changes")) {
        if (days_of(change, "from", &days))
            widen(l, days, &any);
        if (days_of(change, "until", &days))
            widen(l, days, &any);
    }
    if (days_of(l->json, "from", &valid)) {
        if (any && valid.first < l->first - long_before)
            valid = (struct mb_days){ l->first - 90, l->first - 90 };
        widen(l, (struct mb_days){ valid.first, valid.first }, &any);
    }
    if (days_of(l->json, "until", &valid)) {
        if (any && valid.last > l->last + long_before)
            valid = (struct mb_days){ l->last + 90, l->last + 90 };
        widen(l, (struct mb_days){ valid.last, valid.last }, &any);
    }
    if (any) {
        l->first -= 15 + (l->last - l->first) / 40;
        l->last += 15 + (l->last - l->first) / 40;
    }
    return any;
}

static double at(const struct line *l, double day)
{
    double x = l->x + l->width * (day - l->first) / (l->last - l->first + 1);

    return fmin(fmax(x, l->x), l->x + l->width);
}

static void span(struct line *l, double from, double until, const struct mb_fill *fill)
{
    double left = at(l, from), right = at(l, until);

    if (right > left)
        mb_canvas_rect(l->page->r->canvas, left, l->y, right - left, BAR_MM, fill, &thin);
}

/* In force: slanted lines; extended: slanted the other way; suspended: crossed. */
static const struct mb_fill force = { .pattern = MB_PATTERN_LINES, .step_mm = 1.4,
                                      .line_mm = 0.25, .turn_degrees = 45 };
static const struct mb_fill longer = { .pattern = MB_PATTERN_LINES, .step_mm = 1.4,
                                       .line_mm = 0.25, .turn_degrees = -45 };
static const struct mb_fill stopped = { .pattern = MB_PATTERN_CROSS, .step_mm = 1.2,
                                        .line_mm = 0.3, .turn_degrees = 45, .ground = true,
                                        .ground_ink = { 0xFFFFFF, 0 } };

static void draw_change(struct line *l, const mb_json *change)
{
    struct mb_days from, until;
    const mb_json *what = mb_json_get(change, "what");
    bool has_until = days_of(change, "until", &until);

    if (!days_of(change, "from", &from))
        return;
    if (mb_json_text_is(what, "extended") && has_until)
        span(l, from.first, until.last + 1, &longer);
    if (mb_json_text_is(what, "suspended"))
        span(l, from.first, has_until ? until.last + 1 : l->last + 1, &stopped);
    if (mb_json_text_is(what, "ended early"))
        span(l, has_until ? until.last + 1 : from.first, l->last + 1, &stopped);
    if (mb_json_text_is(what, "revoked"))
        span(l, from.first, l->last + 1, &stopped);
    mb_canvas_line(l->page->r->canvas, at(l, from.first), l->y - 1, at(l, from.first),
                   l->y + BAR_MM + 1, &strong);
}

static void draw_force(struct line *l)
{
    struct mb_days from, until;
    bool begins = days_of(l->json, "from", &from), ends = days_of(l->json, "until", &until);

    if (begins || ends)
        span(l, begins ? from.first : l->first, ends ? until.last + 1 : l->last + 1, &force);
    MB_JSON_EACH (change, mb_json_get(l->json, "changes"))
        draw_change(l, change);
}

/* A day of collecting is a full wedge that points at the bar; a span of days a line under it. */
static void draw_days(struct line *l)
{
    const struct mb_fill full = { .pattern = MB_PATTERN_SOLID, .ink = mb_report_black };
    double top = l->y + BAR_MM + 0.6;
    struct mb_days days;

    MB_JSON_EACH (day, mb_json_get(l->json, "days")) {
        if (!days_of(day, "day", &days))
            continue;
        double left = at(l, days.first), right = at(l, days.last + 1), x = (left + right) / 2;
        struct mb_mm wedge[3] = { { x, top }, { x + 0.9, top + 2.2 }, { x - 0.9, top + 2.2 } };
        struct mb_mm_ring ring = { wedge, 3 };

        mb_canvas_shape(l->page->r->canvas, &ring, 1, &full, NULL);
        if (right - left > 1.8)
            mb_canvas_line(l->page->r->canvas, left, top + 2.2, right, top + 2.2, &thin);
    }
}

static void draw_axis(struct line *l)
{
    const struct mb_type small = { .size_pt = 7.5, .ink = mb_report_grey };
    const struct mb_type end = { .size_pt = 7.5, .ink = mb_report_grey, .align = MB_ALIGN_END };
    double y = l->y + BAR_MM + 3.4;
    int year, month, date, last_year;

    mb_canvas_line(l->page->r->canvas, l->x, y, l->x + l->width, y, &thin);
    mb_day_parts(l->first, &year, &month, &date);
    mb_day_parts(l->last, &last_year, &month, &date);
    for (int step = year + 1; step <= last_year; step++) {
        double x = at(l, mb_day_number(step, 1, 1));

        mb_canvas_line(l->page->r->canvas, x, y - 1.2, x, y, &thin);
        if (last_year - year <= 12 && x > l->x + 22 && x < l->x + l->width - 34)
            mb_report_text(l->page->r, &small, mb_arena_printf(l->page->arena, "%d", step), x - 3,
                           y + 0.4, 12);
    }
    mb_report_text(l->page->r, &small, mb_day_write(l->page->arena, l->first), l->x, y + 0.4, 24);
    mb_report_text(l->page->r, &end, mb_day_write(l->page->arena, l->last), l->x + l->width - 24,
                   y + 0.4, 24);
    l->page->r->y = y + 5;
}

static const char *words_of_days(struct mb_audit_page *page, const mb_json *days)
{
    const char *text = "";
    int64_t finds = 0;
    unsigned told = 0;

    MB_JSON_EACH (day, days) {
        int64_t count = mb_json_int(mb_json_get(day, "finds"), 0);

        finds += count;
        if (told++ < DAYS_TOLD)
            text = mb_arena_printf(page->arena, "%s%s%s (%lld)", text, *text ? ", " : "",
                                   mb_audit_text(page, day, "day"), (long long)count);
    }
    if (!told)
        return "Finds: none on the record.";
    if (told > DAYS_TOLD)
        return mb_arena_printf(page->arena, "Finds on %u days, %lld in all; the first %d: %s.",
                               told, (long long)finds, DAYS_TOLD, text);
    return mb_arena_printf(page->arena, "Finds by day: %s.", text);
}

static const char *words_of_changes(struct mb_audit_page *page, const mb_json *changes)
{
    const char *text = "";

    MB_JSON_EACH (change, changes) {
        const char *until = mb_audit_text(page, change, "until");

        text = mb_arena_printf(page->arena, "%s%s from %s%s%s (#%s)", *text ? text : "Changes: ",
                               mb_audit_text(page, change, "what"),
                               mb_audit_text(page, change, "from"), *until ? " until " : "", until,
                               mb_audit_text(page, change, "seq"));
        if (change->next)
            text = mb_arena_printf(page->arena, "%s; ", text);
    }
    return *text ? mb_arena_printf(page->arena, "%s.", text) : NULL;
}

static void one(struct mb_audit_page *page, const mb_json *json)
{
    struct line l = { .page = page, .json = json };
    const char *from = mb_audit_text(page, json, "from");
    const char *until = mb_audit_text(page, json, "until"), *changes;

    mb_report_need(page->r, 34);
    mb_report_group(page->r, mb_arena_printf(page->arena, "Permission %s: from %s, %s%s",
                                             mb_audit_name(page, mb_json_get(json, "permission")),
                                             *from ? from : "a day not recorded",
                                             strcmp(until, "until ended") == 0 ? "" : "until ",
                                             *until ? until : "a day not recorded"));
    l.x = MB_REPORT_MARGIN_MM + INSET_MM;
    l.width = mb_report_width(page->r) - 2 * INSET_MM;
    if (choose_axis(&l)) {
        page->r->y += 1;
        l.y = page->r->y;
        draw_force(&l);
        draw_days(&l);
        draw_axis(&l);
    }
    changes = words_of_changes(page, mb_json_get(json, "changes"));
    if (changes)
        mb_report_small(page->r, changes);
    mb_report_small(page->r, words_of_days(page, mb_json_get(json, "days")));
}

void mb_audit_timelines(struct mb_audit_page *page)
{
    const mb_json *list = mb_json_get(page->audit, "timeline");

    if (!list->count)
        return;
    mb_report_section(page->r, "Permissions and days of collecting");
    mb_report_say(page->r, "Slanted lines: the days of the permission as first recorded; slanted"
                           " the other way: an extension; crossed: suspended, revoked or ended"
                           " early; an upright stroke: the day of a change. A wedge is a day, or a"
                           " span of days, on which finds were recorded under it. Each line has its"
                           " own scale.");
    MB_JSON_EACH (permission, list)
        if (!page->r->rc)
            one(page, permission);
}
