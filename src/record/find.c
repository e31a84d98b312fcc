/* Words are looked for in all that is recorded of a subject; the answer names the entry that holds
 * the most of them. */
#include <markerbed/show.h>

#include <stdio.h>
#include <string.h>

#include "buf.h"
#include "text.h"
#include "views.h"

enum { WORDS_MOST = 64, QUERY_MOST = 8192 };

struct finding_words {
    struct mb_str words[WORDS_MOST];
    size_t count;
};

static bool is_blank(char c)
{
    return c == ' ' || c == '\t' || c == '\n' || c == '\r';
}

/* Something that a word can be made of: a letter, a digit, or anything beyond ASCII. */
static bool has_letter(struct mb_str word)
{
    for (size_t i = 0; i < word.len; i++) {
        unsigned char c = (unsigned char)word.at[i];

        if (c >= 0x80 || (c >= '0' && c <= '9') || ((c | 32) >= 'a' && (c | 32) <= 'z'))
            return true;
    }
    return false;
}

static void split(struct mb_str text, struct finding_words *out)
{
    size_t i = 0;

    out->count = 0;
    while (i < text.len && out->count < WORDS_MOST) {
        struct mb_str word = { text.at + i, 0 };

        while (i < text.len && is_blank(text.at[i]))
            i++;
        word.at = text.at + i;
        while (i < text.len && !is_blank(text.at[i]))
            i++;
        word.len = (size_t)(text.at + i - word.at);
        if (has_letter(word))
            out->words[out->count++] = word;
    }
}

/* Each word in quotation marks, so that none is taken for an operator; the last may go on. */
static bool write_match(const struct finding_words *words, struct mb_buf *out)
{
    for (size_t i = 0; i < words->count; i++) {
        mb_buf_add_text(out, i ? " \"" : "\"");
        for (size_t c = 0; c < words->words[i].len; c++)
            if (words->words[i].at[c] != '"' && words->words[i].at[c] != '\0')
                mb_buf_add_char(out, words->words[i].at[c]);
        mb_buf_add_text(out, i + 1 == words->count ? "\"*" : "\"");
    }
    return mb_buf_ok(out);
}

static char small(char c)
{
    return c >= 'A' && c <= 'Z' ? (char)(c - 'A' + 'a') : c;
}

static bool contains(struct mb_str text, struct mb_str word)
{
    for (size_t i = 0; word.len && i + word.len <= text.len; i++) {
        size_t n = 0;

        while (n < word.len && small(text.at[i + n]) == small(word.at[n]))
            n++;
        if (n == word.len)
            return true;
    }
    return false;
}

struct best {
    int64_t seq;
    size_t words;
};

/* The entry of a subject that has the most of the words in its fields and its sentence. */
static enum mb_rc best_entry(mb_stmt *fields, struct mb_str sub,
                             const struct finding_words *words, struct best *out,
                             struct mb_error *err)
{
    bool seen[WORDS_MOST] = { false };
    int64_t seq = -1;
    size_t met = 0;
    bool row = true;
    enum mb_rc rc;

    *out = (struct best){ -1, 0 };
    mb_bind_text(fields, 1, sub);
    while (!(rc = mb_stmt_step(fields, &row, err)) && row) {
        if (mb_col_int(fields, 0) != seq) {
            seq = mb_col_int(fields, 0);
            met = 0;
            memset(seen, 0, sizeof seen);
        }
        for (size_t i = 0; i < words->count; i++)
            if (!seen[i] && contains(mb_col_text(fields, 1), words->words[i])) {
                seen[i] = true;
                met++;
            }
        if (out->seq < 0 || met > out->words)
            *out = (struct best){ seq, met };
    }
    return rc;
}

struct searching {
    mb_arena *arena;
    mb_stmt *hits, *fields, *entry;
    struct mb_error *err;
};

static enum mb_rc prepare(struct searching *s, mb_db *db)
{
    enum mb_rc rc = mb_stmt_make(db,
                                 "SELECT s.sub, s.label FROM v_search f"
                                 " JOIN v_entry e ON e.seq = f.rowid"
                                 " JOIN v_subject s ON s.sub = e.sub"
                                 " WHERE v_search MATCH ?1 AND rank MATCH 'bm25(10, 6, 2, 1)'"
                                 " ORDER BY rank, f.rowid LIMIT ?2",
                                 &s->hits, s->err);

