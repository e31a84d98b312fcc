/* A buyer's file of two pieces, changed in one place: whatever was done to it is found, and called
 * by its name. */
#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>

#include "codec.h"
#include "dice.h"
#include "paper.h"
#include "sample_jpeg.h"
#include "stock.h"
#include "text.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])

static struct workbench b;
static const char *whole, *trust, *other_file, *later_file;

static void set_up(void)
{
    struct sample_jpeg how = { .width_px = 64, .height_px = 48 };
    struct workbench other;

    /* another lab that took the same name, and its file of a piece of the same number */
    stock_house(&other);
    stock_find(&other, "26-0115");
    other_file = paper_must(&other, (struct paper_wish){ .specimens = "26-0115",
                                                         .audience = "buyer",
                                                         .to = "bearer" });
    stock_house(&b);
    other_file = mb_arena_text(b.arena, other_file);
    workbench_done(&other);
    cr_assert_eq(mb_start(&b.err), MB_OK);
    stock_find(&b, "26-0115");
    stock_lot(&b, "26-0240", 240);
    stock_divide(&b, "26-0240", "specimen:26-0241; form:lot; quantity:80", "160", "0");
    workbench_must(&b, "note", "specimen/26-0115", "text=front",
                   mb_arena_printf(b.arena, "--attach %s",
                                   paper_file(&b, "front.jpg", sample_jpeg(b.arena, &how))),
                   NULL);
    trust = paper_trust(&b);
    whole = paper_must(&b, (struct paper_wish){ .specimens = "26-0115 26-0241",
                                                .audience = "buyer",
                                                .to = "P011",
                                                .withhold = "inPlace: our own decision" });
    later_file = paper_must(&b, (struct paper_wish){ .specimens = "26-0115 26-0241",
                                                     .audience = "buyer",
                                                     .to = "P011" });
}

static void tear_down(void)
{
    workbench_done(&b);
}

TestSuite(forged, .init = set_up, .fini = tear_down);

/* ---- reaching into a file ---- */

static mb_json *copy_of(const char *text)
{
    const mb_json *json;
    struct mb_error err = { 0 };

    cr_assert_eq(mb_json_read(b.arena, mb_str_of(text), MB_JSON_STRICT, &json, &err), MB_OK, "%s",
                 err.text);
    return mb_json_copy(b.arena, json);
}

static mb_json *member(const mb_json *object, const char *name)
{
    for (mb_json *one = object->first; one; one = one->next)
        if (mb_str_is(one->name, name))
            return one;
    cr_assert_fail("no %s", name);
    return NULL;
}

static mb_json *nth(const mb_json *array, size_t n)
{
    mb_json *one = array->first;

    while (one && n-- > 0)
        one = one->next;
    return one;
}

static void drop(mb_json *parent, const mb_json *child)
{
    mb_json **at = &parent->first;

    while (*at != child)
        at = &(*at)->next;
    *at = child->next;
    parent->last = NULL;
    for (mb_json *one = parent->first; one; one = one->next)
        parent->last = one;
    parent->count--;
}

static mb_json *entry(const mb_json *file, size_t n)
{
    return nth(member(file, "entries"), n);
}

static void set_text(mb_json *value, const char *text)
{
    value->text = mb_str_of(text);
}

static const char *text_of(const mb_json *value)
{
    return mb_arena_copy(b.arena, value->text.at, value->text.len);
}

/* The parts of an sd_jwt between its tildes: 0 is the JWS. */
static const char *part(const char *sd_jwt, size_t n, size_t *at, size_t *len)
{
    *at = 0;
    while (n-- > 0) {
        const char *tilde = strchr(sd_jwt + *at, '~');

        if (!tilde || tilde[1] == '\0')
            return NULL;
        *at = (size_t)(tilde - sd_jwt) + 1;
    }
    *len = strcspn(sd_jwt + *at, "~");
    return mb_arena_copy(b.arena, sd_jwt + *at, *len);
}

/* The n-th disclosure of all entries: cut out of its sd_jwt, which is *from; NULL behind the last.
 */
static const char *take_disclosure(mb_json *file, size_t n, mb_json **from)
{
    for (mb_json *one = member(file, "entries")->first; one; one = one->next) {
        const char *text = text_of(member(one, "sd_jwt"));

        for (size_t i = 1;; i++) {
            size_t at, len;
            const char *disclosure = part(text, i, &at, &len);

            if (!disclosure)
                break;
            if (n-- > 0)
                continue;
            *from = member(one, "sd_jwt");
            set_text(*from, mb_arena_printf(b.arena, "%.*s%s", (int)at, text, text + at + len + 1));
            return disclosure;
        }
    }
    return NULL;
}

