#include "rule.h"

#include <dirent.h>
#include <stdlib.h>
#include <string.h>

#include "asset.h"
#include "date.h"
#include "fileio.h"
#include "text.h"

enum { RULE_MAX = 1 << 18, FOLDER_MOST = 500 };

const char *const mb_act_words[MB_ACTS] = { "collecting", "keeping", "selling", "moving abroad" };

static const char *const severities[] = { "", "note", "gap", "conflict", "bar" };

enum mb_weight mb_weight_read(struct mb_str word)
{
    for (int i = MB_NOTE; i <= MB_BAR; i++)
        if (mb_str_is(word, severities[i]))
            return (enum mb_weight)i;
    return MB_WEIGHTLESS;
}

const char *mb_weight_word(enum mb_weight severity)
{
    return severities[severity];
}

/* ---- one file ---- */

static const char *words_of(mb_arena *arena, const mb_json *value, const char *otherwise)
{
    const char *text = mb_json_cstr(arena, value);

    return text ? text : otherwise;
}

/* A query is one text, or a list of lines. */
static struct mb_str query_of(mb_arena *arena, const mb_json *value)
{
    const char *all = "";

    if (!mb_json_is(value, MB_JSON_ARRAY))
        return mb_json_str(value);
    MB_JSON_EACH (line, value)
        all = mb_arena_printf(arena, "%s%.*s\n", all, MB_STR_ARG(mb_json_str(line)));
    return mb_str_of(all);
}

static enum mb_rc read_acts(const mb_json *list, struct mb_rule *rule, struct mb_error *err)
{
    MB_JSON_EACH (word, list) {
        bool known = false;

        for (int i = 0; i < MB_ACTS; i++)
            if (mb_json_text_is(word, mb_act_words[i]))
                known = rule->act[i] = true;
        if (!known)
            return mb_fail(err, MB_REFUSED,
                           "\"acts\" has '%.*s'; it lists collecting, keeping, selling or moving"
                           " abroad",
                           MB_STR_ARG(mb_json_str(word)));
    }
    return MB_OK;
}

static enum mb_rc check_confidence(const struct mb_rule *rule, struct mb_error *err)
{
    static const char *const words[] = { "", "read", "part", "heading", "memory" };

    for (size_t i = 0; i < sizeof words / sizeof *words; i++)
        if (strcmp(rule->confidence, words[i]) == 0)
            return MB_OK;
    return mb_fail(err, MB_REFUSED,
                   "\"confidence\" is '%s'; it is read, part, heading or memory: how much of the"
                   " cited text was read",
                   rule->confidence);
}

static enum mb_rc check_rule(const struct mb_rule *rule, const mb_json *file,
                             struct mb_error *err)
{
    struct mb_days days;

    if (!mb_id_ok(mb_str_of(rule->id)))
        return mb_fail(err, MB_REFUSED, "\"id\" is missing, or no ID such as \"own-1\"");
    if (!*rule->title)
        return mb_fail(err, MB_REFUSED, "\"title\" is missing: what the rule asks, in a few words");
    if (rule->severity == MB_WEIGHTLESS)
        return mb_fail(err, MB_REFUSED, "\"severity\" is '%.*s'; it is note, gap, conflict or bar",
                       MB_STR_ARG(mb_json_str(mb_json_get(file, "severity"))));
    if (!rule->query.len)
        return mb_fail(err, MB_REFUSED, "\"query\" is missing: one SELECT over the views");
    if (*rule->effective && !mb_days_read(mb_str_of(rule->effective), &days))
        return mb_fail(err, MB_REFUSED, "\"effective\" is '%s', which is no day such as 2022-09-01",
                       rule->effective);
    return check_confidence(rule, err);
}

static enum mb_rc read_rule(mb_arena *arena, struct mb_str text, bool own, struct mb_rules *rules,
                            struct mb_error *err)
{
    struct mb_rule *rule = MB_NEW(arena, struct mb_rule);
    const mb_json *file;
    enum mb_rc rc = mb_json_read(arena, text, MB_JSON_PLAIN, &file, err);

