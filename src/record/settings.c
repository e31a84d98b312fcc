#include "settings.h"

#include <markerbed/record.h>
#include <stdlib.h>
#include <string.h>

#include "checking.h"
#include "date.h"
#include "fileio.h"
#include "kinds.h"
#include "text.h"

#define FORMAT "markerbed-settings/1"
/* Days between asking to forget and doing it: longer than the least, never shorter. */
#define FORGET_DAYS "forgetAfterDays"
enum { FORGET_DAYS_MIN = 30, FORGET_DAYS_MAX = 3650 };
enum { FILE_MOST = 1 << 20, VALUE_MOST = 1000 };

const char *mb_settings_path(mb_arena *arena, const char *folder)
{
    return mb_path_join(arena, folder, "settings.json");
}

enum mb_rc mb_settings_read(const mb_ledger *ledger, mb_arena *arena, const mb_json **out,
                            struct mb_error *err)
{
    const char *path = mb_settings_path(arena, mb_log_folder(ledger->log));
    struct mb_str bytes;
    enum mb_rc rc;

    if (!mb_file_exists(path)) {
        *out = mb_json_object(arena);
        return MB_OK;
    }
    rc = mb_file_read(arena, path, FILE_MOST, &bytes, err);
    if (rc)
        return rc;
    rc = mb_json_read(arena, bytes, MB_JSON_STRICT, out, err);
    if (!rc && !mb_json_text_is(mb_json_get(*out, "format"), FORMAT))
        rc = mb_fail(err, MB_REFUSED, "these are no settings of this program; move the file away");
    if (rc)
        mb_fail_where(err, "%s", path);
    return rc;
}

struct mb_str mb_settings_of(const mb_ledger *ledger, const mb_json *settings, struct mb_str name)
{
    const mb_json *own = mb_json_get(settings, "keys");
    struct mb_str value = { NULL, 0 };

    if (ledger->person)
        value = mb_json_str(mb_json_get_str(mb_json_get(own, ledger->signer.kid), name));
    if (!value.at)
        value = mb_json_str(mb_json_get_str(mb_json_get(settings, "everybody"), name));
    return value;
}

enum mb_rc mb_settings_recorder(mb_ledger *ledger, const char *kid, struct mb_str *out,
                                struct mb_error *err)
{
    mb_arena *scratch = mb_arena_new();
    const mb_json *settings = NULL;
    enum mb_rc rc = mb_settings_read(ledger, scratch, &settings, err);
    struct mb_str party = mb_json_str(mb_json_get(mb_json_get(settings, "recorders"), kid));

    if (!rc)
        *out = party.at && mb_subject_ok(party) ? mb_arena_str(ledger->arena, party)
                                                : (struct mb_str){ NULL, 0 };
    mb_arena_free(scratch);
    return rc;
}

enum mb_rc mb_settings_found(mb_arena *arena, const char *folder, const char *kid,
                             const char *recorder, struct mb_error *err)
{
    mb_json *settings = mb_json_object(arena), *recorders = mb_json_object(arena);

    mb_json_put_text(arena, settings, "format", FORMAT);
    mb_json_put_text(arena, recorders, kid, recorder);
    mb_json_put(arena, settings, "recorders", recorders);
    return mb_file_write(mb_settings_path(arena, folder), mb_json_write_pretty(arena, settings),
                         0644, err);
}

/* ---- changing a default ---- */

bool mb_address_ok(struct mb_str address)
{
    bool ok = address.len <= MB_ADDRESS_MAX
              && ((mb_str_starts(address, "https://") && address.len > 8)
                  || (mb_str_starts(address, "http://") && address.len > 7));

    for (size_t i = 0; ok && i < address.len; i++)
        ok = address.at[i] > ' ' && address.at[i] < 127 && !strchr("#\"<>\\^`{|}", address.at[i]);
    return ok;
}

static enum mb_rc check_name(mb_arena *arena, const char *name, struct mb_error *err)
{
    const char **names;
    size_t count;
    const char *near;

    if (strcmp(name, FORGET_DAYS) == 0 || strcmp(name, MB_CHECK_ADDRESS) == 0)
        return MB_OK;
    mb_kinds_settings(arena, &names, &count);
    for (size_t i = 0; i < count; i++)
        if (strcmp(names[i], name) == 0)
            return MB_OK;
    near = mb_nearest(mb_str_of(name), names, count);
    return mb_fail(err, MB_REFUSED, "no form asks for a default called '%s'%s%s%s; there are: %s",
                   name, near ? " (did you mean " : "", near ? near : "", near ? "?)" : "",
                   mb_kinds_join(arena, names, count, count));
}