/* The n-th claim of the payload of an entry said otherwise, and the JWS put together again. */
static void change_payload(mb_json *file, size_t which, const char *from, const char *to)
{
    mb_json *sd = member(entry(file, which), "sd_jwt");
    const char *text = text_of(sd), *dot = strchr(text, '.'), *end = strchr(dot + 1, '.');
    char *payload = mb_arena_get(b.arena, strlen(text) + strlen(to) + 1);
    char *at, *changed;
    size_t len;
    struct mb_str back;

    cr_assert(mb_b64u_read((struct mb_str){ dot + 1, (size_t)(end - dot) - 1 }, payload, &len));
    payload[len] = '\0';
    at = strstr(payload, from);
    cr_assert(at, "%s has no %s", payload, from);
    changed = mb_arena_printf(b.arena, "%.*s%s%s", (int)(at - payload), payload, to,
                              at + strlen(from));
    back = mb_b64u(b.arena, changed, strlen(changed));
    set_text(sd, mb_arena_printf(b.arena, "%.*s.%.*s%s", (int)(dot - text), text,
                                 MB_STR_ARG(back), end));
}

/* ---- what can be done to it: the n-th way of doing so; false where there is none any more ---- */

static bool drop_entry(mb_json *file, size_t n)
{
    mb_json *entries = member(file, "entries");

    if (n + 2 >= entries->count) /* the two certificates: below */
        return false;
    drop(entries, nth(entries, n));
    return true;
}

/* One of two is a file of one piece, with what was shown of the other. */
static bool drop_a_certificate(mb_json *file, size_t n)
{
    mb_json *entries = member(file, "entries");

    if (n > 0)
        return false;
    drop(entries, nth(entries, entries->count - 2));
    return true;
}

static bool drop_the_last(mb_json *file, size_t n)
{
    mb_json *entries = member(file, "entries");

    if (n > 0)
        return false;
    drop(entries, entries->last);
    return true;
}

static bool swap_entries(mb_json *file, size_t n)
{
    mb_json *entries = member(file, "entries"), *a = nth(entries, n), held;

    if (!a || !a->next)
        return false;
    held = *a;
    *a = (mb_json){ .type = held.type, .count = a->next->count, .first = a->next->first,
                    .last = a->next->last, .next = held.next };
    held.next->first = held.first;
    held.next->last = held.last;
    return true;
}

static bool drop_disclosure(mb_json *file, size_t n)
{
    mb_json *from;

    return take_disclosure(file, n, &from) != NULL;
}

static bool move_disclosure(mb_json *file, size_t n)
{
    mb_json *from, *to;
    const char *disclosure = take_disclosure(file, n, &from);

    if (!disclosure)
        return false;
    to = member(entry(file, 0), "sd_jwt");
    if (to == from)
        to = member(entry(file, 1), "sd_jwt");
    set_text(to, mb_arena_printf(b.arena, "%s%s~", text_of(to), disclosure));
    return true;
}

static bool repeat_disclosure(mb_json *file, size_t n)
{
    mb_json *from;
    const char *disclosure = take_disclosure(file, n, &from);

    if (!disclosure)
        return false;
    set_text(from, mb_arena_printf(b.arena, "%s%s~%s~", text_of(from), disclosure, disclosure));
    return true;
}

static bool change_value(mb_json *file, size_t n)
{
    mb_json *from;
    const char *disclosure = take_disclosure(file, n, &from);
    char *json;
    struct mb_str back;
    size_t len;

    if (!disclosure)
        return false;
    json = mb_arena_get(b.arena, strlen(disclosure) + 8);
    cr_assert(mb_b64u_read(mb_str_of(disclosure), json, &len));
    json[len] = '\0';
    cr_assert_eq(json[len - 1], ']');
    memcpy(json + len - 1, ",1]", 4); /* one more part */
    back = mb_b64u(b.arena, json, len + 2);
    set_text(from, mb_arena_printf(b.arena, "%s%.*s~", text_of(from), MB_STR_ARG(back)));
    return true;
}

static bool change_reason(mb_json *file, size_t n)
{
    size_t last = member(file, "entries")->count - 1;

    if (n > 0)
        return false;
    change_payload(file, last - 1, "our own decision", "agency's request");
    return true;
}

static bool change_signed(mb_json *file, size_t n)
{
    static const char *const claims[][2] = {
        { "\"nth\":", "\"nth\":1" },     { "\"seq\":", "\"seq\":1" },
        { "\"iat\":1", "\"iat\":2" },    { "\"kind\":\"", "\"kind\":\"un" },
        { "\"iss\":\"l", "\"iss\":\"L" }, { "\"sub\":\"", "\"sub\":\"un" },
        { "\"_sd\":[", "\"_sd\":[\"\"," },
    };
    size_t entries = member(file, "entries")->count, which = n % entries;

    if (n / entries >= COUNT(claims))
        return false;
    if (n / entries == 6 && !strstr(whole, "x")) /* (every entry but the first has a class) */
        return false;
    if (n / entries == 6 && which == 0)
        which = 1;
    change_payload(file, which, claims[n / entries][0], claims[n / entries][1]);
    return true;
}

