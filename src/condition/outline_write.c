/* Outlines written down again, completely and in one way: see outline.h. */
#include "outline.h"

#include <stdio.h>
#include <string.h>

#include <markerbed/json.h>

#include "buf.h"

/* Numbers with six places: of a pixel a millionth. Up to 13 digits, so that reading gives the very
 * number back (drawnum.h) and writing that gives the same text. */
static void number(struct mb_buf *out, double value)
{
    char text[40];
    size_t len = (size_t)snprintf(text, sizeof text, "%.6f", value);

    while (len > 1 && text[len - 1] == '0')
        len--;
    if (text[len - 1] == '.')
        len--;
    if (len == 2 && memcmp(text, "-0", 2) == 0)
        mb_buf_add_char(out, '0');
    else
        mb_buf_add(out, text, len);
}

static void quoted(mb_arena *arena, struct mb_buf *out, const char *text)
{
    mb_buf_add_str(out, mb_json_write(arena, mb_json_string(arena, text)));
}

/* ,"name":"text" unless there is none. */
static void member(mb_arena *arena, struct mb_buf *out, const char *name, const char *text)
{
    if (!text || !*text)
        return;
    mb_buf_printf(out, ",\"%s\":", name);
    quoted(arena, out, text);
}

static void member_number(struct mb_buf *out, const char *name, double value)
{
    if (!(value > 0))
        return;
    mb_buf_printf(out, ",\"%s\":", name);
    number(out, value);
}

static void places(struct mb_buf *out, const struct mb_xy *at, size_t count)
{
    mb_buf_add_char(out, '[');
    for (size_t i = 0; i < count; i++) {
        mb_buf_add_text(out, i ? ",[" : "[");
        number(out, at[i].x);
        mb_buf_add_char(out, ',');
        number(out, at[i].y);
        mb_buf_add_char(out, ']');
    }
    mb_buf_add_char(out, ']');
}

static void polygon(struct mb_buf *out, const struct mb_polygon *one)
{
    mb_buf_add_text(out, "\"outline\":");
    places(out, one->rings[0].at, one->rings[0].count);
    for (size_t i = 1; i < one->count; i++) {
        mb_buf_add_text(out, i == 1 ? ",\"holes\":[" : ",");
        places(out, one->rings[i].at, one->rings[i].count);
    }
    if (one->count > 1)
        mb_buf_add_char(out, ']');
}

static void shape(struct mb_buf *out, const struct mb_shape *drawn)
{
    mb_buf_add_char(out, ',');
    if (drawn->count == 1) {
        polygon(out, drawn->at);
        return;
    }
    for (size_t i = 0; i < drawn->count; i++) {
        mb_buf_add_text(out, i ? ",{" : "\"pieces\":[{");
        polygon(out, &drawn->at[i]);
        mb_buf_add_char(out, '}');
    }
    mb_buf_add_char(out, ']');
}

/* ---- what lies in a view ---- */

static void owner(mb_arena *arena, struct mb_buf *out, const char *individual, const char *element)
{
    /* the first member of its object, so that all others begin with a comma */
    mb_buf_add_text(out, "\"individual\":");
    quoted(arena, out, individual);
    member(arena, out, "element", element);
}

static void surfaces(struct mb_buf *out, unsigned bits)
{
    const char *before = ",\"surface\":[\"";

    for (size_t i = 0; i < MB_SURFACES; i++) {
        if (!(bits & 1u << i))
            continue;
        mb_buf_printf(out, "%s%s\"", before, mb_surface_words[i]);
        before = ",\"";
    }
    if (bits)
        mb_buf_add_char(out, ']');
}

static void part(mb_arena *arena, struct mb_buf *out, const struct mb_part *one)
{
    owner(arena, out, one->individual, one->element);
    member(arena, out, "uncovered", mb_substance_words[one->uncovered]);
    shape(out, &one->shape);
}

static void region(mb_arena *arena, struct mb_buf *out, const struct mb_region *one)
{
    size_t from = out->len;

    if (one->individual)
        member(arena, out, "individual", one->individual);
    member(arena, out, "element", one->element);
    if (one->has_substance)
        member(arena, out, "substance", mb_substance_words[one->substance]);
    surfaces(out, one->surfaces);
    shape(out, &one->shape);
    if (!out->full)
        out->at[from] = ' '; /* its first comma */
}

static void join(mb_arena *arena, struct mb_buf *out, const struct mb_join *one)
{
    mb_buf_printf(out, "\"through\":\"%s\"", mb_through_words[one->through]);
    member(arena, out, "name", one->name);
    member(arena, out, "cause", one->cause);
    member(arena, out, "adhesive", one->adhesive);
    member(arena, out, "gapMm", one->gap_mm);
    mb_buf_add_text(out, ",\"line\":");
    places(out, one->at, one->count);
}

