#include "bag_verify.h"

#include "bundle.h"
#include "fileio.h"
#include "text.h"
#include "verify_log.h"

struct packed {
    mb_arena *arena;
    const struct mb_bag *bag;
    mb_findings *findings;
    mb_json *wanted; /* hash: is it here */
};

bool mb_bag_has(const void *ctx, struct mb_str sha256)
{
    const struct mb_bag *bag = ctx;

    for (size_t i = 0; i < bag->count; i++)
        if (bag->files[i].payload && bag->files[i].sha256
            && mb_str_is(sha256, bag->files[i].sha256))
            return true;
    return false;
}

static void want(void *ctx, struct mb_str sha256)
{
    struct packed *p = ctx;
    if (mb_json_get_str(p->wanted, sha256))
        return;
    mb_json_put_str(p->arena, p->wanted, sha256,
                    mb_json_bool(p->arena, mb_bag_has(p->bag, sha256)));
}

static void want_of(struct packed *p, const struct mb_bundle *bundle)
{
    for (size_t i = 0; i < bundle->count; i++) {
        struct mb_entry entry;

        if (mb_entry_read_sd(p->arena, bundle->entries[i].sd_jwt, &entry, NULL))
            continue;
        for (size_t k = 0; k < entry.disclosure_count; k++)
            mb_value_files(entry.disclosures[k].value, want, p);
    }
}

static void compare(struct packed *p, struct mb_str certificate, mb_json *about)
{
    struct mb_bundle bundle;
    const mb_json *json;
    int64_t here = 0;

    if (mb_json_read(p->arena, certificate, MB_JSON_STRICT, &json, NULL)
        || mb_bundle_read(p->arena, json, &bundle, NULL))
        return;
    want_of(p, &bundle);
    MB_JSON_EACH(file, p->wanted)
    {
        here += mb_json_true(file);
        if (!mb_json_true(file))
            mb_find(p->findings, MB_F_BAG_LACKS_FILE, (struct mb_str){ NULL, 0 }, -1,
                    "The file with the hash %.*s is not in the bag.", MB_STR_ARG(file->name));
    }
    mb_json_put_int(p->arena, about, "attachmentsShown", p->wanted->count);
    mb_json_put_int(p->arena, about, "attachmentsHere", here);
}

static void say(struct packed *p, const mb_json *list, enum mb_finding_id id)
{
    MB_JSON_EACH(one, list)
        mb_find(p->findings, id, (struct mb_str){ NULL, 0 }, -1, "%.*s %.*s.",
                MB_STR_ARG(mb_json_str(mb_json_get(one, "file"))),
                MB_STR_ARG(mb_json_str(mb_json_get(one, "text"))));
}

enum mb_rc mb_bag_verify(mb_arena *arena, const char *folder, mb_findings *findings,
                         mb_json *about, const struct mb_bag **bag, const char **inside,
                         struct mb_str *bytes, struct mb_error *err)
{
    struct packed p = { arena, NULL, findings, mb_json_object(arena) };
    struct mb_str name;
    enum mb_rc rc = mb_bag_check(arena, folder, bag, err);

    *inside = NULL;
    if (rc == MB_REFUSED || rc == MB_UNABLE)
        return rc;
    p.bag = *bag;
    say(&p, p.bag->faults, MB_F_BAG_BROKEN);
    say(&p, p.bag->warnings, MB_F_BAG_ODD);
    mb_json_put_int(arena, about, "files", (int64_t)p.bag->count);
    mb_json_put_int(arena, about, "payloadBytes", p.bag->payload_bytes);
    mb_json_put_bool(arena, about, "sealed", p.bag->sealed);
    name = mb_bag_info(p.bag->info, MB_BAG_CERTIFICATE);
    if (!name.at || !mb_bag_find(p.bag, mb_arena_copy(arena, name.at, name.len))) {
        mb_find(findings, MB_F_BAG_WITHOUT_CERTIFICATE, (struct mb_str){ NULL, 0 }, -1,
                "bag-info.txt names no certificate that the bag holds.");
        return MB_OK;
    }
    *inside = mb_path_join(arena, folder, mb_arena_copy(arena, name.at, name.len));
    rc = mb_file_read(arena, *inside, MB_BUNDLE_MAX, bytes, err);
    if (!rc)
        compare(&p, *bytes, about);
    return rc;
}
