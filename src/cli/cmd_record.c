#include "asking.h"

#include <stdlib.h>
#include <string.h>

#include "date.h"
#include "fileio.h"
#include "kind_form.h"
#include "text.h"
#include "wording.h"

enum { FILE_MAX = 64 << 20 };

/* ---- from a file ---- */

/* "record --json FILE" reads a file and answers in JSON; "--from FILE" answers in words. */
static const char *file_of(const struct call *call)
{
    const char *file = call_value(call, "from");

    if (file == NULL && call_json(call) && !call_has(call, "ask") && call->word_count == 1)
        file = call->words[0];
    return file;
}

static enum mb_rc read_item(const struct call *call, const mb_json *item, const char *where,
                            struct typing *typing, struct mb_error *err)
{
    enum mb_rc rc;

    *typing = (struct typing){ .arena = call->arena, .where = where };
    rc = typing_item(typing, item, err);
    if (rc != MB_OK)
        mb_fail_where(err, "%s", where);
    return rc;
}

static enum mb_rc record_single(struct call *call, const struct typing *typing,
                                struct mb_error *err)
{
    struct mb_recording recording = typing_recording(typing);

    return mb_record(call->ledger, call->arena, &recording, &call->result, err);
}

static enum mb_rc add_items(struct call *call, mb_batch *batch, const mb_json *items,
                            const char *file, mb_json *entries, struct mb_error *err)
{
    int number = 0;
    enum mb_rc rc = MB_OK;

    MB_JSON_EACH(item, items) {
        struct mb_recording recording;
        struct typing typing;
        const mb_json *entry = NULL;

        rc = read_item(call, item, mb_arena_printf(call->arena, "%s: entry %d", file, ++number),
                       &typing, err);
        if (rc != MB_OK)
            return rc;
        recording = typing_recording(&typing);
        rc = mb_batch_add(batch, call->arena, &recording, &entry, err);
        if (rc != MB_OK)
            return rc;
        mb_json_add(entries, mb_json_copy(call->arena, entry));
    }
    return rc;
}

static enum mb_rc record_list(struct call *call, const mb_json *items, const char *file,
                              struct mb_error *err)
{
    const char *name = call_value(call, "batch");
    mb_json *result = mb_json_object(call->arena), *entries = mb_json_array(call->arena);
    mb_batch *batch;
    enum mb_rc rc;

    if (name == NULL)
        name = mb_arena_printf(call->arena, "%s %s", mb_path_name(file),
                               mb_moment_write(call->arena, mb_now()));
    rc = mb_batch_begin(call->ledger, call->arena, name, &batch, err);
    if (rc != MB_OK)
        return rc;
    rc = add_items(call, batch, items, file, entries, err);
    if (rc != MB_OK) {
        mb_batch_cancel(batch);
        return rc;
    }
    rc = mb_batch_end(batch, err);
    if (rc != MB_OK)
        return rc;
    mb_json_put_text(call->arena, result, "batch", name);
    mb_json_put(call->arena, result, "entries", entries);
    call->result = result;
    return MB_OK;
}

static enum mb_rc record_file(struct call *call, const char *path, struct mb_error *err)
{
    const char *file = strcmp(path, "-") == 0 ? "standard input" : path;
    struct typing typing;
    struct mb_str text;
    const mb_json *json;
    enum mb_rc rc = mb_file_read(call->arena, path, FILE_MAX, &text, err);

    if (rc != MB_OK)
        return rc;
    rc = mb_json_read(call->arena, text, MB_JSON_PLAIN, &json, err);
    if (rc != MB_OK) {
        mb_fail_where(err, "%s", file);
        return rc;
    }
    if (mb_json_is(json, MB_JSON_ARRAY))
        return record_list(call, json, file, err);
    rc = read_item(call, json, file, &typing, err);
    return rc == MB_OK ? record_single(call, &typing, err) : rc;
}

/* ---- from words or a talk ---- */

/* "specimen/26-####" and "specimen/#" stand for the next free number. */
static enum mb_rc resolve_subject(const struct call *call, struct typing *typing,
                                  struct mb_error *err)
{
    struct mb_str prefix, pattern;
    const mb_json *next;
    const char *kind, *id;
    enum mb_rc rc;

    if (typing->subject == NULL || strchr(typing->subject, '#') == NULL)
        return MB_OK;
    if (!mb_str_cut(mb_str_of(typing->subject), '/', &prefix, &pattern))
        return mb_fail(err, MB_REFUSED, "\"%s\" lacks its kind, as in specimen/26-####",
                       typing->subject);
    kind = mb_arena_copy(call->arena, prefix.at, prefix.len);
    rc = mb_next_id(call->ledger, call->arena, kind, mb_str_is(pattern, "#") ? NULL : pattern.at,
                    &next, err);
    if (rc != MB_OK)
        return rc;
    id = wording_of(call->arena, next, "id");
    typing->subject = call_subject(call, kind, id != NULL ? id : "");
    return MB_OK;
}

