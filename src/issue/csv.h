/*
 * Spreadsheet text as RFC 4180 writes it down: records by line ends, fields by commas, quotes
 * around what holds one of those, a quote inside quotes doubled. UTF-8, with or without a byte
 * order mark. Read record by record, so that a file may be larger than memory.
 *
 * Beyond the RFC: a line may end with LF or CR alone, and an empty line is passed over. Not taken:
 * a quote in the middle of an unquoted field, text behind a closing quote, NUL, bytes that are not
 * UTF-8; each is a fault of its record, and reading goes on behind it where that is possible.
 */
#ifndef MB_CSV_H
#define MB_CSV_H

#include <stdbool.h>

#include <markerbed/arena.h>

#define MB_CSV_FIELDS_MAX 1000
#define MB_CSV_RECORD_MAX (4u << 20) /* bytes */

typedef struct mb_csv mb_csv;

struct mb_csv_record {
    size_t line; /* where it begins, from 1 */
    size_t count;
    struct mb_str *fields; /* borrowed until the next record is read */
    struct mb_str raw;     /* as it stood, without its line end; borrowed likewise */
};

/* "-" is standard input. */
MB_CHECK enum mb_rc mb_csv_open(mb_arena *arena, const char *path, mb_csv **out,
                                struct mb_error *err);
/* MB_OK: a record. MB_NO: the end. MB_REFUSED: a fault in this record (record->line is set); the
 * next call goes on behind it. MB_UNABLE: the file cannot be read. */
MB_CHECK enum mb_rc mb_csv_next(mb_csv *csv, struct mb_csv_record *record, struct mb_error *err);
mb_csv *mb_csv_close(mb_csv *csv); /* accepts NULL, returns NULL */

/* Writes a field as RFC 4180 has it: quoted where it must be. */
struct mb_str mb_csv_field(mb_arena *arena, struct mb_str text);

#endif
