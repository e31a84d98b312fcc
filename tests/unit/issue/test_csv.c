/* Tables as RFC 4180 section 2 writes them down, and what spreadsheets make of it. */
#include <criterion/criterion.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "csv.h"
#include "dice.h"
#include "fileio.h"
#include "outside.h"
#include "temp_folder.h"
#include "text.h"

#define COUNT(list) (sizeof(list) / sizeof(list)[0])

static mb_arena *arena;
static const char *folder;

static void set_up(void)
{
    arena = mb_arena_new();
    folder = temp_folder_new(arena);
}

static void tear_down(void)
{
    temp_folder_remove(folder);
    outside_end();
    mb_arena_free(arena);
}

TestSuite(csv, .init = set_up, .fini = tear_down);

static const char *file_of(struct mb_str bytes)
{
    const char *path = mb_path_join(arena, folder, "table.csv");

    cr_assert_eq(mb_file_write(path, bytes, 0600, NULL), MB_OK);
    return path;
}

/* What is read, as "line[field|field]" a record and "line!fault" where there is one. */
static const char *told(struct mb_str bytes)
{
    struct mb_csv_record record = { 0 };
    struct mb_error err = { 0 };
    char *out = mb_arena_text(arena, "");
    mb_csv *csv;
    enum mb_rc rc;

    cr_assert_eq(mb_csv_open(arena, file_of(bytes), &csv, &err), MB_OK, "%s", err.text);
    while ((rc = mb_csv_next(csv, &record, &err)) != MB_NO) {
        out = mb_arena_printf(arena, "%s%s%zu", out, *out ? " " : "", record.line);
        if (rc == MB_OK) {
            for (size_t i = 0; i < record.count; i++)
                out = mb_arena_printf(arena, "%s%s%.*s", out, i ? "|" : "[",
                                      MB_STR_ARG(record.fields[i]));
            out = mb_arena_printf(arena, "%s]", out);
        } else {
            out = mb_arena_printf(arena, "%s!%s", out, err.text);
        }
        err = (struct mb_error){ 0 };
    }
    mb_csv_close(csv);
    return out;
}

#define NOT_UTF8 "it is not UTF-8 text; save the table as CSV in UTF-8"
#define NUL_HELD "it holds bytes that no text has; save the table as CSV in UTF-8"
#define UTF16 \
    "it is UTF-16 text, which some programs call Unicode; save the table as CSV in UTF-8"
#define IN_THE_MIDDLE "a quote stands in the middle of a field that does not begin with one"
#define BEHIND "text stands behind a closing quote"
#define OPEN "a quote is opened and never closed"
#define TEXT(literal) { literal, sizeof literal - 1 }