static enum mb_rc record_words(struct call *call, struct mb_error *err)
{
    struct typing typing = { .arena = call->arena };
    bool ask = call_has(call, "ask");
    size_t first = 0;
    enum mb_rc rc;

    if (call->word_count > first && strchr(call->words[first], '=') == NULL)
        typing.kind = call->words[first++];
    if (call->word_count > first && strchr(call->words[first], '=') == NULL)
        typing.subject = call->words[first++];
    if (!ask && typing.subject == NULL)
        return mb_fail(err, MB_REFUSED,
                       "record needs a KIND and a SUBJECT, as in markerbed record note"
                       " specimen/26-0115 \"text=ask the museum\"; or --ask to be asked");
    rc = typing_words(&typing, call, first, err);
    if (rc == MB_OK)
        rc = resolve_subject(call, &typing, err);
    if (rc == MB_OK && ask)
        rc = typing_place(&typing, err);
    if (rc == MB_OK && ask)
        rc = asking_talk(call, &typing, call_has(call, "all"), err);
    return rc == MB_OK ? record_single(call, &typing, err) : rc;
}

/* ---- all of it ---- */

static enum mb_rc check_together(const struct call *call, struct mb_error *err)
{
    bool undo = call_has(call, "undo"), from = file_of(call) != NULL;

    if (undo + from + call_has(call, "ask") > 1)
        return mb_fail(err, MB_REFUSED,
                       "--ask, --from and --undo are three different things; give one of them");
    if ((from && call->word_count > (call_has(call, "from") ? 0 : 1))
        || (undo && call->word_count > 0))
        return mb_fail(err, MB_REFUSED,
                       "with --from or --undo there is nothing to say beside it: leave out \"%s\"",
                       call->words[0]);
    if (undo != call_has(call, "why"))
        return mb_fail(err, MB_REFUSED,
                       undo ? "say with --why why the batch is undone; it is kept"
                            : "--why goes with --undo");
    if (call_has(call, "batch") && !from)
        return mb_fail(err, MB_REFUSED, "--batch goes with --from");
    return MB_OK;
}

static enum mb_rc run(struct call *call, struct mb_error *err)
{
    const char *file = file_of(call);
    enum mb_rc rc = check_together(call, err);

    if (rc != MB_OK)
        return rc;
    if (call_has(call, "undo"))
        return mb_batch_undo(call->ledger, call->arena, call_value(call, "undo"),
                             call_value(call, "why"), &call->result, err);
    return file != NULL ? record_file(call, file, err) : record_words(call, err);
}

static void tell_one(const struct call *call, const struct screen *screen, const mb_json *entry)
{
    struct pairs filled = { .arena = call->arena };
    bool asked = call_has(call, "ask"); /* then all of it was shown before */

    screen_say(screen, PLAIN, 0, "Recorded as entry #%s: %s of %s.",
               wording_of(call->arena, entry, "seq"), wording_of(call->arena, entry, "kind"),
               wording_of(call->arena, entry, "subject"));
    MB_JSON_EACH(value, asked ? NULL : mb_json_get(entry, "filled"))
        pairs_add(&filled, wording_name(call->arena, value->name), wording(call->arena, value));
    if (filled.first != NULL)
        screen_say(screen, PLAIN, 0, "Filled in by itself:");
    pairs_print(screen, 2, &filled);
    MB_JSON_EACH(warning, mb_json_get(entry, "warnings"))
        screen_say(screen, DOUBT, 0, "Please note: %s", wording(call->arena, warning));
    if (!asked)
        screen_cautions(screen, mb_json_get(entry, "cautionWords"));
}

static void tell_batch(const struct call *call, const struct screen *screen)
{
    const mb_json *entries = mb_json_get(call->result, "entries");
    const char *batch = wording_of(call->arena, call->result, "batch");

    screen_say(screen, PLAIN, 0, "Recorded %s in the batch \"%s\".",
               wording_count(call->arena, entries->count, "entry", "entries"), batch);
    MB_JSON_EACH(entry, entries)
        MB_JSON_EACH(warning, mb_json_get(entry, "warnings"))
            screen_say(screen, DOUBT, 0, "Please note, entry #%s of %s: %s",
                       wording_of(call->arena, entry, "seq"),
                       wording_of(call->arena, entry, "subject"), wording(call->arena, warning));
    screen_say(screen, PLAIN, 0, "To strike it all out again:");
    screen_say(screen, PLAIN, 2, "markerbed record --undo \"%s\" --why \"...\"", batch);
}

