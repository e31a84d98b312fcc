#include "csv.h"

#include <errno.h>
#include <fcntl.h>
#include <stdint.h>
#include <string.h>
#include <unistd.h>

#include "buf.h"
#include "text.h"

enum { CHUNK = 1 << 16 };

struct mb_csv {
    const char *path;
    int fd;
    char chunk[CHUNK];
    size_t at, end;
    bool over;           /* nothing more to be read from the file */
    bool begun;          /* the byte order mark was looked for */
    bool behind_return;  /* the last character was a carriage return */
    size_t line;         /* of the next character */
    struct mb_buf raw;   /* the record as it stands */
    struct mb_buf clean; /* its fields, unquoted, one behind the other */
    size_t starts[MB_CSV_FIELDS_MAX + 1];
    struct mb_str fields[MB_CSV_FIELDS_MAX];
};

enum mb_rc mb_csv_open(mb_arena *arena, const char *path, mb_csv **out, struct mb_error *err)
{
    mb_csv *csv = MB_NEW(arena, mb_csv);

    csv->path = mb_arena_text(arena, path);
    csv->fd = strcmp(path, "-") == 0 ? STDIN_FILENO : open(path, O_RDONLY | O_CLOEXEC);
    if (csv->fd < 0)
        return mb_fail(err, MB_REFUSED, "%s cannot be opened: %s", path, strerror(errno));
    csv->line = 1;
    mb_buf_init(&csv->raw, MB_CSV_RECORD_MAX);
    mb_buf_init(&csv->clean, MB_CSV_RECORD_MAX);
    *out = csv;
    return MB_OK;
}

mb_csv *mb_csv_close(mb_csv *csv)
{
    if (csv) {
        if (csv->fd > STDIN_FILENO)
            close(csv->fd);
        csv->fd = -1;
        mb_buf_done(&csv->raw);
        mb_buf_done(&csv->clean);
    }
    return NULL;
}

/* Reads behind what the chunk holds already; the chunk has room. */
static enum mb_rc fill(mb_csv *csv, struct mb_error *err)
{
    ssize_t n;

    do
        n = read(csv->fd, csv->chunk + csv->end, sizeof csv->chunk - csv->end);
    while (n < 0 && errno == EINTR);
    if (n < 0)
        return mb_fail(err, MB_UNABLE, "%s cannot be read: %s", csv->path, strerror(errno));
    csv->end += (size_t)n;
    csv->over = n == 0;
    return MB_OK;
}

/* -1 at the end of the file. */
static enum mb_rc peek(mb_csv *csv, int *c, struct mb_error *err)
{
    if (csv->at == csv->end && !csv->over) {
        enum mb_rc rc;

        csv->at = csv->end = 0;
        rc = fill(csv, err);
        if (rc)
            return rc;
    }
    *c = csv->at == csv->end ? -1 : (uint8_t)csv->chunk[csv->at];
    return MB_OK;
}

static void take(mb_csv *csv, int c)
{
    csv->at++;
    if (c == '\r' || (c == '\n' && !csv->behind_return))
        csv->line++;
    csv->behind_return = c == '\r';
    mb_buf_add_char(&csv->raw, (char)c);
}

struct reading {
    mb_csv *csv;
    size_t count;
    bool quoted;  /* inside quotes */
    bool closed;  /* behind a closing quote */
    bool started; /* the field has a first character */
    const char *fault;
};

static void end_field(struct reading *r)
{
    if (r->count == MB_CSV_FIELDS_MAX) {
        r->fault = "it has more than 1,000 fields";
        return;
    }
    r->csv->starts[++r->count] = r->csv->clean.len;
    r->closed = r->started = false;
}

static void in_quotes(struct reading *r, int c)
{
    if (c == '"') {
        r->quoted = false;
        r->closed = true;
    } else {
        mb_buf_add_char(&r->csv->clean, (char)c);
    }
}

static void out_of_quotes(struct reading *r, int c)
{
    if (c == ',') {
        end_field(r);
    } else if (c == '"' && r->closed) {
        /* the second of a doubled quote */
        mb_buf_add_char(&r->csv->clean, '"');
        r->quoted = true;
        r->closed = false;
    } else if (c == '"' && !r->started) {
        r->quoted = r->started = true;
    } else if (c == '"') {
        r->fault = "a quote stands in the middle of a field that does not begin with one";
    } else if (r->closed) {
        r->fault = "text stands behind a closing quote";
    } else {
        r->started = true;
        mb_buf_add_char(&r->csv->clean, (char)c);
    }
}

