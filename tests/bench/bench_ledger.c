/*
 * The budgets of the ledger, each as a ratio to a baseline measured in the same run:
 *
 *   append       one durable append : one bare SQLite commit of the same bytes, full sync (median)
 *   intake       a spreadsheet taken in : libsodium signing plus SQLite inserts of the same bytes
 *   verify       a whole ledger : libsodium verification of the same messages, same threads
 *   certificate  issuing one in a large ledger : in a small one
 *   check        checking a certificate of 100 entries : its signature checks
 *
 * BENCH_SIZES in the environment names the sizes of the ledgers in entries ("10000 100000").
 */
#include <markerbed/certificate.h>
#include <markerbed/intake.h>
#include <markerbed/record.h>
#include <markerbed/verify.h>

#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>
#include <unistd.h>

#include <sodium.h>
#include <sqlite3.h>

#include "buf.h"
#include "crew.h"
#include "fileio.h"
#include "log.h"

#define PASSPHRASE MB_STR("a passphrase for the bench")
#define MAX_RUNS 20001

static double now_s(void)
{
    struct timespec t;

    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

/* By the clock on the wall, and of the processors: what else the machine does changes the first
 * much and the second little. The budgets are of the first. */
struct spent {
    double wall_s, cpu_s;
};

static struct spent spent_now(void)
{
    struct rusage usage;

    getrusage(RUSAGE_SELF, &usage);
    return (struct spent){ now_s(), (double)(usage.ru_utime.tv_sec + usage.ru_stime.tv_sec)
                                        + 1e-6 * (double)(usage.ru_utime.tv_usec
                                                          + usage.ru_stime.tv_usec) };
}

static struct spent spent_since(struct spent begin)
{
    struct spent now = spent_now();

    return (struct spent){ now.wall_s - begin.wall_s, now.cpu_s - begin.cpu_s };
}

static void must(enum mb_rc rc, const struct mb_error *err)
{
    if (rc) {
        fprintf(stderr, "bench: %s\n", err->text);
        exit(3);
    }
}

static int by_double(const void *a, const void *b)
{
    double x = *(const double *)a, y = *(const double *)b;

    return (x > y) - (x < y);
}

static double median(double *values, size_t count)
{
    qsort(values, count, sizeof *values, by_double);
    return values[count / 2];
}

static void report(const char *name, long entries, double ratio, const char *budget, bool ok,
                   double ours, double base, const char *unit)
{
    printf("%-12s %8ld entries  ratio %6.3f  budget %-12s %s  (%.3f and %.3f %s)\n", name, entries,
           ratio, budget, ok ? "met   " : "MISSED", ours, base, unit);
    fflush(stdout);
}

/* Of a run over many entries: the share of it that the bare libraries take. More is better. */
static void report_share(const char *name, long entries, struct spent ours, struct spent base,
                         double least, const char *budget)
{
    double share = base.wall_s / ours.wall_s, each = 1e6 / (double)entries;

    report(name, entries, share, budget, share >= least, ours.wall_s * each, base.wall_s * each,
           "us an entry");
    printf("%-12s %8ld entries  ratio %6.3f  of processor time        (%.3f and %.3f us an"
           " entry)\n",
           "", entries, base.cpu_s / ours.cpu_s, ours.cpu_s * each, base.cpu_s * each);
    fflush(stdout);
}

/* ---- a ledger to work on ---- */

static void record(mb_ledger *ledger, const char *kind, const char *subject,
                   const struct mb_typed *typed, size_t count)
{
    mb_arena *arena = mb_arena_new();
    struct mb_recording what = { .kind = kind, .subject = subject, .typed = typed, .count = count };
    struct mb_error err = { 0 };
    const mb_json *out;

    must(mb_record(ledger, arena, &what, &out, &err), &err);
    mb_arena_free(arena);
}

static mb_ledger *found(mb_arena *arena, const char *folder)
{
    const struct mb_founding founding = { .folder = folder,
                                          .origin = "bench.example",
                                          .name = "Bench",
                                          .key_label = "bench",
                                          .passphrase = PASSPHRASE,
                                          .holder_id = "P001" };
    const struct mb_typed party[] = { { "partyType", "person", NULL },
                                      { "name", "Bench Person", NULL },
                                      { "namedTo", "buyers", NULL } };
    const struct mb_typed site[] = { { "siteName", "Bench cut", NULL },
                                     { "countryCode", "US", NULL },
                                     { "stateProvince", "Kansas", NULL },
                                     { "county", "Gove", NULL },
                                     { "decimalLatitude", "38.77", NULL },
                                     { "decimalLongitude", "-100.51", NULL },
                                     { "geodeticDatum", "EPSG:4326", NULL },
                                     { "coordinateSource", "GPS receiver", NULL },
                                     { "coordinateUncertaintyInMeters", "30", NULL },
                                     { "placeHeldBackBy", "us", NULL } };
    const mb_json *out;
    struct mb_error err = { 0 };
    mb_ledger *ledger;

    must(mb_ledger_found(arena, &founding, &out, &err), &err);
    must(mb_ledger_open(arena, folder, MB_WRITE, &ledger, &err), &err);
    must(mb_ledger_unlock(ledger, NULL, PASSPHRASE, &err), &err);
    record(ledger, "party", "party/P001", party, 3);
    record(ledger, "site", "site/S001", site, sizeof site / sizeof *site);
    return ledger;
}

/* ---- sizes of what an entry stores ---- */

struct stored {
    size_t count;
    size_t jws, tail; /* bytes in all */
};

static struct stored stored_in(mb_ledger *ledger, const char *folder, int64_t from, int64_t to)
{
    mb_arena *arena = mb_arena_new();
    struct stored stored = { 0 };
    struct mb_str leaf, jws, tail;
    struct mb_error err = { 0 };
    mb_log_scan *scan;
    mb_log *log;
    int64_t seq;
    bool row;

    (void)ledger;
    must(mb_log_open(arena, folder, MB_LOG_READ, &log, &err), &err);
    must(mb_log_scan_open(log, from, to, &scan, &err), &err);
    for (;;) {
        must(mb_log_scan_next(scan, &row, &seq, &leaf, &jws, &tail, &err), &err);
        if (!row)
            break;
        stored.count++;
        stored.jws += jws.len;
        stored.tail += tail.len;
    }
    mb_log_scan_close(scan);
    mb_log_close(log);
    mb_arena_free(arena);
    return stored;
}

/* ---- baselines ---- */

static sqlite3 *raw_db(const char *path)
{
    sqlite3 *db;

    if (sqlite3_open(path, &db) != SQLITE_OK
        || sqlite3_exec(db,
                        "PRAGMA journal_mode=WAL;PRAGMA synchronous=FULL;PRAGMA cache_size=-16000;"
                        "CREATE TABLE t (seq INTEGER PRIMARY KEY, leaf BLOB, jws TEXT, tail TEXT)",
                        NULL, NULL, NULL)
               != SQLITE_OK) {
        fprintf(stderr, "bench: %s\n", sqlite3_errmsg(db));
        exit(3);
    }
    return db;
}

static void raw_insert(sqlite3_stmt *stmt, const char *bytes, size_t jws, size_t tail)
{
    sqlite3_bind_blob(stmt, 1, bytes, 32, SQLITE_STATIC);
    sqlite3_bind_text(stmt, 2, bytes, (int)jws, SQLITE_STATIC);
    sqlite3_bind_text(stmt, 3, bytes, (int)tail, SQLITE_STATIC);
    sqlite3_step(stmt);
    sqlite3_reset(stmt);
}

static double raw_commits(const char *path, size_t runs, size_t jws, size_t tail)
{
    static double times[MAX_RUNS];
    sqlite3 *db = raw_db(path);
    char *bytes = malloc(jws + tail + 64);
    sqlite3_stmt *stmt;

    memset(bytes, 'a', jws + tail + 64);
    sqlite3_prepare_v2(db, "INSERT INTO t (leaf, jws, tail) VALUES (?1, ?2, ?3)", -1, &stmt, NULL);
    for (size_t i = 0; i < runs; i++) {
        double begin = now_s();

        raw_insert(stmt, bytes, jws, tail);
        times[i] = now_s() - begin;
    }
    sqlite3_finalize(stmt);
    sqlite3_close(db);
    free(bytes);
    return median(times, runs);
}

/* Signing messages of this length and inserting as many bytes, in one transaction. */
static struct spent raw_bound(const char *path, size_t count, size_t jws, size_t tail)
{
    unsigned char pk[32], sk[64], sig[64];
    sqlite3 *db = raw_db(path);
    char *bytes = malloc(jws + tail + 64);
    sqlite3_stmt *stmt;
    struct spent begin, spent;

    memset(bytes, 'a', jws + tail + 64);
    crypto_sign_keypair(pk, sk);
    sqlite3_prepare_v2(db, "INSERT INTO t (leaf, jws, tail) VALUES (?1, ?2, ?3)", -1, &stmt, NULL);
    begin = spent_now();
    sqlite3_exec(db, "BEGIN", NULL, NULL, NULL);
    for (size_t i = 0; i < count; i++) {
        crypto_sign_detached(sig, NULL, (unsigned char *)bytes, jws - 87, sk);
        raw_insert(stmt, bytes, jws, tail);
    }
    sqlite3_exec(db, "COMMIT", NULL, NULL, NULL);
    spent = spent_since(begin);
    sqlite3_finalize(stmt);
    sqlite3_close(db);
    free(bytes);
    return spent;
}

/* Messages of their own, each with its own signature, as a ledger's are: one message over and over
 * would stand in the nearest cache, and its one signature may be a slow or a quick one. All is
 * signed before the clock starts. */
struct verifying {
    size_t count, len, many;
    const unsigned char *messages, *sigs, *pk;
};

static void *verify_thread(void *ctx)
{
    const struct verifying *v = ctx;

    for (size_t i = 0; i < v->count; i++) {
        size_t at = i % v->many;

        if (crypto_sign_verify_detached(v->sigs + at * crypto_sign_BYTES, v->messages + at * v->len,
                                        v->len, v->pk)
            != 0)
            abort();
    }
    return NULL;
}

static struct spent raw_verify(size_t count, size_t len, unsigned threads)
{
    unsigned char pk[32], sk[64];
    pthread_t thread[64];
    struct verifying v = { .count = count / threads, .len = len, .many = 1000 };
    unsigned char *messages = malloc(v.many * len), *sigs = malloc(v.many * crypto_sign_BYTES);
    struct spent begin, spent;

    randombytes_buf(messages, v.many * len);
    crypto_sign_keypair(pk, sk);
    for (size_t i = 0; i < v.many; i++)
        crypto_sign_detached(sigs + i * crypto_sign_BYTES, NULL, messages + i * len, len, sk);
    v.messages = messages;
    v.sigs = sigs;
    v.pk = pk;
    begin = spent_now();
    for (unsigned i = 0; i < threads; i++)
        pthread_create(&thread[i], NULL, verify_thread, &v);
    for (unsigned i = 0; i < threads; i++)
        pthread_join(thread[i], NULL);
    spent = spent_since(begin);
    free(messages);
    free(sigs);
    return spent;
}

/* ---- the measurements ---- */

static void bench_append(mb_ledger *ledger, const char *folder, const char *scratch)
{
    static double times[MAX_RUNS];
    const size_t runs = getenv("BENCH_APPENDS") ? strtoul(getenv("BENCH_APPENDS"), NULL, 10) : 301;
    mb_arena *arena = mb_arena_new();
    struct stored stored;
    double ours, base;
    int64_t from;

    {
        const mb_json *about;
        struct mb_error err = { 0 };

        must(mb_ledger_about(ledger, arena, &about, &err), &err);
        from = mb_json_int(mb_json_get(about, "entries"), 0);
    }
    for (size_t i = 0; i < runs; i++) {
        const char *number = mb_arena_printf(arena, "T-%zu", i);
        const struct mb_typed typed[] = { { "recordNumber", number, NULL },
                                          { "verbatimIdentification", "crinoid", NULL },
                                          { "site", "site/S001", NULL },
                                          { "objectForm", "single", NULL },
                                          { "objectQuantity", "1", NULL },
                                          { "quantityHow", "counted", NULL },
                                          { "materialClass", "invertebrate", NULL },
                                          { "horizon", "not known", NULL },
                                          { "inPlace", "in place", NULL },
                                          { "permission", "not known", NULL },
                                          { "purpose", "not known", NULL },
                                          { "tools", "not known", NULL } };
        const char *subject = mb_arena_printf(arena, "specimen/A-%zu", i);
        double begin = now_s();

        record(ledger, "collecting", subject, typed, sizeof typed / sizeof *typed);
        times[i] = now_s() - begin;
    }
    ours = median(times, runs);
    stored = stored_in(ledger, folder, from, from + (int64_t)runs);
    base = raw_commits(mb_arena_printf(arena, "%s/raw-commit.db", scratch), runs,
                       stored.jws / stored.count, stored.tail / stored.count);
    report("append", from, ours / base, "at most 1.5", ours / base <= 1.5, ours * 1e3, base * 1e3,
           "ms");
    mb_arena_free(arena);
}

static const char *write_table(mb_arena *arena, const char *scratch, long rows, long first)
{
    const char *path = mb_arena_printf(arena, "%s/finds-%ld.csv", scratch, first);
    FILE *f = fopen(path, "w");

    fprintf(f, "kind,subject,recordNumber,eventDate,site,verbatimIdentification,objectForm,"
               "objectQuantity,quantityHow,materialClass,horizon,inPlace,permission,purpose,"
               "tools\r\n");
    for (long i = 0; i < rows; i++)
        fprintf(f,
                "collecting,specimen/B-%ld,T-%ld,2026-05-%02ld,site/S001,\"crinoid, number %ld\","
                "single,1,counted,invertebrate,not known,in place,not known,not known,"
                "not known\r\n",
                first + i, first + i, 1 + i % 28, i);
    fclose(f);
    return path;
}

static void bench_intake(mb_ledger *ledger, const char *folder, const char *scratch, long rows,
                         long first)
{
    mb_arena *arena = mb_arena_new();
    struct mb_intake intake = { .path = write_table(arena, scratch, rows, first) };
    struct stored stored;
    struct mb_error err = { 0 };
    const mb_json *out, *about;
    struct spent ours, base;
    int64_t from;

    must(mb_ledger_about(ledger, arena, &about, &err), &err);
    from = mb_json_int(mb_json_get(about, "entries"), 0);
    ours = spent_now();
    must(mb_intake_file(ledger, arena, &intake, &out, &err), &err);
    ours = spent_since(ours);
    stored = stored_in(ledger, folder, from, from + rows);
    base = raw_bound(mb_arena_printf(arena, "%s/raw-%ld.db", scratch, first), (size_t)rows,
                     stored.jws / stored.count, stored.tail / stored.count);
    report_share("intake", rows, ours, base, 0.6, "at least 0.6");
    mb_arena_free(arena);
}

static void bench_verify(mb_ledger *ledger, const char *folder)
{
    mb_arena *arena = mb_arena_new();
    const char *paths[] = { folder };
    struct mb_verify verify = { .paths = paths, .count = 1, .skip_views = true };
    struct stored stored = stored_in(ledger, folder, 0, INT64_MAX);
    struct mb_error err = { 0 };
    const mb_json *out;
    struct spent ours = spent_now(), base;

    if (mb_verify(arena, &verify, &out, &err) != MB_UNABLE) { /* nobody trusts bench.example */
        fprintf(stderr, "bench: the ledger does not verify\n");
        exit(3);
    }
    ours = spent_since(ours);
    base = raw_verify(stored.count, stored.jws / stored.count - 87, mb_cores());
    report_share("verify", (long)stored.count, ours, base, 0.85, "at least .85");
    mb_arena_free(arena);
}

static double issue_time(mb_ledger *ledger, const char *specimen)
{
    static double times[31];

    for (size_t i = 0; i < 31; i++) {
        mb_arena *arena = mb_arena_new();
        const char *specimens[] = { specimen };
        const struct mb_issue issue = { .specimens = specimens,
                                        .count = 1,
                                        .audience = "institution",
                                        .to = "bearer",
                                        .preview = i > 0 };
        struct mb_error err = { 0 };
        const mb_json *out;
        double begin = now_s();

        /* previews do all but the one commit, which bench_append has measured */
        must(mb_certificate_issue(ledger, arena, &issue, &out, &err), &err);
        times[i] = now_s() - begin;
        mb_arena_free(arena);
    }
    return median(times, 31);
}

static void bench_check(mb_ledger *ledger)
{
    mb_arena *arena = mb_arena_new();
    const char *specimens[] = { "specimen/A-0" };
    const struct mb_issue issue = { .specimens = specimens, .count = 1, .to = "bearer",
                                    .unmarked = true };
    const struct mb_typed note[] = { { "remarks", "looked at again", NULL },
                                     { "text", "looked at again", NULL } };
    struct mb_error err = { 0 };
    const mb_json *out, *file;
    struct mb_str bytes;
    const char *path = "/dev/null";
    double ours, base;
    size_t entries, len = 0;
    static double times[21];

    for (int i = 0; i < 95; i++)
        record(ledger, "note", "specimen/A-0", note + 1, 1);
    must(mb_certificate_issue(ledger, arena, &issue, &out, &err), &err);
    bytes = mb_json_str(mb_json_get(out, "file"));
    must(mb_json_read(arena, bytes, MB_JSON_STRICT, &file, &err), &err);
    entries = mb_json_get(file, "entries")->count;
    MB_JSON_EACH(entry, mb_json_get(file, "entries"))
    {
        struct mb_str jws = mb_json_str(mb_json_get(entry, "sd_jwt"));

        len += (size_t)((const char *)memchr(jws.at, '~', jws.len) - jws.at) - 87;
    }
    path = mb_arena_printf(arena, "%s/check.json", getenv("BENCH_SCRATCH"));
    must(mb_file_write(path, bytes, 0600, &err), &err);
    for (size_t i = 0; i < 21; i++) {
        mb_arena *scratch = mb_arena_new();
        struct mb_verify verify = { .paths = &path, .count = 1 };

        times[i] = now_s();
        if (mb_verify(scratch, &verify, &out, &err) != MB_UNABLE)
            exit(3);
        times[i] = now_s() - times[i];
        mb_arena_free(scratch);
    }
    ours = median(times, 21);
    base = raw_verify(20 * (entries + 1), len / entries, 1).wall_s / 20; /* the checkpoint's too */
    report("check", (long)entries, ours / base, "at most 1.3", ours / base <= 1.3, ours * 1e3,
           base * 1e3, "ms");
    mb_arena_free(arena);
}

int main(void)
{
    const char *sizes = getenv("BENCH_SIZES") ? getenv("BENCH_SIZES") : "10000 100000";
    const char *build = getenv("BUILD") ? getenv("BUILD") : "build"; /* a disk: no tmpfs */
    mb_arena *arena = mb_arena_new();
    char *scratch = mb_arena_printf(arena, "%s/markerbed-bench-XXXXXX", build);
    struct mb_error err = { 0 };
    double first_issue = 0;
    long taken = 0;
    struct rusage usage;
    char *end;

    must(mb_start(&err), &err);
    if (!mkdtemp(scratch) || setenv("BENCH_SCRATCH", scratch, 1) != 0) {
        fprintf(stderr, "bench_ledger: cannot write into %s: %m; BUILD names another folder\n",
                build);
        return 3;
    }
    const char *folder = mb_arena_printf(arena, "%s/ledger", scratch);
    mb_ledger *ledger = found(arena, folder);

    bench_append(ledger, folder, scratch);
    bench_check(ledger);
    for (long size; (size = strtol(sizes, &end, 10)) > 0; sizes = end) {
        double time;

        bench_intake(ledger, folder, scratch, size - taken, taken);
        taken = size;
        bench_verify(ledger, folder);
        time = issue_time(ledger, mb_arena_printf(arena, "specimen/B-%ld", size / 2));
        if (first_issue == 0)
            first_issue = time;
        else
            report("certificate", size, time / first_issue, "at most 1.25",
                   time / first_issue <= 1.25, time * 1e3, first_issue * 1e3, "ms");
    }
    mb_ledger_close(ledger);
    getrusage(RUSAGE_SELF, &usage);
    printf("memory       %.0f MiB at most, budget 128 MiB for each command (this is all of them in"
           " one process)\n",
           (double)usage.ru_maxrss / 1024);
    if (system(mb_arena_printf(arena, "rm -rf '%s'", scratch)) != 0)
        return 3;
    mb_arena_free(arena);
    mb_stop();
    return 0;
}
