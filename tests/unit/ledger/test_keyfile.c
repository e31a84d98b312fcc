/* Secret keys on disk, and the one in the envelope. */
#include <criterion/criterion.h>
#include <string.h>
#include <sys/stat.h>

#include "bytes_of.h"
#include "fileio.h"
#include "keyfile.h"
#include "temp_folder.h"
#include "text.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])
#define PASS MB_STR("long enough to be one")

struct bench {
    mb_arena *arena;
    const char *folder;
    mb_secret *a, *b, *checkpoint;
    struct mb_vkey vkey;
};

static struct bench set_up(void)
{
    struct bench s = { .arena = mb_arena_new() };

    s.folder = temp_folder_new(s.arena);
    s.a = secret_of_seed(0x20);
    s.b = secret_of_seed(0x40);
    s.checkpoint = secret_of_seed(0);
    s.vkey = mb_vkey_make(MB_STR("ledger.example"), MB_VKEY_LOG, mb_secret_key(s.checkpoint));
    return s;
}

static void take_down(struct bench *s)
{
    temp_folder_remove(s->folder);
    mb_secret_free(s->a);
    mb_secret_free(s->b);
    mb_secret_free(s->checkpoint);
    mb_arena_free(s->arena);
}

static bool same_secret(const mb_secret *a, const mb_secret *b)
{
    uint8_t x[32], y[32];

    mb_secret_seed(a, x);
    mb_secret_seed(b, y);
    return memcmp(x, y, 32) == 0;
}

Test(keyfile, a_key_is_written_sealed_found_and_opened)
{
    struct bench s = set_up();
    struct mb_error err = { 0 };
    struct mb_keyfile *files, found;
    mb_secret *opened = NULL;
    struct mb_str bytes;
    uint8_t seed[32];
    struct stat st;
    size_t count;

    cr_expect_eq(mb_keyfile_write(s.arena, s.folder, "ottoline", s.a, MB_STR("short"), &err),
                 MB_REFUSED);
    cr_expect(strstr(err.text, "too short"), "%s", err.text);
    err = (struct mb_error){ 0 };
    cr_assert_eq(mb_keyfile_write(s.arena, s.folder, "ottoline", s.a, PASS, &err), MB_OK, "%s",
                 err.text);
    cr_expect_eq(mb_keyfile_write(s.arena, s.folder, "again", s.a, PASS, &err), MB_REFUSED,
                 "never over another");
    cr_assert_eq(mb_keyfile_list(s.arena, s.folder, &files, &count, NULL), MB_OK);
    cr_assert_eq(count, 1);
    cr_expect(mb_str_is(files[0].label, "ottoline"));
    cr_assert_eq(stat(files[0].path, &st), 0);
    cr_expect_eq(st.st_mode & 0777, 0600);
    bytes = file_of_tree(s.arena, files[0].path);
    mb_secret_seed(s.a, seed);
    cr_expect_null(memmem(bytes.at, bytes.len, seed, 32));
    cr_expect_null(memmem(bytes.at, bytes.len, mb_b64u(s.arena, seed, 32).at, 43));

    cr_assert_eq(mb_keyfile_find(s.arena, s.folder, NULL, &found, NULL), MB_OK);
    err = (struct mb_error){ 0 };
    cr_expect_eq(mb_keyfile_open(s.arena, &found, MB_STR("not that one at all"), &opened, &err),
                 MB_NO);
    cr_expect_str_eq(err.text, "key 'ottoline': the passphrase does not open this key");
    cr_assert_eq(mb_keyfile_open(s.arena, &found, PASS, &opened, NULL), MB_OK);
    cr_expect(same_secret(opened, s.a));
    mb_secret_free(opened);
    take_down(&s);
}

