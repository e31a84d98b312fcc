#include "command.h"

#include <markerbed/shares.h>
#include <markerbed/record.h>

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "fileio.h"
#include "text.h"
#include "typing.h"
#include "wording.h"

enum { OVERLAY_MODE = 0644, OUTLINES_MODE = 0600 };

static unsigned needs(const struct call *call)
{
    return call_has(call, "record") ? NEEDS_KEY : 0;
}

static struct mb_measure_given given_of(const struct call *call)
{
    struct mb_measure_given given = { .view = call_value(call, "view"),
                                      .individual = call_value(call, "individual"),
                                      .element = call_value(call, "element"),
                                      .line_px = call_value(call, "line"),
                                      .area_mm2 = call_value(call, "area") };

    given.not_examined = call_values(call, "not-examined", &given.not_examined_count);
    return given;
}

/* Words up to the first "field=value" are files, unless a file bears that name. */
static size_t files_of(const struct call *call)
{
    size_t count = 0;

    while (count < call->word_count
           && (!strchr(call->words[count], '=') || mb_file_exists(call->words[count])))
        count++;
    return count;
}

static enum mb_rc draw_overlay(const struct call *call, const struct mb_measure_given *given,
                               struct mb_error *err)
{
    const char *name = call_value(call, "overlay");
    mb_arena *scratch;
    struct mb_str bytes;
    enum mb_rc rc;

    if (mb_file_exists(name)) /* before much is measured */
        return mb_fail(err, MB_REFUSED, "%s exists already; choose another name or move it away",
                       name);
    scratch = mb_arena_new();
    rc = mb_measure_overlay(scratch, call->words[0], given, call_value(call, "draw-view"),
                            call_value(call, "photo"), name, &bytes, err);
    if (!rc)
        rc = mb_file_create(name, bytes, OVERLAY_MODE, err);
    mb_arena_free(scratch);
    return rc;
}

static enum mb_rc measure_one(const struct call *call, const struct mb_measure_given *given,
                              const char *file, const mb_json **out, struct mb_error *err)
{
    mb_arena *scratch = mb_arena_new();
    const mb_json *measured;
    enum mb_rc rc = mb_measure_file(scratch, file, given, &measured, err);

    if (!rc)
        *out = mb_json_copy(call->arena, measured);
    mb_arena_free(scratch);
    return rc;
}

/* What comes out of the drawing is not typed. */
static enum mb_rc refuse_typed(const struct typing *typing, struct mb_error *err)
{
    static const char *const fields[] = { "shares", "surfaces", "outlines" };

    for (size_t i = 0; i < sizeof fields / sizeof *fields; i++)
        if (typing_get(typing, fields[i]))
            return mb_fail(err, MB_REFUSED,
                           "%s comes from the file that was measured, so that anyone can measure"
                           " again; leave it out (estimates stand in the file too)",
                           fields[i]);
    return MB_OK;
}

static bool attaches_photos(const struct typing *typing)
{
    for (size_t i = 0; i < typing->attach_count; i++)
        if (!strchr(typing->attach[i], '=') || strncmp(typing->attach[i], "photos=", 7) == 0)
            return true;
    return false;
}

/* The measured rows, unless something was typed in their place. */
static void put_measured(struct typing *typing, const mb_json *measured)
{
    static const char *const fields[] = { "shares", "surfaces", "joins",
                                          "individuals", "notExamined", "frame", "photos" };

    for (size_t i = 0; i < sizeof fields / sizeof *fields; i++) {
        const mb_json *value = mb_json_get(measured, fields[i]);
        /* a single one needs no row to say what belongs together */
        unsigned fewest = strcmp(fields[i], "individuals") == 0 ? 2 : 1;

        if (strcmp(fields[i], "photos") == 0 && attaches_photos(typing))
            continue;
        if (value && !typing_get(typing, fields[i])
            && (!mb_json_is(value, MB_JSON_ARRAY) || value->count >= fewest))
            typing_put(typing, fields[i], NULL, value);
    }
}

/* The library attaches files; this one exists only as long as that takes. */
static enum mb_rc record_with(struct call *call, struct typing *typing, struct mb_str complete,
                              const mb_json **entry, struct mb_error *err)
{
    const char *folder = getenv("TMPDIR");
    char *path = mb_arena_printf(call->arena, "%s/markerbed-XXXXXX",
                                 folder && *folder ? folder : "/tmp");
    char *file = mkdtemp(path) ? mb_path_join(call->arena, path, "outlines.json") : NULL;
    struct mb_recording recording;
    enum mb_rc rc;

    if (!file)
        return mb_fail(err, MB_UNABLE, "cannot make a folder for a moment: %s: %m", path);
    rc = mb_file_create(file, complete, OUTLINES_MODE, err);
    if (!rc) {
        typing_attach(typing, mb_arena_printf(call->arena, "outlines=%s", file));
        recording = typing_recording(typing);
        recording.kind = "condition";
        recording.subject = call_subject(call, "specimen", call_value(call, "record"));
        rc = mb_record(call->ledger, call->arena, &recording, entry, err);
    }
    unlink(file);
    rmdir(path);
    return rc;
}