static void tell_undone(const struct call *call, const struct screen *screen, int64_t voided)
{
    mb_arena *arena = call->arena;

    screen_say(screen, PLAIN, 0,
               "Struck out %s of the batch \"%s\". They stay where they are and can be read; they"
               " count no more.",
               wording_count(arena, voided, "entry", "entries"), call_value(call, "undo"));
    MB_JSON_EACH(kept, mb_json_get(call->result, "kept"))
        screen_say(screen, DOUBT, 0, "Left as it was: entry #%s, %s of %s, for %s.",
                   wording_of(arena, kept, "seq"), wording_of(arena, kept, "kind"),
                   wording_of(arena, kept, "subject"), wording_of(arena, kept, "why"));
}

static void tell(const struct call *call, const struct screen *screen)
{
    const mb_json *voided = mb_json_get(call->result, "voided");

    if (voided != NULL)
        tell_undone(call, screen, mb_json_int(voided, 0));
    else if (mb_json_get(call->result, "batch") != NULL)
        tell_batch(call, screen);
    else
        tell_one(call, screen, call->result);
}

static bool explain(const struct call *call, const struct screen *screen)
{
    const mb_json *kinds;

    if (mb_kinds(call->arena, &kinds, NULL) != MB_OK)
        return false;
    MB_JSON_EACH(kind, kinds)
        if (mb_json_text_is(mb_json_get(kind, "kind"), call->words[0])
            && mb_json_get(kind, "example") != NULL) {
            kind_print(screen, kinds, kind);
            return true;
        }
    return false;
}

static const char *const usage[] = {
    "KIND SUBJECT [FIELD=VALUE ...] [--attach FILE ...]",
    "--ask [KIND [SUBJECT]]",
    "--from FILE",
    "--undo BATCH --why WHY",
    NULL,
};

static const struct option options[] = {
    { .name = "ask", .help = "ask for each field in turn, with help; works through a pipe too" },
    { .name = "all", .help = "with --ask: ask for what is seldom needed as well" },
    { .name = "attach",
      .value = "[FIELD=]FILE",
      .many = true,
      .offer = OFFER_FILES,
      .help = "a photo or paper that goes with it; photos, if no field is named" },
    { .name = "from",
      .value = "FILE",
      .offer = OFFER_FILES,
      .help = "entries written as JSON: {\"kind\":..., \"subject\":..., \"fields\":{...}}, or a"
              " list of such, which is recorded as a whole or not at all; - is standard input."
              " \"record --json FILE\" reads it too, and answers in JSON" },
    { .name = "batch",
      .value = "NAME",
      .help = "with --from: what the list is called, to undo it by" },
    { .name = "undo",
      .value = "BATCH",
      .help = "strike out all entries of a batch; they stay readable" },
    { .name = "why", .value = "WHY", .help = "with --undo: the reason, which is kept" },
    { 0 },
};

static const struct example examples[] = {
    { "A find, with the day in the field open",
      "markerbed record collecting specimen/26-0115 recordNumber=T-118 \\\n"
      "    \"verbatimIdentification=crinoid slab, three crowns\" objectForm=slab" },
    { "The next free number, and a photo",
      "markerbed record collecting specimen/26-#### recordNumber=T-119 \\\n"
      "    \"verbatimIdentification=ammonite\" objectForm=single --attach find-119.jpg" },
    { "Being asked instead", "markerbed record --ask" },
    { "A whole evening's notes at once", "markerbed record --from evening.json" },
    { "It was the wrong box",
      "markerbed record --undo \"evening.json 2026-05-02T19:40:00Z\" --why \"wrong box\"" },
    { 0 },
};

const struct command cmd_record = {
    .name = "record",
    .group = "Writing down",
    .line = "write down one thing about one subject",
    .usage = usage,
    .about =
        "What is recorded is signed and never changed; a later correction replaces it, and both"
        " stay visible. What the day in the field, the job, the last entry or your own"
        " defaults already say is filled in.\n"
        "\"markerbed list kinds\" lists what can be recorded; \"markerbed record KIND --help\" "
        "what a kind asks for."
        " Several values are divided by \" | \"; a measure is written with its unit, like"
        " \"12.50 kg\"; \"not known\", \"not examined\", \"none\" and \"does not apply\" are"
        " answers where a field allows them.",
    .options = options,
    .examples = examples,
    .flags = NEEDS_KEY,
    .words_max = 1000,
    .words = OFFER_CHOICES,
    .run = run,
    .explain = explain,
    .tell = tell,
};