static bool change_signature(mb_json *file, size_t n)
{
    mb_json *one = entry(file, n), *sd;
    char *text;
    size_t at;

    if (!one)
        return false;
    sd = member(one, "sd_jwt");
    text = mb_arena_text(b.arena, text_of(sd));
    at = (size_t)(strchr(strchr(text, '.') + 1, '.') - text) + 20;
    text[at] = text[at] == 'A' ? 'B' : 'A';
    set_text(sd, text);
    return true;
}

static bool change_proof(mb_json *file, size_t n)
{
    mb_json *one = entry(file, n), *proof;
    char *text;

    if (!one)
        return false;
    proof = member(one, "proof");
    text = mb_arena_text(b.arena, text_of(proof->first));
    text[3] = text[3] == 'A' ? 'B' : 'A';
    set_text(proof->first, text);
    return true;
}

static bool cut_proof(mb_json *file, size_t n)
{
    mb_json *one = entry(file, n);

    if (!one)
        return false;
    drop(member(one, "proof"), member(one, "proof")->first);
    return true;
}

static bool other_index(mb_json *file, size_t n)
{
    mb_json *one = entry(file, n);

    if (!one || !one->next)
        return false;
    /* to a number that is free, or that breaks the order: either way it is not the entry's */
    member(one, "index")->integer += 1;
    return true;
}

static bool cut_checkpoint(mb_json *file, size_t n)
{
    mb_json *checkpoint = member(file, "checkpoint");
    const char *text = text_of(checkpoint), *end = strstr(text, "\n\n");

    if (n == 0) /* without its signatures */
        set_text(checkpoint, mb_arena_printf(b.arena, "%.*s", (int)(end - text) + 2, text));
    else if (n == 1) /* without its last line end */
        set_text(checkpoint, mb_arena_printf(b.arena, "%.*s", (int)strlen(text) - 1, text));
    else if (n == 2)
        set_text(checkpoint, "");
    else
        return false;
    return true;
}

static bool forge_checkpoint(mb_json *file, size_t n)
{
    mb_json *checkpoint = member(file, "checkpoint");
    char *text = mb_arena_text(b.arena, text_of(checkpoint));
    char *root = strchr(strchr(text, '\n') + 1, '\n') + 1;

    if (n > 0)
        return false;
    root[2] = root[2] == 'A' ? 'B' : 'A';
    set_text(checkpoint, text);
    return true;
}

static bool unsign_checkpoint(mb_json *file, size_t n)
{
    mb_json *checkpoint = member(file, "checkpoint");
    const char *text = text_of(checkpoint), *at = strstr(text, "\n\n");

    if (n > 0)
        return false;
    /* signed by somebody of another name */
    set_text(checkpoint, mb_arena_printf(b.arena, "%.*s\u2014 other.example %s",
                                         (int)(at - text) + 2, text, strrchr(text, ' ') + 1));
    return true;
}

static bool later_checkpoint(mb_json *file, size_t n)
{
    if (n > 0)
        return false;
    set_text(member(file, "checkpoint"), text_of(member(copy_of(later_file), "checkpoint")));
    return true;
}

static bool other_origin(mb_json *file, size_t n)
{
    if (n > 0)
        return false;
    set_text(member(file, "origin"), "ledger.other.example");
    return true;
}

static bool entry_of_another(mb_json *file, size_t n)
{
    mb_json *theirs = copy_of(other_file);
    mb_json *one = entry(file, n), *two = entry(theirs, n);

    if (!one || !two)
        return false;
    set_text(member(one, "sd_jwt"), text_of(member(two, "sd_jwt")));
    return true;
}

static bool unknown_member(mb_json *file, size_t n)
{
    mb_json *where = n == 0 ? file : n == 1 ? entry(file, 0) : NULL;

    if (!where)
        return false;
    mb_json_put_text(b.arena, where, "note", "nothing");
    return true;
}

static bool member_gone(mb_json *file, size_t n)
{
    static const char *const names[] = { "origin", "checkpoint", "entries" };

    if (n >= COUNT(names))
        return false;
    drop(file, member(file, names[n]));
    return true;
}

static bool change_file(mb_json *file, size_t n)
{
    mb_json *photo = member(file, "files")->first;
    char *text = mb_arena_text(b.arena, text_of(photo));

    if (n > 0)
        return false;
    text[100] = text[100] == 'A' ? 'B' : 'A';
    set_text(photo, text);
    return true;
}