Test(keyfile, a_key_is_chosen_by_label_or_thumbprint)
{
    static const struct {
        const char *name;
        const char *says; /* "a" or "b": that key; else what is said */
    } cases[] = {
        { "ottoline", "a" },
        { "teodor", "b" },
        { "AkXIZF", "a" },
        { "AkXIZFzonb59ZmGwyKgi3H3BwMi6amevqdKQiLZhdtc", "a" },
        { "WeVHjI", "b" },
        { NULL, "say with --key which key signs; there are: ottoline,"
                " teodor" },
        { "AkXIZ", "no key is called 'AkXIZ'; there are: ottoline, teodor" },
        { "wren", "no key is called 'wren'" },
        { "", "no key is called ''" },
        { "Ottoline", "no key is called" },
    };
    struct bench s = set_up();
    struct mb_keyfile found;
    struct mb_error none = { 0 };

    cr_expect_eq(mb_keyfile_find(s.arena, s.folder, NULL, &found, &none), MB_REFUSED);
    cr_expect(strstr(none.text, "there is no folder of keys"), "%s", none.text);
    cr_assert_eq(mb_keyfile_write(s.arena, s.folder, "teodor", s.b, PASS, NULL), MB_OK);
    cr_assert_eq(mb_keyfile_write(s.arena, s.folder, "ottoline", s.a, PASS, NULL), MB_OK);
    for (size_t i = 0; i < COUNT(cases); i++) {
        struct mb_error err = { 0 };
        enum mb_rc rc = mb_keyfile_find(s.arena, s.folder, cases[i].name, &found, &err);

        if (cases[i].says[1] == 0)
            cr_expect(
                rc == MB_OK
                    && mb_key_equal(&found.key, mb_secret_key(cases[i].says[0] == 'a' ? s.a : s.b)),
                "%s", cases[i].name);
        else
            cr_expect(rc == MB_REFUSED && strstr(err.text, cases[i].says), "%s: %s",
                      cases[i].name ? cases[i].name : "none", err.text);
    }
    take_down(&s);
}

/* A file that somebody changed: never another key than the one it is named for. */
Test(keyfile, a_changed_file_is_not_believed)
{
    static const struct {
        const char *from, *to;
        enum mb_rc rc; /* of finding or opening it */
    } changes[] = {
        { "markerbed-key/1", "markerbed-key/2", MB_REFUSED },
        { "\"argon2idBytes\": 67108864", "\"argon2idBytes\": 4294967296", MB_REFUSED },
        { "\"argon2idPasses\": 3", "\"argon2idPasses\": 4", MB_NO },
        { "\"sealed\": \"", "\"sealed\": \"A", MB_REFUSED },
        { "\"salt\": \"", "\"salt\": \"A", MB_REFUSED },
        { "Kay64UG8yvCyLhqU000LxzYeUm0L_hLIl5S8kyKWbdc",
          "JUO5L_EJVRFHatyDadtt3JM2ZaEZeN2hQE7hBmypVZ0", MB_NO },
        { "\"x\": \"", "\"x\": \"AA", MB_REFUSED },
        { "{", "{\"format\": \"x\",", MB_REFUSED },
        { "{", "[", MB_REFUSED },
    };
    struct bench s = set_up();
    struct mb_keyfile found;
    struct mb_str good;
    const char *path;

    cr_assert_eq(mb_keyfile_write(s.arena, s.folder, "ottoline", s.a, PASS, NULL), MB_OK);
    cr_assert_eq(mb_keyfile_find(s.arena, s.folder, NULL, &found, NULL), MB_OK);
    path = found.path;
    good = file_of_tree(s.arena, path);
    for (size_t i = 0; i < COUNT(changes); i++) {
        const char *text = mb_arena_copy(s.arena, good.at, good.len);
        const char *at = strstr(text, changes[i].from);
        struct mb_error err = { 0 };
        mb_secret *opened = NULL;
        enum mb_rc rc;

        cr_assert_not_null(at, "%s", changes[i].from);
        cr_assert_eq(
            mb_file_write(path,
                          mb_str_of(mb_arena_printf(s.arena, "%.*s%s%s", (int)(at - text), text,
                                                    changes[i].to, at + strlen(changes[i].from))),
                          0600, NULL),
            MB_OK);
        rc = mb_keyfile_find(s.arena, s.folder, NULL, &found, &err);
        if (!rc)
            rc = mb_keyfile_open(s.arena, &found, PASS, &opened, &err);
        cr_expect_eq(rc, changes[i].rc, "%s: %d %s", changes[i].to, rc, err.text);
        cr_expect_null(opened);
    }
    take_down(&s);
}

