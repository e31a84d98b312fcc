#include "policy.h"

#include <string.h>

#include "text.h"

enum { NO_QUORUM = -1, WORDS_MAX = MB_POLICY_NAMES_MAX + 3 };

/* A witness or a group of earlier ones. */
struct name {
    struct mb_str name;
    size_t witness;       /* its index; of a group MB_POLICY_NAMES_MAX */
    size_t needed, count; /* of a group */
    size_t *members;
    bool taken; /* is a member already */
};

struct mb_policy {
    mb_arena *arena;
    struct name names[MB_POLICY_NAMES_MAX];
    size_t count;
    struct mb_policy_witness witnesses[MB_POLICY_NAMES_MAX];
    size_t witness_count;
    struct mb_vkey logs[MB_POLICY_NAMES_MAX];
    size_t log_count;
    bool names_logs; /* one that we cannot check counts as named */
    int quorum;
    bool ended;
};

struct words {
    struct mb_str at[WORDS_MAX];
    size_t count;
};

static bool blank(char c)
{
    return c == ' ' || c == '\t';
}

static bool split(struct mb_str line, struct words *out)
{
    out->count = 0;
    for (size_t i = 0; i < line.len;) {
        size_t begin;

        while (i < line.len && blank(line.at[i]))
            i++;
        begin = i;
        while (i < line.len && !blank(line.at[i])) {
            unsigned char c = (unsigned char)line.at[i++];

            if (c < 0x20 || c == 0x7F)
                return false;
        }
        if (i == begin)
            break;
        if (out->count == WORDS_MAX)
            return false;
        out->at[out->count++] = (struct mb_str){ line.at + begin, i - begin };
    }
    return true;
}

static struct name *find_name(mb_policy *policy, struct mb_str name)
{
    for (size_t i = 0; i < policy->count; i++)
        if (mb_str_equal(policy->names[i].name, name))
            return &policy->names[i];
    return NULL;
}

static enum mb_rc add_name(mb_policy *policy, struct mb_str name, struct name **out,
                           struct mb_error *err)
{
    if (mb_str_is(name, "none") || find_name(policy, name))
        return mb_fail(err, MB_REFUSED, "the name '%.*s' is taken", MB_STR_ARG(name));
    if (policy->count == MB_POLICY_NAMES_MAX)
        return mb_fail(err, MB_REFUSED, "there are more than %d witnesses and groups",
                       MB_POLICY_NAMES_MAX);
    *out = &policy->names[policy->count++];
    (*out)->name = name;
    (*out)->witness = MB_POLICY_NAMES_MAX;
    return MB_OK;
}

static bool key_here(const mb_policy *policy, const struct mb_key *key)
{
    for (size_t i = 0; i < policy->witness_count; i++)
        if (policy->witnesses[i].usable && mb_key_equal(&policy->witnesses[i].vkey.key, key))
            return true;
    for (size_t i = 0; i < policy->log_count; i++)
        if (mb_key_equal(&policy->logs[i].key, key))
            return true;
    return false;
}

/* MB_UNABLE: a key of a type that we do not know, which is no fault of the file. */
static enum mb_rc read_key(const mb_policy *policy, struct mb_str text, enum mb_vkey_type type,
                           struct mb_vkey *out, struct mb_error *err)
{
    struct mb_error inner = { 0 };
    enum mb_rc rc = mb_vkey_read(text, out, &inner);

    if (rc == MB_UNABLE)
        return rc;
    if (rc)
        return mb_fail(err, rc, "%s", inner.text);
    if (out->type != type)
        return mb_fail(err, MB_REFUSED, "the key of '%.*s' is of type %02x; a %s has one of type"
                       " %02x",
                       MB_STR_ARG(out->name), out->type, type == MB_VKEY_LOG ? "log" : "witness",
                       type);
    if (!mb_key_ok(&out->key))
        return mb_fail(err, MB_REFUSED, "the key of '%.*s' is not canonical or of small order",
                       MB_STR_ARG(out->name));
    if (key_here(policy, &out->key))
        return mb_fail(err, MB_REFUSED, "the key of '%.*s' stands here twice",
                       MB_STR_ARG(out->name));
    return MB_OK;
}

