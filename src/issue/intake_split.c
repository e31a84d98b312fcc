#include "intake_split.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "csv.h"
#include "text.h"

/* A table being written beside its final name. */
struct table {
    const char *path, *part;
    FILE *file;
};

static enum mb_rc failed(const struct table *table, struct mb_error *err)
{
    return mb_fail(err, MB_UNABLE, "cannot write %s: %s", table->path, strerror(errno));
}

static enum mb_rc begin(mb_arena *arena, const char *path, const char *ending, struct table *out,
                        struct mb_error *err)
{
    out->path = mb_arena_printf(arena, "%s.%s.csv", path, ending);
    out->part = mb_arena_printf(arena, "%s.%ld.part", out->path, (long)getpid());
    out->file = fopen(out->part, "wxe");
    return out->file ? MB_OK : failed(out, err);
}

static void put(struct table *table, struct mb_str row)
{
    fwrite(row.at, 1, row.len, table->file);
    fwrite("\r\n", 1, 2, table->file);
}

/* Only a table that is whole gets its name. */
static enum mb_rc end(struct table *table, enum mb_rc rc, struct mb_error *err)
{
    bool good;

    if (!table->file)
        return rc;
    good = !rc && fflush(table->file) == 0 && !ferror(table->file)
           && fsync(fileno(table->file)) == 0;
    if (!rc && !good)
        rc = failed(table, err);
    fclose(table->file);
    table->file = NULL;
    if (!rc && rename(table->part, table->path) != 0)
        rc = failed(table, err);
    if (rc)
        unlink(table->part);
    return rc;
}

static int by_line(const void *a, const void *b)
{
    size_t x = *(const size_t *)a, y = *(const size_t *)b;

    return (x > y) - (x < y);
}

static enum mb_rc put_apart(mb_csv *csv, const size_t *lines, size_t count, struct table *good,
                            struct table *faulty, struct mb_error *err)
{
    struct mb_csv_record record;
    bool header = true;

    for (;;) {
        struct mb_error fault = { 0 };
        enum mb_rc rc = mb_csv_next(csv, &record, &fault);
        bool bad;

        if (rc == MB_NO)
            return MB_OK;
        if (rc == MB_UNABLE)
            return mb_fail(err, rc, "%s", fault.text);
        bad = bsearch(&record.line, lines, count, sizeof *lines, by_line) != NULL;
        if (header || bad)
            put(faulty, record.raw);
        if (header || !bad)
            put(good, record.raw);
        header = false;
    }
}

enum mb_rc mb_intake_split(mb_arena *arena, const char *path, const size_t *lines, size_t count,
                           mb_json *out, struct mb_error *err)
{
    struct table good = { 0 }, faulty = { 0 };
    mb_csv *csv;
    enum mb_rc rc = mb_csv_open(arena, path, &csv, err);

    if (rc)
        return rc;
    rc = begin(arena, path, "good", &good, err);
    if (!rc)
        rc = begin(arena, path, "faulty", &faulty, err);
    if (!rc)
        rc = put_apart(csv, lines, count, &good, &faulty, err);
    mb_csv_close(csv);
    rc = end(&good, rc, err);
    rc = end(&faulty, rc, err);
    if (rc)
        return rc;
    mb_json_put_text(arena, out, "good", good.path);
    mb_json_put_text(arena, out, "faulty", faulty.path);
    return MB_OK;
}