Test(keyfile, the_checkpoint_key_is_boxed_for_each_person)
{
    struct bench s = set_up();
    struct mb_error err = { 0 };
    mb_secret *opened = NULL, *other = secret_of_seed(0x60);
    struct mb_vkey another =
        mb_vkey_make(MB_STR("ledger.example"), MB_VKEY_LOG, mb_secret_key(other));
    const char *path = mb_arena_printf(s.arena, "%s/keys/checkpoint-%08x.box", s.folder, s.vkey.id);

    cr_expect_eq(mb_keybox_open(s.arena, s.folder, &s.vkey, s.a, &opened, &err), MB_NO);
    cr_expect_str_eq(err.text, "this copy of the ledger does not hold the checkpoint key");
    cr_assert_eq(mb_keybox_add(s.arena, s.folder, &s.vkey, s.checkpoint, mb_secret_key(s.a), NULL),
                 MB_OK);
    err = (struct mb_error){ 0 };
    cr_expect_eq(mb_keybox_open(s.arena, s.folder, &s.vkey, s.b, &opened, &err), MB_NO);
    cr_expect_str_eq(err.text, "this key was not given the checkpoint key");
    cr_assert_eq(mb_keybox_add(s.arena, s.folder, &s.vkey, s.checkpoint, mb_secret_key(s.b), NULL),
                 MB_OK);
    cr_assert_eq(mb_keybox_add(s.arena, s.folder, &s.vkey, s.checkpoint, mb_secret_key(s.b), NULL),
                 MB_OK, "twice is no harm");
    for (int i = 0; i < 2; i++) {
        cr_assert_eq(mb_keybox_open(s.arena, s.folder, &s.vkey, i ? s.b : s.a, &opened, NULL),
                     MB_OK);
        cr_expect(same_secret(opened, s.checkpoint));
        opened = mb_secret_free(opened);
    }
    /* a box that holds another key than the one in force */
    cr_assert_eq(mb_keybox_add(s.arena, s.folder, &s.vkey, other, mb_secret_key(s.a), NULL), MB_OK);
    err = (struct mb_error){ 0 };
    cr_expect_eq(mb_keybox_open(s.arena, s.folder, &s.vkey, s.a, &opened, &err), MB_REFUSED);
    cr_expect(strstr(err.text, "another key than the one in force"), "%s", err.text);
    cr_expect_eq(mb_keybox_open(s.arena, s.folder, &another, s.a, &opened, NULL), MB_NO);
    cr_expect(mb_file_exists(path));
    mb_secret_free(other);
    take_down(&s);
}

Test(keyfile, the_envelope_forgives_what_hands_do_and_nothing_else)
{
    struct bench s = set_up();
    char *text = mb_envelope_write(s.arena, s.a), *dashed, *loud;
    mb_secret *back = NULL;
    size_t wrong = 0;

    cr_expect_eq(strlen(text), 60 + 14); /* 60 characters in groups of four */
    cr_assert_eq(mb_envelope_read(mb_str_of(text), &back, NULL), MB_OK);
    cr_expect(same_secret(back, s.a));
    mb_secret_free(back);
    dashed = mb_arena_text(s.arena, text);
    loud = mb_arena_text(s.arena, text);
    for (size_t i = 0; text[i]; i++) {
        dashed[i] = text[i] == ' ' ? '-' : text[i] == 'o' ? '0' : text[i] == 'l' ? '1' : text[i];
        loud[i] = text[i] >= 'a' && text[i] <= 'z' ? (char)(text[i] - 32) : text[i];
    }
    cr_assert_eq(mb_envelope_read(mb_str_of(dashed), &back, NULL), MB_OK);
    mb_secret_free(back);
    cr_assert_eq(mb_envelope_read(mb_str_of(loud), &back, NULL), MB_OK);
    mb_secret_free(back);
    for (size_t i = 0; text[i]; i++) { /* any one character changed */
        char *changed = mb_arena_text(s.arena, text);
        struct mb_error err = { 0 };

        if (text[i] == ' ')
            continue;
        changed[i] = text[i] == 'q' ? 'r' : 'q';
        wrong += mb_envelope_read(mb_str_of(changed), &back, &err) == MB_REFUSED
                 && strstr(err.text, "a character is wrong or missing");
    }
    cr_expect_eq(wrong, 60);
    text[strlen(text) - 1] = 0;
    cr_expect_eq(mb_envelope_read(mb_str_of(text), &back, NULL), MB_REFUSED);
    cr_expect_eq(mb_envelope_read(MB_STR(""), &back, NULL), MB_REFUSED);
    take_down(&s);
}