static enum mb_rc take_log(mb_policy *policy, const struct words *words, struct mb_error *err)
{
    struct mb_vkey vkey;
    enum mb_rc rc;

    if (words->count < 2 || words->count > 3)
        return mb_fail(err, MB_REFUSED, "write `log KEY` or `log KEY ADDRESS`");
    if (policy->log_count == MB_POLICY_NAMES_MAX)
        return mb_fail(err, MB_REFUSED, "there are more than %d logs", MB_POLICY_NAMES_MAX);
    rc = read_key(policy, words->at[1], MB_VKEY_LOG, &vkey, err);
    policy->names_logs = true;
    if (rc == MB_OK)
        policy->logs[policy->log_count++] = vkey;
    return rc == MB_UNABLE ? MB_OK : rc;
}

static enum mb_rc take_witness(mb_policy *policy, const struct words *words, struct mb_error *err)
{
    struct mb_policy_witness witness = { 0 };
    struct name *name;
    enum mb_rc rc;

    if (words->count < 3 || words->count > 4)
        return mb_fail(err, MB_REFUSED, "write `witness NAME KEY` or `witness NAME KEY ADDRESS`");
    rc = read_key(policy, words->at[2], MB_VKEY_WITNESS, &witness.vkey, err);
    if (rc && rc != MB_UNABLE)
        return rc;
    witness.usable = rc == MB_OK;
    witness.name = words->at[1];
    rc = add_name(policy, words->at[1], &name, err);
    if (rc)
        return rc;
    name->witness = policy->witness_count;
    policy->witnesses[policy->witness_count++] = witness;
    return MB_OK;
}

static bool read_needed(struct mb_str text, size_t members, size_t *out)
{
    size_t n = 0;

    if (mb_str_is(text, "any") || mb_str_is(text, "all")) {
        *out = mb_str_is(text, "any") ? 1 : members;
        return true;
    }
    if (text.len == 0 || text.len > 3 || text.at[0] == '0')
        return false;
    for (size_t i = 0; i < text.len; i++) {
        if (text.at[i] < '0' || text.at[i] > '9')
            return false;
        n = n * 10 + (size_t)(text.at[i] - '0');
    }
    *out = n;
    return n <= members;
}

static enum mb_rc take_group(mb_policy *policy, const struct words *words, struct mb_error *err)
{
    size_t count = words->count < 4 ? 0 : words->count - 3, needed;
    size_t *members = MB_ARRAY(policy->arena, count + 1, size_t);
    struct name *name;
    enum mb_rc rc;

    if (count == 0)
        return mb_fail(err, MB_REFUSED, "write `group NAME any|all|NUMBER MEMBER ...`");
    if (!read_needed(words->at[2], count, &needed))
        return mb_fail(err, MB_REFUSED,
                       "'%.*s' is not any, all or a number from 1 to the %zu members",
                       MB_STR_ARG(words->at[2]), count);
    for (size_t i = 0; i < count; i++) {
        struct name *member = find_name(policy, words->at[i + 3]);

        if (!member)
            return mb_fail(err, MB_REFUSED, "no line above names '%.*s'",
                           MB_STR_ARG(words->at[i + 3]));
        if (member->taken)
            return mb_fail(err, MB_REFUSED, "'%.*s' is a member of a group already",
                           MB_STR_ARG(member->name));
        member->taken = true;
        members[i] = (size_t)(member - policy->names);
    }
    rc = add_name(policy, words->at[1], &name, err);
    if (rc)
        return rc;
    name->needed = needed;
    name->count = count;
    name->members = members;
    return MB_OK;
}