    if (!rc)
        rc = mb_stmt_make(db,
                          "SELECT e.seq, f.value FROM (SELECT seq FROM v_entry WHERE sub = ?1"
                          " AND voided_by IS NULL ORDER BY nth LIMIT 200) e"
                          " JOIN v_field f USING (seq)"
                          " UNION ALL SELECT seq, line FROM v_entry WHERE sub = ?1"
                          " AND voided_by IS NULL AND nth < 200 ORDER BY 1",
                          &s->fields, s->err);
    if (!rc)
        rc = mb_stmt_make(db, "SELECT kind, line FROM v_entry WHERE seq = ?1", &s->entry, s->err);
    return rc;
}

/* A label in front, where the sentence does not have it anyway. */
static const char *line_of(mb_arena *arena, struct mb_str label, struct mb_str line)
{
    if (!label.len || contains(line, label))
        return mb_arena_copy(arena, line.at, line.len);
    return mb_arena_printf(arena, "%.*s \xe2\x80\x93 %.*s", MB_STR_ARG(label), MB_STR_ARG(line));
}

static enum mb_rc add_hit(struct searching *s, const struct finding_words *words, mb_json *all)
{
    struct mb_str sub = mb_arena_str(s->arena, mb_col_text(s->hits, 0));
    struct mb_str label = mb_arena_str(s->arena, mb_col_text(s->hits, 1));
    mb_json *hit = mb_json_object(s->arena);
    struct best best;
    bool row;
    enum mb_rc rc = best_entry(s->fields, sub, words, &best, s->err);

    if (rc || best.seq < 0)
        return rc;
    mb_bind_int(s->entry, 1, best.seq);
    rc = mb_stmt_step(s->entry, &row, s->err);
    if (rc || !row)
        return rc;
    mb_json_put(s->arena, hit, "subject", mb_json_string_str(s->arena, sub));
    mb_json_put(s->arena, hit, "kind", mb_json_string_str(s->arena, mb_col_text(s->entry, 0)));
    mb_json_put_text(s->arena, hit, "line",
                     line_of(s->arena, label, mb_col_text(s->entry, 1)));
    mb_json_put_int(s->arena, hit, "seq", best.seq);
    mb_stmt_reset(s->entry);
    mb_json_add(all, hit);
    return MB_OK;
}

static enum mb_rc search(struct searching *s, mb_db *db, const struct finding_words *words,
                         struct mb_str match, size_t most, mb_json *all)
{
    bool row = true;
    enum mb_rc rc = prepare(s, db);

    if (!rc) {
        mb_bind_text(s->hits, 1, match);
        mb_bind_int(s->hits, 2, most > INT32_MAX ? INT32_MAX : (int64_t)most);
    }
    while (!rc && !(rc = mb_stmt_step(s->hits, &row, s->err)) && row)
        rc = add_hit(s, words, all);
    s->hits = mb_stmt_free(s->hits);
    s->fields = mb_stmt_free(s->fields);
    s->entry = mb_stmt_free(s->entry);
    return rc;
}

enum mb_rc mb_find_words(mb_ledger *ledger, mb_arena *arena, const char *words, size_t most,
                         const char *as_of, const mb_json **out, struct mb_error *err)
{
    struct searching s = { .arena = arena, .err = err };
    struct mb_views views = { NULL, false };
    struct finding_words list;
    MB_BUF_AUTO struct mb_buf match = { 0 };
    mb_json *all = mb_json_array(arena);
    enum mb_rc rc;

    mb_buf_init(&match, QUERY_MOST);
    if (!mb_utf8_ok(mb_str_of(words)))
        return mb_fail(err, MB_REFUSED, "the words to look for are no UTF-8 text");
    split(mb_str_of(words), &list);
    if (!list.count)
        return mb_fail(err, MB_REFUSED, "there is no word to look for in '%s'", words);
    if (!write_match(&list, &match))
        return mb_fail(err, MB_REFUSED, "that is too much to look for at once");
    rc = mb_views_begin(ledger, as_of, &views, err);
    if (!rc)
        rc = search(&s, views.db, &list, mb_buf_str(&match), most, all);
    mb_views_end(&views);
    if (!rc)
        *out = all;
    return rc;
}