static const struct {
    const char *what;
    struct mb_str in;
    const char *out;
} cases[] = {
    /* RFC 4180 section 2, its own examples, by number */
    { "rule 1", TEXT("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n"), "1[aaa|bbb|ccc] 2[zzz|yyy|xxx]" },
    { "rule 2: no line end behind the last", TEXT("aaa,bbb,ccc\r\nzzz,yyy,xxx"),
      "1[aaa|bbb|ccc] 2[zzz|yyy|xxx]" },
    { "rule 3: a header is a record like others",
      TEXT("field_name,field_name,field_name\r\naaa,bbb,ccc\r\n"),
      "1[field_name|field_name|field_name] 2[aaa|bbb|ccc]" },
    { "rule 4: blanks are part of a field", TEXT(" aaa ,\tbbb, ccc"), "1[ aaa |\tbbb| ccc]" },
    { "rule 5", TEXT("\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx"), "1[aaa|bbb|ccc] 2[zzz|yyy|xxx]" },
    { "rule 6: a line end inside quotes", TEXT("\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx"),
      "1[aaa|b\r\nbb|ccc] 3[zzz|yyy|xxx]" },
    { "rule 7: a quote is doubled", TEXT("\"aaa\",\"b\"\"bb\",\"ccc\""), "1[aaa|b\"bb|ccc]" },
    { "a comma inside quotes", TEXT("\"a,b\",c"), "1[a,b|c]" },
    /* what other programs write */
    { "nothing", TEXT(""), "" },
    { "a byte order mark alone", TEXT("\xEF\xBB\xBF"), "" },
    { "a byte order mark", TEXT("\xEF\xBB\xBFkind,subject\nnote,x"), "1[kind|subject] 2[note|x]" },
    { "a byte order mark before a quote", TEXT("\xEF\xBB\xBF\"a,b\"\n"), "1[a,b]" },
    { "a byte order mark later is a character", TEXT("a\n\xEF\xBB\xBF"), "1[a] 2[\xEF\xBB\xBF]" },
    { "line feeds alone", TEXT("a,b\nc,d\n"), "1[a|b] 2[c|d]" },
    { "carriage returns alone", TEXT("a,b\rc,\"d\re\"\rf,g\r"), "1[a|b] 2[c|d\re] 4[f|g]" },
    { "all kinds of line ends", TEXT("a\nb\rc\r\nd\n\re"), "1[a] 2[b] 3[c] 4[d] 6[e]" },
    { "empty lines are passed over, and counted", TEXT("\n\na\r\n\r\n\nb\n\n"), "3[a] 6[b]" },
    { "empty fields", TEXT(",\n\"\",\n"), "1[|] 2[|]" },
    { "an empty quoted line is a record", TEXT("\"\"\nx"), "1[] 2[x]" },
    { "a quoted quote alone", TEXT("\"\"\"\""), "1[\"]" },
    { "quotes as inches", TEXT("\"12\"\" slab\",x"), "1[12\" slab|x]" },
    { "every letter of the alphabet and beyond",
      TEXT("\"J\xC3\xBCra\",\xCE\xA9,\xE5\x8C\x96\xE7\x9F\xB3,\xF0\x9F\xA6\x95"),
      "1[J\xC3\xBCra|\xCE\xA9|\xE5\x8C\x96\xE7\x9F\xB3|\xF0\x9F\xA6\x95]" },
    /* faults, and going on behind them */
    { "a quote in the middle", TEXT("a,b\"c\nd,e"), "1!" IN_THE_MIDDLE " 2[d|e]" },
    { "text behind a closing quote", TEXT("\"a\" ,b\nd,e"), "1!" BEHIND " 2[d|e]" },
    { "a quote never closed", TEXT("a,\"b\nc,d\n"), "1!" OPEN },
    { "a quote never closed at the very end", TEXT("a\n\""), "1[a] 2!" OPEN },
    { "NUL", TEXT("a\nb\0c\nd"), "1[a] 2!" NUL_HELD " 3[d]" },
    { "NUL alone", TEXT("\0"), "1!" NUL_HELD },
    { "a table in UTF-16", TEXT("\xFF\xFE" "k\0,\0s\0"), "1!" UTF16 },
    { "of the other order", TEXT("\xFE\xFF" "\0k\0,\0s"), "1!" UTF16 },
    { "a letter of Latin-1", TEXT("a\nJ\xFCra\nb"), "1[a] 2!" NOT_UTF8 " 3[b]" },
    { "half a character", TEXT("a,\xE5\x8C\n\x96,b"), "1!" NOT_UTF8 " 2!" NOT_UTF8 },
    { "an overlong slash", TEXT("\xC0\xAF"), "1!" NOT_UTF8 },
    { "half a surrogate pair", TEXT("\xED\xA0\x80"), "1!" NOT_UTF8 },
};

Test(csv, tables_are_read_as_rfc_4180_has_them)
{
    for (size_t i = 0; i < COUNT(cases); i++)
        cr_expect_str_eq(told(cases[i].in), cases[i].out, "%s", cases[i].what);
}

static struct mb_str repeated(size_t n, const char *unit)
{
    size_t len = strlen(unit);
    char *out = mb_arena_get(arena, n * len + 2);

    for (size_t i = 0; i < n; i++)
        memcpy(out + i * len, unit, len);
    return (struct mb_str){ out, n * len };
}

Test(csv, a_record_has_at_most_1000_fields_and_4_mib)
{
    static const struct {
        const char *unit;
        size_t n;
        const char *fault; /* NULL: it is read */
    } sizes[] = {
        { ",", 999, NULL },
        { ",", 1000, "1!it has more than 1,000 fields" },
        { ",", 70000, "1!it has more than 1,000 fields" },
        { "x", (4u << 20) - 2, NULL }, /* with its line end just 4 MiB */
        { "x", (4u << 20) - 1, "1!it is longer than 4 MiB" },
        { "\"\"", (2u << 20) - 1, NULL },
        { "y", 9u << 20, "1!it is longer than 4 MiB" },
    };

    for (size_t i = 0; i < COUNT(sizes); i++) {
        struct mb_str long_one = repeated(sizes[i].n, sizes[i].unit);
        const char *text =
            mb_arena_printf(arena, "%.*s\r\nnext,row\r\n", MB_STR_ARG(long_one));
        const char *got = told(mb_str_of(text));
        const char *next = strstr(got, "2[next|row]");

        cr_expect(next, "%s x %zu: the row behind it is read", sizes[i].unit, sizes[i].n);
        if (sizes[i].fault)
            cr_expect(strncmp(got, sizes[i].fault, strlen(sizes[i].fault)) == 0, "%.80s", got);
        else
            cr_expect(strncmp(got, "1[", 2) == 0, "%s x %zu: %.80s", sizes[i].unit, sizes[i].n,
                      got);
    }
}

/* The chunk in which a file is read is 64 KiB: what lies across its end is one piece all the same.
 */