    if (rc)
        return rc;
    *rule = (struct mb_rule){
        .id = words_of(arena, mb_json_get(file, "id"), ""),
        .name = words_of(arena, mb_json_get(file, "name"), ""),
        .title = words_of(arena, mb_json_get(file, "title"), ""),
        .severity = mb_weight_read(mb_json_str(mb_json_get(file, "severity"))),
        .citation = words_of(arena, mb_json_get(file, "citation"), ""),
        .effective = words_of(arena, mb_json_get(file, "effective"), ""),
        .written_down = words_of(arena, mb_json_get(file, "writtenDown"), ""),
        .confidence = words_of(arena, mb_json_get(file, "confidence"), ""),
        .mend = words_of(arena, mb_json_get(file, "mend"), ""),
        .carries = mb_json_true(mb_json_get(file, "carries")),
        .query = query_of(arena, mb_json_get(file, "query")),
        .say = mb_json_get(file, "say"),
        .together = mb_json_get(file, "together"),
        .own = own,
    };
    if (!*rule->name)
        rule->name = rule->id;
    rc = read_acts(mb_json_get(file, "acts"), rule, err);
    if (!rc)
        rc = check_rule(rule, file, err);
    if (rc)
        return rc;
    rule->checked = !*rule->citation || strcmp(rule->confidence, "read") == 0;
    for (const struct mb_rule *other = rules->first; other; other = other->next)
        if (strcmp(other->id, rule->id) == 0)
            return mb_fail(err, MB_REFUSED, "there is a rule %s already (%s)", rule->id,
                           other->title);
    *(rules->last ? &rules->last->next : &rules->first) = rule;
    rules->last = rule;
    rules->count++;
    return MB_OK;
}

/* ---- all of them ---- */

enum mb_rc mb_rules_built_in(mb_arena *arena, struct mb_rules *rules, struct mb_error *err)
{
    const struct mb_asset *asset;
    enum mb_rc rc = MB_OK;

    for (size_t i = 0; !rc && (asset = mb_asset_at(i)); i++) {
        struct mb_str path = mb_str_of(asset->path);

        if (!mb_str_starts(path, "rules/") || path.at[6] < '0' || path.at[6] > '9')
            continue;
        rc = read_rule(arena, (struct mb_str){ asset->data, asset->size }, false, rules, err);
        if (rc)
            mb_fail_where(err, "%s", asset->path);
    }
    return rc;
}

static bool is_rule(const char *name)
{
    size_t len = strlen(name);

    return name[0] != '.' && len > 5 && strcmp(name + len - 5, ".json") == 0;
}

static int by_name(const void *a, const void *b)
{
    return strcmp(*(char *const *)a, *(char *const *)b);
}

/* Names of the rules in a folder, sorted; at most FOLDER_MOST + 1. */
static size_t list_folder(mb_arena *arena, DIR *dir, char **names)
{
    const struct dirent *entry;
    size_t count = 0;

    while (count <= FOLDER_MOST && (entry = readdir(dir)))
        if (is_rule(entry->d_name))
            names[count++] = mb_arena_text(arena, entry->d_name);
    qsort(names, count, sizeof *names, by_name);
    return count;
}

static enum mb_rc read_file(mb_arena *arena, const char *path, struct mb_rules *rules,
                            struct mb_error *err)
{
    struct mb_str text;
    enum mb_rc rc = mb_file_read(arena, path, RULE_MAX, &text, err);

    if (rc)
        return rc;
    rc = read_rule(arena, text, true, rules, err);
    if (rc)
        mb_fail_where(err, "%s", path);
    return rc;
}

enum mb_rc mb_rules_folder(mb_arena *arena, const char *folder, struct mb_rules *rules,
                           struct mb_error *err)
{
    char **names = MB_ARRAY(arena, FOLDER_MOST + 1, char *);
    DIR *dir = opendir(folder);
    size_t count;
    enum mb_rc rc = MB_OK;

    if (!dir)
        return mb_fail(err, MB_REFUSED, "%s is no folder that can be read", folder);
    count = list_folder(arena, dir, names);
    closedir(dir);
    if (count == 0)
        rc = mb_fail(err, MB_REFUSED, "%s holds no rule: a rule is a file NAME.json", folder);
    if (count > FOLDER_MOST)
        rc = mb_fail(err, MB_REFUSED, "%s holds more than %d rules", folder, FOLDER_MOST);
    for (size_t i = 0; !rc && i < count; i++)
        rc = read_file(arena, mb_path_join(arena, folder, names[i]), rules, err);
    return rc;
}