static void count(mb_arena *arena, struct mb_buf *out, const struct mb_count *one)
{
    bool begun = false;

    owner(arena, out, one->individual, one->element);
    member(arena, out, "layout", one->layout);
    member(arena, out, "areaMm2", one->area_mm2);
    if (one->at_count == 0) {
        for (size_t i = 0; i < MB_SUBSTANCES; i++) {
            if (one->hits[i] == 0)
                continue;
            mb_buf_printf(out, "%s\"%s\":%llu", begun ? "," : ",\"counts\":{",
                          mb_substance_words[i], (unsigned long long)one->hits[i]);
            begun = true;
        }
        mb_buf_add_text(out, begun ? "}" : ",\"counts\":{}");
        return;
    }
    for (size_t i = 0; i < one->at_count; i++) {
        mb_buf_add_text(out, i ? ",[" : ",\"at\":[[");
        number(out, one->at[i].x);
        mb_buf_add_char(out, ',');
        number(out, one->at[i].y);
        mb_buf_printf(out, ",\"%s\"]", mb_substance_words[one->substance[i]]);
    }
    mb_buf_add_char(out, ']');
}

static void estimate(mb_arena *arena, struct mb_buf *out, const struct mb_estimate *one)
{
    owner(arena, out, one->individual, one->element);
    if (!one->of_surface || one->on_substance)
        member(arena, out, "substance", mb_substance_words[one->substance]);
    if (one->of_surface) {
        member(arena, out, "surface", mb_surface_words[one->surface]);
        member(arena, out, "extent", mb_extent_words[one->extent]);
    } else {
        member(arena, out, "band", mb_band_words[one->band]);
    }
}

/* ---- the whole ---- */

/* of a path, the name */
static const char *name_of(const char *path)
{
    for (const char *at = path; *at; at++)
        if (*at == '/' || *at == '\\')
            path = at + 1;
    return path;
}

static void photo(mb_arena *arena, struct mb_buf *out, const struct mb_view *view)
{
    size_t from;

    if (!*view->photo && !*view->photo_sha256 && !(view->width_px > 0))
        return;
    mb_buf_add_text(out, ",\"photo\":{");
    from = out->len;
    member(arena, out, "file", name_of(view->photo));
    member(arena, out, "sha256", view->photo_sha256);
    member_number(out, "widthPx", view->width_px);
    member_number(out, "heightPx", view->height_px);
    if (!out->full && out->len > from)
        out->at[from] = ' ';
    mb_buf_add_char(out, '}');
}

static void bar(struct mb_buf *out, const struct mb_view *view)
{
    if (!view->has_scale)
        return;
    mb_buf_add_text(out, ",\"scaleBar\":{\"mm\":");
    number(out, view->bar_mm);
    member_number(out, "px", view->bar_px);
    if (view->has_bar) {
        mb_buf_add_text(out, ",\"from\":[");
        number(out, view->bar_from.x);
        mb_buf_add_char(out, ',');
        number(out, view->bar_from.y);
        mb_buf_add_text(out, "],\"to\":[");
        number(out, view->bar_to.x);
        mb_buf_add_char(out, ',');
        number(out, view->bar_to.y);
        mb_buf_add_char(out, ']');
    }
    mb_buf_add_char(out, '}');
}

/* ,"name":[{...},{...}] of a list whose items have a member `next`. */
#define LIST(name, first, write)                                              \
    do {                                                                      \
        const char *before = ",\n\"" name "\":[\n{";                          \
                                                                              \
        for (__typeof__(*(first)) *item = (first); item; item = item->next) { \
            mb_buf_add_text(out, before);                                     \
            write(arena, out, item);                                          \
            mb_buf_add_char(out, '}');                                        \
            before = ",\n{";                                                  \
        }                                                                     \
        if (first)                                                            \
            mb_buf_add_char(out, ']');                                        \
    } while (0)

static void view_of(mb_arena *arena, struct mb_buf *out, const struct mb_view *view)
{
    mb_buf_add_text(out, "\"name\":");
    quoted(arena, out, view->name);
    photo(arena, out, view);
    bar(out, view);
    member_number(out, "lineWidthPx", view->line_px);
    LIST("specimens", view->parts, part);
    LIST("regions", view->regions, region);
    LIST("joins", view->joins, join);
    LIST("points", view->counts, count);
    LIST("estimates", view->estimates, estimate);
}

static void individual(mb_arena *arena, struct mb_buf *out, const struct mb_individual *one)
{
    mb_buf_add_text(out, "\"label\":");
    quoted(arena, out, one->label);
    member(arena, out, "name", one->name);
    member(arena, out, "association", one->association);
    member(arena, out, "setting", one->setting);
    member(arena, out, "shownBy", one->shown_by);
}

enum mb_rc mb_outlines_write(mb_arena *arena, const struct mb_outlines *outlines,
                             struct mb_str *text, struct mb_error *err)
{
    MB_BUF_AUTO struct mb_buf buf;
    struct mb_buf *out = &buf;

    mb_buf_init(out, MB_OUTLINE_BYTES_MAX);
    mb_buf_add_text(out, "{\"format\":\"markerbed-outlines/1\",\n\"notExamined\":[");
    for (size_t i = 0; i < outlines->not_examined_count; i++) {
        if (i)
            mb_buf_add_char(out, ',');
        quoted(arena, out, outlines->not_examined[i]);
    }
    mb_buf_add_char(out, ']');
    LIST("individuals", outlines->individuals, individual);
    LIST("views", outlines->views, view_of);
    mb_buf_add_text(out, "}\n");
    if (!mb_buf_ok(out))
        return mb_fail(err, MB_REFUSED, "%s: written out it would be longer than 32 MiB",
                       outlines->file);
    *text = mb_arena_str(arena, mb_buf_str(out));
    return MB_OK;
}