Test(csv, nothing_is_lost_where_one_chunk_ends)
{
    for (size_t pad = (1u << 16) - 12; pad < (1u << 16) + 4; pad++) {
        struct mb_str fill = repeated(pad, "f");
        const char *text = mb_arena_printf(arena, "%.*s,\"a\"\"b\"\r\n\"\xE5\x8C\x96\",z\r\n",
                                           MB_STR_ARG(fill));
        const char *got = told(mb_str_of(text));

        cr_expect(strstr(got, "|a\"b] 2[\xE5\x8C\x96|z]"), "%zu: ...%s", pad,
                  got + strlen(got) - 30);
    }
}

/* Cells of all kinds, written by us and read by Python's csv module, which says them back. */
Test(csv, what_is_written_other_programs_read)
{
    static const char *const pieces[] = { "a", ",", "\"", "\n", "\r\n", " ", "\xC3\xBC", "'", ";",
                                          "\t", "=", "\xE2\x80\x9C" };
    const char *cells = "", *table = "";
    struct dice dice = { 4180 };
    struct mb_str said;

    OUTSIDE_NEEDS("/usr/bin/python3");
    for (int row = 0; row < 200; row++) {
        for (int column = 0; column < 4; column++) {
            const char *cell = column == 0 ? "r" : "";
            struct mb_str quoted;
            char *hex;

            for (size_t n = dice_roll(&dice, 6); n > 0; n--)
                cell = mb_arena_printf(arena, "%s%s", cell,
                                       pieces[dice_roll(&dice, COUNT(pieces))]);
            quoted = mb_csv_field(arena, mb_str_of(cell));
            table = mb_arena_printf(arena, "%s%s%.*s", table, column ? "," : "",
                                    MB_STR_ARG(quoted));
            hex = mb_arena_get(arena, 2 * strlen(cell) + 1);
            for (size_t i = 0; cell[i]; i++)
                snprintf(hex + 2 * i, 3, "%02x", (unsigned char)cell[i]);
            cells = mb_arena_printf(arena, "%s%s%s", cells, hex, column == 3 ? "\n" : " ");
        }
        table = mb_arena_printf(arena, "%s\r\n", table);
    }
    outside_file(arena, "table.csv", mb_str_of(table));
    outside_file(arena, "read.py",
                 MB_STR("import csv\n"
                        "for r in csv.reader(open('table.csv', encoding='utf-8', newline=''),"
                        " strict=True):\n"
                        "    print(*[c.encode().hex() for c in r])\n"));
    cr_assert_eq(outside_run(arena, &said, "/usr/bin/python3 read.py"), 0, "%.*s",
                 MB_STR_ARG(said));
    cr_expect(mb_str_is(said, cells));
    /* and ourselves, so that a table that was taken in can be taken in again */
    cr_expect_eq(strstr(told(mb_str_of(table)), "!"), NULL);
}

Test(csv, a_file_that_is_not_there_is_refused_in_one_sentence)
{
    struct mb_error err = { 0 };
    mb_csv *csv;

    cr_assert_eq(mb_csv_open(arena, mb_path_join(arena, folder, "none.csv"), &csv, &err),
                 MB_REFUSED);
    cr_expect(strstr(err.text, "none.csv cannot be opened: No such file or directory"), "%s",
              err.text);
    err = (struct mb_error){ 0 };
    cr_assert_eq(mb_csv_open(arena, folder, &csv, &err), MB_OK);
    cr_expect_eq(mb_csv_next(csv, &(struct mb_csv_record){ 0 }, &err), MB_UNABLE);
    cr_expect(strstr(err.text, "cannot be read: Is a directory"), "%s", err.text);
    mb_csv_close(csv);
}

/* A pipe hands out as little as it likes. */
Test(csv, a_byte_order_mark_may_come_in_pieces)
{
    static const char bytes[] = "\xEF\xBB\xBFkind\r\nnote";
    struct mb_csv_record record;
    int ends[2];
    mb_csv *csv;
    pid_t writer;

    cr_assert_eq(pipe(ends), 0);
    writer = fork();
    if (writer == 0) {
        close(ends[0]);
        for (size_t i = 0; i < sizeof bytes - 1; i++)
            if (write(ends[1], bytes + i, 1) != 1 || usleep(2000))
                _exit(1);
        _exit(0);
    }
    close(ends[1]);
    dup2(ends[0], STDIN_FILENO);
    cr_assert_eq(mb_csv_open(arena, "-", &csv, NULL), MB_OK);
    cr_assert_eq(mb_csv_next(csv, &record, NULL), MB_OK);
    cr_expect(mb_str_is(record.fields[0], "kind"), "%.*s", MB_STR_ARG(record.fields[0]));
    cr_assert_eq(mb_csv_next(csv, &record, NULL), MB_OK);
    cr_expect(mb_str_is(record.fields[0], "note"));
    cr_expect_eq(record.line, 2);
    mb_csv_close(csv);
    close(ends[0]);
}