static enum mb_rc read_record(struct reading *r, struct mb_error *err)
{
    int c;

    r->csv->starts[0] = 0;
    for (;;) {
        enum mb_rc rc = peek(r->csv, &c, err);

        if (rc)
            return rc;
        if (c < 0) {
            if (r->quoted)
                r->fault = "a quote is opened and never closed";
            break;
        }
        if (!r->quoted && (c == '\n' || c == '\r')) {
            take(r->csv, c);
            rc = peek(r->csv, &c, err);
            if (rc)
                return rc;
            if (r->csv->behind_return && c == '\n')
                take(r->csv, c);
            break;
        }
        take(r->csv, c);
        if (r->fault)
            continue; /* to the end of the line, to go on behind it */
        if (r->quoted)
            in_quotes(r, c);
        else
            out_of_quotes(r, c);
    }
    end_field(r);
    return MB_OK;
}

static enum mb_rc skip_mark(mb_csv *csv, struct mb_error *err)
{
    enum mb_rc rc = MB_OK;

    csv->begun = true;
    while (!rc && !csv->over && csv->end < 3) /* a pipe may hand out less */
        rc = fill(csv, err);
    if (!rc && csv->end >= 3 && memcmp(csv->chunk, "\xEF\xBB\xBF", 3) == 0)
        csv->at = 3;
    return rc;
}

static void trim_raw(mb_csv *csv, struct mb_str *raw)
{
    *raw = mb_buf_str(&csv->raw);
    while (raw->len && (raw->at[raw->len - 1] == '\n' || raw->at[raw->len - 1] == '\r'))
        raw->len--;
}

/* The mark that UTF-16 begins with, of either order; only the first line has it. */
static bool is_utf16(struct mb_str raw)
{
    return raw.len >= 2
           && (memcmp(raw.at, "\xff\xfe", 2) == 0 || memcmp(raw.at, "\xfe\xff", 2) == 0);
}

enum mb_rc mb_csv_next(mb_csv *csv, struct mb_csv_record *record, struct mb_error *err)
{
    struct reading r = { .csv = csv };
    enum mb_rc rc = csv->begun ? MB_OK : skip_mark(csv, err);

    if (rc)
        return rc;
    do {
        int c;

        r = (struct reading){ .csv = csv };
        mb_buf_clear(&csv->raw);
        mb_buf_clear(&csv->clean);
        rc = peek(csv, &c, err);
        if (rc || c < 0)
            return rc ? rc : MB_NO;
        record->line = csv->line;
        rc = read_record(&r, err);
        if (rc)
            return rc;
        trim_raw(csv, &record->raw);
    } while (record->raw.len == 0 && !r.fault);
    if (!mb_buf_ok(&csv->raw) || !mb_buf_ok(&csv->clean))
        r.fault = "it is longer than 4 MiB";
    else if (!r.fault && memchr(record->raw.at, 0, record->raw.len))
        r.fault = is_utf16(record->raw)
                      ? "it is UTF-16 text, which some programs call Unicode; save the table as CSV"
                        " in UTF-8"
                      : "it holds bytes that no text has; save the table as CSV in UTF-8";
    else if (!r.fault && !mb_utf8_ok(record->raw))
        r.fault = "it is not UTF-8 text; save the table as CSV in UTF-8";
    if (r.fault)
        return mb_fail(err, MB_REFUSED, "%s", r.fault);
    for (size_t i = 0; i < r.count; i++)
        csv->fields[i] = (struct mb_str){ csv->clean.at + csv->starts[i],
                                          csv->starts[i + 1] - csv->starts[i] };
    record->fields = csv->fields;
    record->count = r.count;
    return MB_OK;
}

struct mb_str mb_csv_field(mb_arena *arena, struct mb_str text)
{
    bool quote = false;
    char *out, *at;

    for (size_t i = 0; i < text.len; i++)
        quote = quote || strchr("\",\r\n", text.at[i]);
    if (!quote)
        return text;
    at = out = mb_arena_get(arena, 2 * text.len + 3);
    *at++ = '"';
    for (size_t i = 0; i < text.len; i++) {
        if (text.at[i] == '"')
            *at++ = '"';
        *at++ = text.at[i];
    }
    *at++ = '"';
    return (struct mb_str){ out, (size_t)(at - out) };
}