static enum mb_rc record(struct call *call, const struct mb_measure_given *given,
                         const mb_json **measured, mb_json *result, struct mb_error *err)
{
    struct typing typing = { .arena = call->arena };
    struct mb_str complete;
    const mb_json *entry;
    enum mb_rc rc = typing_words(&typing, call, 1, err);

    if (!rc)
        rc = refuse_typed(&typing, err);
    if (!rc)
        rc = mb_measure_complete(call->arena, call->words[0], given, measured, &complete, err);
    if (rc)
        return rc;
    put_measured(&typing, *measured);
    rc = record_with(call, &typing, complete, &entry, err);
    if (!rc)
        mb_json_put(call->arena, result, "recorded", mb_json_copy(call->arena, entry));
    return rc;
}

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    struct mb_measure_given given = given_of(call);
    mb_json *result = mb_json_object(call->arena), *list = mb_json_array(call->arena);
    size_t files = files_of(call);
    const mb_json *measured = NULL;
    enum mb_rc rc = MB_OK;

    if (files == 0)
        return mb_fail(err, MB_REFUSED, "name the file with the outlines or the counts first");
    if (files < call->word_count && !call_has(call, "record"))
        return mb_fail(err, MB_REFUSED, "'%s' is no file; fields are recorded with --record",
                       call->words[files]);
    if (files > 1 && (call_has(call, "record") || call_has(call, "overlay")))
        return mb_fail(err, MB_REFUSED, "--record and --overlay take one file, not %zu", files);
    mb_json_put(call->arena, result, "files", list);
    if (call_has(call, "overlay"))
        rc = draw_overlay(call, &given, err);
    for (size_t i = 0; !rc && i < files; i++) {
        mb_json *one;

        rc = call_has(call, "record")
                 ? record(call, &given, &measured, result, err)
                 : measure_one(call, &given, call->words[i], &measured, err);
        if (rc)
            break;
        one = mb_json_add(list, mb_json_copy(call->arena, measured));
        mb_json_put_text(call->arena, one, "file", call->words[i]);
    }
    call->result = rc == MB_OK ? result : NULL;
    return rc;
}

/* ---- in words ---- */

static const char *amount(mb_arena *arena, const mb_json *row)
{
    const char *band = wording_of(arena, row, "band"), *extent = wording_of(arena, row, "extent");

    if (band != NULL || extent != NULL)
        return mb_arena_printf(arena, "%s, estimated", band != NULL ? band : extent);
    if (mb_json_text_is(mb_json_get(row, "percent"), "0.0"))
        return mb_arena_printf(arena, "none found (up to %s)", wording_of(arena, row, "high"));
    return mb_arena_printf(arena, "%s (%s–%s)", wording_of(arena, row, "percent"),
                           wording_of(arena, row, "low"), wording_of(arena, row, "high"));
}

static const char *cell(mb_arena *arena, const mb_json *row, const char *name)
{
    const char *text = wording_of(arena, row, name);

    return text != NULL ? text : "";
}

static void tell_rows(const struct screen *screen, const mb_json *rows, const char *what,
                      const char *heading)
{
    mb_arena *arena = screen->arena;
    const char *const columns[] = { "individual", "element", "view", what, "%", "how", "n" };
    mb_json *table = mb_json_object(arena), *names, *lines;

    if (rows == NULL || rows->count == 0)
        return;
    names = mb_json_put(arena, table, "columns", mb_json_array(arena));
    lines = mb_json_put(arena, table, "rows", mb_json_array(arena));
    for (size_t i = 0; i < sizeof columns / sizeof *columns; i++)
        mb_json_add_text(arena, names, columns[i]);
    MB_JSON_EACH(row, rows) {
        mb_json *line = mb_json_add(lines, mb_json_array(arena));

        for (size_t i = 0; i < sizeof columns / sizeof *columns; i++)
            mb_json_add_text(arena, line,
                             strcmp(columns[i], "%") == 0 ? amount(arena, row)
                                                          : cell(arena, row, columns[i]));
    }
    screen_heading(screen, heading);
    screen_table(screen, table);
}

static void tell_joins(const struct screen *screen, const mb_json *joins)
{
    mb_arena *arena = screen->arena;

    if (joins == NULL || joins->count == 0)
        return;
    screen_heading(screen, "Joins");
    MB_JSON_EACH(row, joins) {
        const char *length = wording_of(arena, row, "lengthMm");

        screen_say(screen, PLAIN, 0, "%s through %s%s%s%s", cell(arena, row, "count"),
                   cell(arena, row, "through"), length != NULL ? ", " : "",
                   length != NULL ? length : "", length != NULL ? " mm together" : "");
    }
}