static bool more_files(mb_json *file, size_t n)
{
    if (n > 0)
        return false;
    /* SHA-256 of "abc" (FIPS 180-4, example of one block) */
    mb_json_put_text(b.arena, member(file, "files"),
                     "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad", "YWJj");
    return true;
}

static bool a_later_entry(mb_json *file, size_t n)
{
    mb_json *later = copy_of(later_file);

    if (n > 0)
        return false;
    mb_json_add(member(file, "entries"), mb_json_copy(b.arena, member(later, "entries")->last));
    return true;
}

static const struct {
    const char *what;
    bool (*change)(mb_json *file, size_t n);
    const char *found;
    size_t least; /* ways of doing so that there must be */
} changes[] = {
    { "an entry left out", drop_entry, "left-out", 12 },
    { "one of two certificates left out", drop_a_certificate, "cut-down", 1 },
    { "the last certificate left out", drop_the_last, "size-differs", 1 },
    { "two entries swapped", swap_entries, "malformed", 12 },
    { "a disclosure dropped", drop_disclosure, "cut-down", 40 },
    { "a disclosure moved", move_disclosure, "stray-disclosure", 40 },
    { "a disclosure twice", repeat_disclosure, "malformed", 40 },
    { "a disclosure changed", change_value, "", 40 },
    { "a reason changed", change_reason, "broken-signature", 1 },
    { "something signed changed", change_signed, "", 60 },
    { "a signature changed", change_signature, "broken-signature", 12 },
    { "a proof changed", change_proof, "not-in-tree", 12 },
    { "a proof cut", cut_proof, "not-in-tree", 12 },
    { "another index", other_index, "malformed", 12 },
    { "the checkpoint cut", cut_checkpoint, "malformed", 3 },
    { "the root changed", forge_checkpoint, "checkpoint-forged", 1 },
    { "the checkpoint unsigned", unsign_checkpoint, "checkpoint-key", 1 },
    { "a later checkpoint", later_checkpoint, "size-differs", 1 },
    { "another origin", other_origin, "wrong-origin", 1 },
    { "an entry of another ledger", entry_of_another, "not-in-tree", 8 },
    { "a member too many", unknown_member, "malformed", 2 },
    { "a member gone", member_gone, "malformed", 3 },
    { "an attached file changed", change_file, "file-changed", 1 },
    { "a file put in", more_files, "file-unasked", 1 },
    { "an entry of later put behind", a_later_entry, "size-differs", 1 },
};

static const char *written(const mb_json *file)
{
    struct mb_str text = mb_json_write(b.arena, file);

    return mb_arena_copy(b.arena, text.at, text.len);
}

Test(forged, every_change_is_refused_with_the_finding_it_deserves, .timeout = 120)
{
    const char *sound = paper_judge_text(&b, trust, whole);

    cr_assert(sound[0] == '0', "%s", sound);
    for (size_t i = 0; i < COUNT(changes); i++) {
        size_t n = 0;

        for (;; n++) {
            mb_json *file = copy_of(whole);
            const char *names;

            if (!changes[i].change(file, n))
                break;
            names = paper_judge_text(&b, trust, written(file));
            cr_expect(names[0] == '1' && strstr(names, changes[i].found), "%s, %zu: %s",
                      changes[i].what, n, names);
        }
        cr_expect_geq(n, changes[i].least, "%s: %zu ways", changes[i].what, n);
    }
}

/* Anywhere in the file, one character for another of its kind. */
Test(forged, any_single_character_changed_is_noticed, .timeout = 120)
{
    struct dice dice = { 115 };
    size_t len = strlen(whole), changed = 0;

    for (int i = 0; i < 400; i++) {
        char *text = mb_arena_text(b.arena, whole);
        size_t at = dice_roll(&dice, len);
        const char *names;
        char c = text[at];

        if (c >= 'a' && c <= 'z')
            text[at] = c == 'q' ? 'r' : 'q';
        else if (c >= 'A' && c <= 'Z')
            text[at] = c == 'Q' ? 'R' : 'Q';
        else if (c >= '0' && c <= '9')
            text[at] = c == '7' ? '8' : '7';
        else
            text[at] = c == '~' ? '.' : '~';
        names = paper_judge_text(&b, trust, text);
        cr_expect(names[0] != '0' && strlen(names) > 1, "%c at %zu (%.20s): %s", c, at,
                  whole + (at > 10 ? at - 10 : 0), names);
        changed++;
    }
    cr_expect_eq(changed, 400);
}

/* What has to be readable by everybody may be written otherwise: it is the same file. */
Test(forged, white_space_and_order_of_members_are_no_matter)
{
    struct mb_str pretty = mb_json_write_pretty(b.arena, copy_of(whole));
    const char *names =
        paper_judge_text(&b, trust, mb_arena_copy(b.arena, pretty.at, pretty.len));

    cr_expect(names[0] == '0', "%s", names);
}