/* A field that takes this default; the keeper of pieces is a party and no field's own. */
static const struct mb_kind_field *field_of(const char *name)
{
    const char *source = strcmp(name, "keeper") == 0 ? name : NULL;

    for (size_t k = 0; k < mb_kinds_count(); k++)
        for (size_t f = 0; f < mb_kinds_at(k)->count; f++) {
            const struct mb_kind_field *field = &mb_kinds_at(k)->fields[f];

            for (size_t i = 0; i < field->from.count; i++)
                if (source ? strcmp(field->from.at[i], source) == 0
                           : strncmp(field->from.at[i], "setting.", 8) == 0
                                 && strcmp(field->from.at[i] + 8, name) == 0)
                    return field;
        }
    return NULL;
}

/* A default that could never be filled in is refused where it is set. */
static enum mb_rc check_value(mb_ledger *ledger, mb_arena *arena, const char *name,
                              const char *value, struct mb_error *err)
{
    struct mb_checking c = { .ledger = ledger, .arena = arena };
    struct mb_value_in in = { .arena = arena, .today = (int32_t)(mb_now() / 86400), .ctx = &c,
                              .ref = mb_checking_ref };
    const struct mb_kind_field *field = field_of(name);
    mb_json *read;
    enum mb_rc rc;

    if (value && value[0] && strcmp(name, FORGET_DAYS) == 0) {
        long days = strtol(value, NULL, 10);

        if (strlen(value) > 4 || value[strspn(value, "0123456789")] || days < FORGET_DAYS_MIN
            || days > FORGET_DAYS_MAX)
            return mb_fail(err, MB_REFUSED, "%s is a number of days from %d to %d", name,
                           FORGET_DAYS_MIN, FORGET_DAYS_MAX);
    }
    if (value && value[0] && strcmp(name, MB_CHECK_ADDRESS) == 0
        && !mb_address_ok(mb_str_of(value)))
        return mb_fail(err, MB_REFUSED,
                       "%s is the address of a page that checks, such as"
                       " https://lab.example/verify.html: http or https, at most %d characters,"
                       " without #", name, MB_ADDRESS_MAX);
    if (!field || !value || !value[0])
        return MB_OK;
    rc = mb_value_read(&in, field, mb_str_of(value), &read, err);
    if (rc)
        mb_fail_where(err, "%s", name);
    return rc;
}

/* Whose default it is: of the open key, of the only key here, or of all. */
static const char *owner_of(mb_ledger *ledger, mb_arena *arena)
{
    struct mb_keyfile *files;
    size_t count;

    if (ledger->person)
        return ledger->signer.kid;
    if (mb_keyfile_list(arena, mb_log_folder(ledger->log), &files, &count, NULL) == MB_OK
        && count == 1)
        return files[0].kid;
    return NULL;
}

/* A copy of an object with one member set, or taken away where value is NULL. */
static mb_json *with(mb_arena *arena, const mb_json *object, const char *name, mb_json *value)
{
    mb_json *copy = mb_json_object(arena);

    MB_JSON_EACH(member, object)
    {
        if (!mb_str_is(member->name, name))
            mb_json_put_str(arena, copy, member->name, mb_json_copy(arena, member));
    }
    if (value)
        mb_json_put(arena, copy, name, value);
    return copy;
}

enum mb_rc mb_setting(mb_ledger *ledger, mb_arena *arena, const char *name, const char *value,
                      struct mb_error *err)
{
    const mb_json *settings, *own;
    const char *owner;
    mb_json *text, *changed;
    enum mb_rc rc = check_name(arena, name, err);

    if (!rc && value
        && (strlen(value) > VALUE_MOST || !mb_text_allowed(mb_str_of(value), false)))
        rc = mb_fail(err, MB_REFUSED, "the default for %s must be one line of plain text", name);
    if (!rc)
        rc = check_value(ledger, arena, name, value, err);
    if (!rc)
        rc = mb_settings_read(ledger, arena, &settings, err);
    if (rc)
        return rc;
    text = value && value[0] ? mb_json_string(arena, value) : NULL;
    owner = owner_of(ledger, arena);
    if (owner) {
        own = mb_json_get(settings, "keys");
        changed = with(arena, settings, "keys",
                       with(arena, own, owner, with(arena, mb_json_get(own, owner), name, text)));
    } else {
        own = mb_json_get(settings, "everybody");
        changed = with(arena, settings, "everybody", with(arena, own, name, text));
    }
    mb_json_put_text(arena, changed, "format", FORMAT);
    return mb_file_write(mb_settings_path(arena, mb_log_folder(ledger->log)),
                         mb_json_write_pretty(arena, changed), 0644, err);
}