static enum mb_rc take_quorum(mb_policy *policy, const struct words *words, struct mb_error *err)
{
    struct name *name;

    if (words->count != 2)
        return mb_fail(err, MB_REFUSED, "write `quorum NAME` or `quorum none`");
    if (policy->ended)
        return mb_fail(err, MB_REFUSED, "there is a quorum line already");
    policy->ended = true;
    if (mb_str_is(words->at[1], "none"))
        return MB_OK;
    name = find_name(policy, words->at[1]);
    if (!name)
        return mb_fail(err, MB_REFUSED, "no line above names '%.*s'", MB_STR_ARG(words->at[1]));
    policy->quorum = (int)(name - policy->names);
    return MB_OK;
}

static enum mb_rc take_line(mb_policy *policy, struct mb_str line, struct mb_error *err)
{
    static const struct {
        const char *word;
        enum mb_rc (*take)(mb_policy *policy, const struct words *words, struct mb_error *err);
    } takers[] = { { "log", take_log },
                   { "witness", take_witness },
                   { "group", take_group },
                   { "quorum", take_quorum } };
    struct words words;

    if (!split(line, &words))
        return mb_fail(err, MB_REFUSED, "it holds a control character, or more than %d words",
                       WORDS_MAX);
    if (words.count == 0 || words.at[0].at[0] == '#')
        return MB_OK;
    for (size_t i = 0; i < sizeof takers / sizeof *takers; i++)
        if (mb_str_is(words.at[0], takers[i].word))
            return takers[i].take(policy, &words, err);
    return mb_fail(err, MB_REFUSED, "a line begins with log, witness, group, quorum or #, not"
                   " with '%.*s'",
                   words.at[0].len > 40 ? 40 : (int)words.at[0].len, words.at[0].at);
}

enum mb_rc mb_policy_read(mb_arena *arena, struct mb_str bytes, mb_policy **out,
                          struct mb_error *err)
{
    mb_policy *policy = MB_NEW(arena, mb_policy);
    struct mb_str line;
    size_t number = 0;

    policy->arena = arena;
    policy->quorum = NO_QUORUM;
    while (bytes.len) {
        enum mb_rc rc;

        mb_str_cut(bytes, '\n', &line, &bytes);
        number++;
        rc = take_line(policy, line, err);
        if (rc) {
            mb_fail_where(err, "line %zu", number);
            return rc;
        }
    }
    if (!policy->ended)
        return mb_fail(err, MB_REFUSED, "it has no quorum line (`quorum NAME` or `quorum none`)");
    *out = policy;
    return MB_OK;
}

size_t mb_policy_witness_count(const mb_policy *policy)
{
    return policy->witness_count;
}

const struct mb_policy_witness *mb_policy_witness_at(const mb_policy *policy, size_t index)
{
    return &policy->witnesses[index];
}

bool mb_policy_asks(const mb_policy *policy)
{
    return policy->quorum != NO_QUORUM;
}

bool mb_policy_takes_log(const mb_policy *policy, const struct mb_note *note)
{
    bool taken = !policy->names_logs;

    for (size_t i = 0; i < policy->log_count; i++) {
        enum mb_note_answer answer = mb_note_signed_by(note, &policy->logs[i], NULL);

        if (answer == MB_NOTE_FORGED)
            return false;
        taken = taken || answer == MB_NOTE_SIGNED;
    }
    return taken;
}

bool mb_policy_reached(const mb_policy *policy, const bool *seen)
{
    bool reached[MB_POLICY_NAMES_MAX];

    for (size_t i = 0; i < policy->count; i++) { /* members stand before their group */
        const struct name *name = &policy->names[i];
        size_t n = 0;

        for (size_t j = 0; j < name->count; j++)
            n += reached[name->members[j]];
        reached[i] = name->witness < MB_POLICY_NAMES_MAX ? seen[name->witness] : n >= name->needed;
    }
    return policy->quorum == NO_QUORUM || reached[policy->quorum];
}
