#include "workbench.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "date.h"
#include "session.h"
#include "temp_folder.h"
#include "text.h"
#include "verify_log.h"

enum { FIELDS_MOST = 64 };

int64_t workbench_now = 1780315200; /* 2026-06-01T12:00:00Z */

int64_t mb_now(void)
{
    return workbench_now;
}

static void must(struct workbench *b, enum mb_rc rc)
{
    if (rc) {
        fprintf(stderr, "the workbench of this test: %s\n", b->err.text);
        abort();
    }
}

static const char *text(struct workbench *b, const char *name)
{
    return mb_json_cstr(b->arena, mb_json_get(b->out, name));
}

void workbench_new(struct workbench *b)
{
    struct mb_founding founding = {
        .origin = WORKBENCH_ORIGIN,
        .name = "Harrow & Vane Preparation",
        .key_label = "ottoline",
        .passphrase = MB_STR(WORKBENCH_PASSPHRASE),
        .holder_id = "P001",
    };

    setenv("TZ", "UTC", 1);
    *b = (struct workbench){ .arena = mb_arena_new() };
    must(b, mb_start(&b->err));
    b->folder = mb_arena_printf(b->arena, "%s/lab", temp_folder_new(b->arena));
    founding.folder = b->folder;
    must(b, mb_ledger_found(b->arena, &founding, &b->out, &b->err));
    b->envelope = text(b, "envelope");
    b->founder = text(b, "founder");
    b->second = text(b, "second");
    workbench_reopen(b, NULL);
}

void workbench_reopen(struct workbench *b, const char *key)
{
    b->ledger = mb_ledger_close(b->ledger);
    must(b, mb_ledger_open(b->arena, b->folder, MB_WRITE, &b->ledger, &b->err));
    must(b, mb_ledger_unlock(b->ledger, key, MB_STR(WORKBENCH_PASSPHRASE), &b->err));
}

void workbench_done(struct workbench *b)
{
    char *above = mb_arena_text(b->arena, b->folder);

    mb_ledger_close(b->ledger);
    *strrchr(above, '/') = '\0';
    temp_folder_remove(above);
    mb_arena_free(b->arena);
    mb_stop();
}

void workbench_house(struct workbench *b)
{
    workbench_new(b);
    workbench_must(b, "party", "P001", "partyType=person", "name=Ottoline Harrow",
                   "namedTo=anyone", NULL);
    workbench_must(b, "party", "P002", "partyType=person", "name=Teodor Vane", "namedTo=buyers",
                   NULL);
    workbench_must(b, "party", "P003", "partyType=person", "name=Wren Castellane",
                   "namedTo=nobody", NULL);
    workbench_must(b, "site", "S001", "siteName=Sallow Draw", "countryCode=US",
                   "stateProvince=Kansas", "county=Gove", "decimalLatitude=38.94127",
                   "decimalLongitude=-100.31442", "geodeticDatum=EPSG:4326",
                   "coordinateSource=GPS receiver", NULL);
    workbench_must(b, "horizon", "H-A", "layerName=layer A, 40 cm under the marker",
                   "formation=not known", "earliestStage=Santonian", "latestStage=Santonian",
                   "lithology=chalk", "howRecognised=under the marker", NULL);
    workbench_must(b, "permission", "L001", "permissionType=own land", "grantor=P001",
                   "holder=P001", "validFrom=2024-01-01", "validUntil=until ended",
                   "document=none", NULL);
    workbench_must(b, "field-day", "D001", "eventDate=2026-05-30", "site=S001",
                   "permission=L001", "recordedBy=P003 | P001",
                   "present=party:P003; role:named | party:P001; role:landowner",
                   "purpose=commercial", "tools=hand tools", NULL);
}

/* "name=value" ... NULL into a recording; the typed values live in the arena. */
static struct mb_recording recording(struct workbench *b, const char *kind, const char *subject,
                                     va_list args)
{
    struct mb_typed *typed = MB_ARRAY(b->arena, FIELDS_MOST, struct mb_typed);
    const char **attach = MB_ARRAY(b->arena, FIELDS_MOST, const char *);
    struct mb_recording what = { .kind = kind, .subject = subject, .typed = typed,
                                 .attach = attach };

    for (const char *word; (word = va_arg(args, const char *));) {
        struct mb_str name, value;

        if (strncmp(word, "--attach ", 9) == 0) {
            attach[what.attach_count++] = word + 9;
            continue;
        }
        mb_str_cut(mb_str_of(word), '=', &name, &value);
        typed[what.count++] = (struct mb_typed){
            .name = mb_arena_copy(b->arena, name.at, name.len),
            .value = mb_arena_copy(b->arena, value.at ? value.at : "", value.len),
        };
    }
    b->err = (struct mb_error){ 0 };
    b->out = NULL;
    return what;
}

enum mb_rc workbench_record(struct workbench *b, const char *kind, const char *subject, ...)
{
    struct mb_recording what;
    va_list args;

    va_start(args, subject);
    what = recording(b, kind, subject, args);
    va_end(args);
    return mb_record(b->ledger, b->arena, &what, &b->out, &b->err);
}

int64_t workbench_must(struct workbench *b, const char *kind, const char *subject, ...)
{
    struct mb_recording what;
    va_list args;

    va_start(args, subject);
    what = recording(b, kind, subject, args);
    va_end(args);
    must(b, mb_record(b->ledger, b->arena, &what, &b->out, &b->err));
    return mb_json_int(mb_json_get(b->out, "seq"), -1);
}

enum mb_rc workbench_add(struct workbench *b, mb_batch *batch, const char *where,
                         const char *kind, const char *subject, ...)
{
    struct mb_recording what;
    va_list args;

    va_start(args, subject);
    what = recording(b, kind, subject, args);
    va_end(args);
    what.where = where;
    return mb_batch_add(batch, b->arena, &what, &b->out, &b->err);
}

struct mb_entry workbench_entry(struct workbench *b, int64_t seq)
{
    struct mb_entry entry;

    must(b, mb_log_entry(b->ledger->log, b->arena, seq, &entry, &b->err));
    return entry;
}

const char *workbench_field(struct workbench *b, int64_t seq, const char *name, enum mb_class *in)
{
    struct mb_entry entry = workbench_entry(b, seq);
    const mb_json *value = mb_entry_field(&entry, name, in);
    struct mb_str json;

    if (!value)
        return "";
    json = mb_json_write(b->arena, value);
    return mb_arena_copy(b->arena, json.at, json.len);
}

int64_t workbench_size(struct workbench *b)
{
    int64_t size = 0;

    must(b, mb_log_size(b->ledger->log, &size, &b->err));
    return size;
}

const char *workbench_verify(struct workbench *b)
{
    struct mb_trust nobody = { 0 };
    struct mb_log_check check = { .arena = b->arena, .trust = &nobody, .threads = 1 };
    mb_log *log;
    char *names = mb_arena_text(b->arena, "");

    check.findings = mb_findings_new(b->arena, 0);
    must(b, mb_log_open(b->arena, b->folder, MB_LOG_READ, &log, &b->err));
    check.log = log;
    must(b, mb_log_verify(&check, &b->err));
    mb_log_close(log);
    for (int id = 0; id < MB_FINDING_COUNT; id++)
        if (mb_findings_of(check.findings, (enum mb_finding_id)id))
            names = mb_arena_printf(b->arena, "%s%s%s", names, names[0] ? " " : "",
                                    mb_finding_kinds[id].name);
    return names;
}