/* How several views and elements were put together. */
static void tell_weights(const struct screen *screen, const mb_json *totals)
{
    mb_arena *arena = screen->arena;

    MB_JSON_EACH(total, totals) {
        const mb_json *weights = mb_json_get(total, "weights");

        if (weights == NULL || weights->count < 2)
            continue;
        screen_heading(screen, mb_arena_printf(arena, "Weights of %s: by area",
                                               cell(arena, total, "individual")));
        MB_JSON_EACH(weight, weights)
            screen_say(screen, PLAIN, 0, "%s%s%s: %s mm², %s %%", cell(arena, weight, "view"),
                       *cell(arena, weight, "element") ? ", " : "",
                       cell(arena, weight, "element"), cell(arena, weight, "areaMm2"),
                       cell(arena, weight, "percent"));
    }
}

static void tell(const struct call *call, const struct screen *screen)
{
    const mb_json *files = mb_json_get(call->result, "files");
    const mb_json *recorded = mb_json_get(call->result, "recorded");

    MB_JSON_EACH(file, files) {
        if (files->count > 1)
            screen_heading(screen, cell(call->arena, file, "file"));
        tell_rows(screen, mb_json_get(file, "shares"), "substance", "Shares, per cent");
        tell_rows(screen, mb_json_get(file, "surfaces"), "surface", "Surfaces, per cent");
        tell_joins(screen, mb_json_get(file, "joins"));
        tell_weights(screen, mb_json_get(file, "totals"));
        screen_gap(screen);
        MB_JSON_EACH(note, mb_json_get(file, "notes")) {
            screen_say(screen, PLAIN, 0, "%s", wording(call->arena, note));
        }
    }
    if (call_has(call, "overlay"))
        screen_say(screen, PLAIN, 0, "The overlay is in %s.", call_value(call, "overlay"));
    if (recorded != NULL)
        screen_say(screen, PLAIN, 0, "Recorded as entry #%s, with the outlines attached.",
                   wording_of(call->arena, recorded, "seq"));
}

static const char *const usage[] = { "FILE… [--overlay FILE]",
                                     "FILE --record SPECIMEN [FIELD=VALUE…]", NULL };

static const struct option options[] = {
    { .name = "record",
      .value = "SPECIMEN",
      .help = "record what was measured as its condition, with the outlines attached" },
    { .name = "overlay",
      .value = "FILE",
      .offer = OFFER_FILES,
      .help = "draw one view with regions and legend, as .svg, .png or .pdf" },
    { .name = "draw-view", .value = "VIEW", .help = "which view to draw; the first if not said" },
    { .name = "photo",
      .value = "FILE",
      .offer = OFFER_FILES,
      .help = "the photo to draw over; else the one that the view names, beside the outlines" },
    { .name = "view", .value = "VIEW", .help = "the view's name, where the file has none" },
    { .name = "individual", .value = "LETTER", .help = "the individual, where the file has none" },
    { .name = "element", .value = "ELEMENT", .help = "the element, where the file has none" },
    { .name = "not-examined",
      .value = "WHAT",
      .many = true,
      .help = "what was not looked at, where the file does not say; \"nothing\" is an answer" },
    { .name = "line",
      .value = "PIXELS",
      .help = "width of the drawn line, where the file has none" },
    { .name = "area", .value = "MM2", .help = "area that counted points stand for, in mm²" },
    { .name = "attach",
      .value = "FIELD=FILE",
      .many = true,
      .offer = OFFER_FILES,
      .help = "a photo or other file that goes with the recorded entry" },
    { 0 },
};

static const struct example examples[] = {
    { "How much is original, by what was drawn", "markerbed measure 26-0115.outlines.json" },
    { "Draw it over the photo",
      "markerbed measure 26-0115.outlines.json --overlay 26-0115.png" },
    { "Record it",
      "markerbed -L lab measure 26-0115.outlines.json --record 26-0115 occasion='for sale' \\\n"
      "    means='eye | lens' examinerTie='did the work' form=natural \\\n"
      "    identifyingMarks='mark:rust spot; where:left of crown A' \\\n"
      "    dimensions='which:length; value:42; unit:cm' mass='3.4 kg'" },
    { 0 },
};

const struct command cmd_measure = {
    .name = "measure",
    .group = "Writing down",
    .line = "measure how much is original",
    .usage = usage,
    .about =
        "FILE holds outlines drawn over a photo (JSON or SVG) or counted points (a table);"
        " docs/measuring.md says how to make one. Each share comes with the range that it may"
        " lie in. Estimates stay bands and are never added to what was measured.\n"
        "A recorded measurement travels with its outlines, so that anyone can measure again.",
    .options = options,
    .examples = examples,
    .flags = NAMES_LEDGER,
    .needs = needs,
    .words_min = 1,
    .words_max = 200,
    .words = OFFER_FILES,
    .run = run,
    .tell = tell,
};
