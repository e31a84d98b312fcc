#include "temp_ledger.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "bytes_of.h"
#include "temp_folder.h"
#include "text.h"

static void must(enum mb_rc rc, const struct mb_error *err)
{
    if (rc) {
        fprintf(stderr, "the ledger of this test: %s\n", err->text);
        abort();
    }
}

struct mb_field *temp_fields(mb_arena *arena, const char *json, size_t *count)
{
    struct mb_field *fields;
    struct mb_error err = { 0 };
    const mb_json *classes;
    size_t n = 0;

    must(mb_json_read(arena, mb_str_of(json), MB_JSON_PLAIN, &classes, &err), &err);
    MB_JSON_EACH(in, classes)
        n += in->count;
    fields = MB_ARRAY(arena, n + 1, struct mb_field);
    n = 0;
    MB_JSON_EACH(in, classes)
        MB_JSON_EACH(value, in) {
            struct mb_field *f = &fields[n++];
            size_t len = value->name.len;

            if (!mb_class_of(in->name, &f->in))
                abort();
            f->salted = len > 0 && value->name.at[len - 1] == '*';
            f->name = mb_arena_copy(arena, value->name.at, len - f->salted);
            f->value = value;
        }
    *count = n;
    return fields;
}

static enum mb_rc put(struct temp_ledger *t, const mb_secret *secret, const char *sub,
                      const char *kind, const char *json, struct mb_entry *out,
                      struct mb_error *err)
{
    struct mb_append append = { .sub = sub, .kind = kind };

    append.fields = temp_fields(t->arena, json, &append.count);
    if (strcmp(kind, "founding") == 0)
        append.origin = TEMP_LEDGER_ORIGIN;
    return mb_log_append(t->log, t->arena, &append, secret, out, err);
}

enum mb_rc temp_ledger_put(struct temp_ledger *t, const char *sub, const char *kind,
                           const char *fields, struct mb_error *err)
{
    return put(t, t->owner, sub, kind, fields, NULL, err);
}

struct mb_entry temp_ledger_put_by(struct temp_ledger *t, const mb_secret *secret, const char *sub,
                                   const char *kind, const char *fields)
{
    int64_t seq = mb_log_next_seq(t->log);
    struct mb_error err = { 0 };
    struct mb_entry entry;

    must(put(t, secret, sub, kind, fields, NULL, &err), &err);
    must(mb_log_entry(t->log, t->arena, seq, &entry, &err), &err);
    return entry;
}

void temp_ledger_begin(struct temp_ledger *t)
{
    struct mb_error err = { 0 };

    must(mb_log_begin(t->log, &err), &err);
}

void temp_ledger_commit(struct temp_ledger *t)
{
    const mb_secret *keys[] = { t->checkpoint };
    struct mb_error err = { 0 };

    must(mb_log_commit(t->log, keys, 1, &err), &err);
}

struct mb_entry temp_ledger_add(struct temp_ledger *t, const char *sub, const char *kind,
                                const char *fields)
{
    struct mb_entry entry;

    temp_ledger_begin(t);
    entry = temp_ledger_put_by(t, t->owner, sub, kind, fields);
    temp_ledger_commit(t);
    return entry;
}

static const char *jwk_text(mb_arena *arena, const mb_secret *secret)
{
    struct mb_str text = mb_json_write(arena, mb_jwk_make(arena, mb_secret_key(secret)));

    return mb_arena_copy(arena, text.at, text.len);
}

static void enrol(struct temp_ledger *t, const mb_secret *key, const char *holder, const char *may)
{
    char kid[MB_THUMBPRINT_LEN + 1];

    mb_thumbprint(mb_secret_key(key), kid);
    temp_ledger_put_by(t, t->owner, mb_arena_printf(t->arena, "key/%s", kid), "key-enrolment",
                       mb_arena_printf(t->arena,
                                       "{\"open\":{\"holder\":{\"ref\":\"%s\"},\"jwk\":%s,"
                                       "\"may\":%s}}",
                                       holder, jwk_text(t->arena, key), may));
}

void temp_ledger_new(struct temp_ledger *t)
{
    struct mb_error err = { 0 };
    struct mb_vkey vkey;

    t->arena = mb_arena_new();
    t->owner = secret_of_seed(0x20);
    t->spare = secret_of_seed(0x40);
    t->preparator = secret_of_seed(0x60);
    t->checkpoint = secret_of_seed(0x00);
    t->folder = temp_folder_new(t->arena);
    must(mb_log_create(t->arena, t->folder, &t->log, &err), &err);
    vkey = mb_vkey_make(MB_STR(TEMP_LEDGER_ORIGIN), MB_VKEY_LOG, mb_secret_key(t->checkpoint));
    temp_ledger_begin(t);
    temp_ledger_put_by(t, t->owner, "ledger", "founding",
                       mb_arena_printf(t->arena,
                                       "{\"open\":{\"checkpointKey\":\"%s\",\"jwk\":%s,"
                                       "\"name\":\"Harrow & Vane Preparation\","
                                       "\"origin\":\"" TEMP_LEDGER_ORIGIN "\"}}",
                                       mb_vkey_write(t->arena, &vkey),
                                       jwk_text(t->arena, t->owner)));
    enrol(t, t->spare, "party/P001", "[\"enrol\"]");
    enrol(t, t->preparator, "party/P002", "[\"preparation\",\"condition\"]");
    temp_ledger_commit(t);
}

void temp_ledger_done(struct temp_ledger *t)
{
    t->log = mb_log_close(t->log);
    temp_folder_remove(t->folder);
    mb_secret_free(t->owner);
    mb_secret_free(t->spare);
    mb_secret_free(t->preparator);
    mb_secret_free(t->checkpoint);
    t->arena = mb_arena_free(t->arena);
}
