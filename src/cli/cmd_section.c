#include <markerbed/land.h>

#include <string.h>

#include "command.h"
#include "fileio.h"
#include "text.h"

enum { FILE_MODE = 0644 };

static enum mb_rc write_file(struct call *call, mb_json *out, const char *what, struct mb_str bytes,
                             struct mb_error *err)
{
    const char *path = call_value(call, what);

    mb_json_put_text(call->arena, out, what, path);
    return mb_file_create(path, bytes, FILE_MODE, err);
}

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    const mb_json *section;
    struct mb_str pdf, svg;
    double scale = 0;
    mb_json *out;
    enum mb_rc rc = mb_section_tell(call->ledger, call->arena, call->words[0],
                                    call_value(call, "as-of"), &section, err);

    if (rc == MB_OK && call_has(call, "pdf"))
        rc = mb_section_pdf(call->arena, section, call_value(call, "paper"), &pdf, &scale, err);
    if (rc == MB_OK && call_has(call, "svg"))
        rc = mb_section_svg(call->arena, section, &svg, &scale, err);
    if (rc != MB_OK)
        return rc;
    out = mb_json_copy(call->arena, section);
    if (scale > 0)
        mb_json_put_text(call->arena, out, "scale", mb_arena_printf(call->arena, "1 : %g", scale));
    if (call_has(call, "pdf"))
        rc = write_file(call, out, "pdf", pdf, err);
    if (rc == MB_OK && call_has(call, "svg"))
        rc = write_file(call, out, "svg", svg, err);
    call->result = out;
    return rc;
}

static const char *word(const struct call *call, const mb_json *of, const char *name,
                        const char *otherwise)
{
    const char *text = mb_json_cstr(call->arena, mb_json_get(of, name));

    return text != NULL ? text : otherwise;
}

static const char *metres(const struct call *call, const mb_json *of, const char *name)
{
    struct mb_str text = mb_json_get(of, name) ? mb_json_get(of, name)->text : mb_str_of("");

    return mb_arena_copy(call->arena, text.at, text.len > 4 ? text.len - 4 : text.len);
}

struct sheet {
    mb_json *all, *rows;
};

static struct sheet table(const struct call *call, const char *const *columns, size_t count)
{
    struct sheet out = { .all = mb_json_object(call->arena) };
    mb_json *names = mb_json_put(call->arena, out.all, "columns", mb_json_array(call->arena));

    for (size_t i = 0; i < count; i++)
        mb_json_add_text(call->arena, names, columns[i]);
    out.rows = mb_json_put(call->arena, out.all, "rows", mb_json_array(call->arena));
    return out;
}

static void tell_units(const struct call *call, const struct screen *screen)
{
    static const char *const columns[] = { "no", "layer", "rock", "from", "to", "age" };
    struct sheet out = table(call, columns, 6);
    const mb_json *units = mb_json_get(call->result, "units");

    for (size_t i = units->count; i-- > 0;) {
        const mb_json *unit = mb_json_at(units, i);
        mb_json *row = mb_json_add(out.rows, mb_json_array(call->arena));

        mb_json_add(row, mb_json_copy(call->arena, mb_json_get(unit, "number")));
        mb_json_add_text(call->arena, row, word(call, unit, "name", "nothing recorded"));
        mb_json_add_text(call->arena, row, word(call, unit, "rock", ""));
        mb_json_add_text(call->arena, row, metres(call, unit, "base"));
        mb_json_add_text(call->arena, row, metres(call, unit, "top"));
        mb_json_add_text(call->arena, row, word(call, unit, "age", ""));
    }
    screen_table(screen, out.all);
}

static void tell_finds(const struct call *call, const struct screen *screen)
{
    static const char *const columns[] = { "find", "from", "to", "somewhere in" };
    struct sheet out = table(call, columns, 4);
    const mb_json *finds = mb_json_get(call->result, "finds");

    if (finds->count == 0)
        return;
    MB_JSON_EACH (find, finds)
        MB_JSON_EACH (subject, mb_json_get(find, "subjects")) {
            mb_json *row = mb_json_add(out.rows, mb_json_array(call->arena));

            mb_json_add(row, mb_json_string_str(call->arena, subject->text));
            mb_json_add_text(call->arena, row, metres(call, find, "from"));
            mb_json_add_text(call->arena, row, metres(call, find, "to"));
            mb_json_add_text(call->arena, row, word(call, find, "somewhereIn", ""));
        }
    screen_gap(screen);
    screen_table(screen, out.all);
}

static void tell(const struct call *call, const struct screen *screen)
{
    const mb_json *r = call->result;

    screen_say(screen, STRONG, 0, "Metres above the %s, from the top down",
               word(call, r, "datum", ""));
    tell_units(call, screen);
    tell_finds(call, screen);
    MB_JSON_EACH (note, mb_json_get(r, "notes"))
        screen_say(screen, PLAIN, 0, "Please note: %.*s", MB_STR_ARG(note->text));
    if (mb_json_get(r, "pdf") != NULL)
        screen_say(screen, PLAIN, 0, "Drawn at %s: %s", word(call, r, "scale", ""),
                   word(call, r, "pdf", ""));
    if (mb_json_get(r, "svg") != NULL)
        screen_say(screen, PLAIN, 0, "Drawn at %s: %s", word(call, r, "scale", ""),
                   word(call, r, "svg", ""));
}

static const char *const papers[] = { "A4", "Letter", NULL };

static const struct option options[] = {
    { "pdf", 0, "FILE", false, OFFER_FILES, NULL, "draw it to scale, with tables" },
    { "svg", 0, "FILE", false, OFFER_FILES, NULL, "the drawing alone" },
    { "paper", 0, "SIZE", false, OFFER_CHOICES, papers, "A4 or Letter; A4 if nothing is said" },
    { 0 },
};

static const char *const usage[] = { "HORIZON", NULL };

static const struct example examples[] = {
    { "The section around a layer, to scale", "markerbed -L lab section H-A --pdf section.pdf" },
    { 0 },
};

const struct command cmd_section = {
    .name = "section",
    .group = "Looking up",
    .line = "the measured section of a layer, with its finds, to scale",
    .usage = usage,
    .about = "Puts together the layers that were measured in the same place from the same datum "
             "(thickness, baseHeight, baseDatum and section of each), and the finds with a height "
             "above it.\nWithout a height on record a layer is drawn alone, from its base.",
    .options = options,
    .examples = examples,
    .flags = NEEDS_LEDGER | TAKES_AS_OF,
    .words_min = 1,
    .words_max = 1,
    .run = run,
    .tell = tell,
};
