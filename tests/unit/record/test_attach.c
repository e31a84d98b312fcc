/* Attached files: content-addressed, there before the entry, judged by sha256sum from outside. */
#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "attach.h"
#include "fileio.h"
#include "fresh_files.h"
#include "outside.h"
#include "sample_jpeg.h"
#include "session.h"
#include "text.h"
#include "workbench.h"

static struct workbench b;

static void set_up(void)
{
    workbench_house(&b);
    workbench_must(&b, "collecting", "26-0115", "fieldDay=D001", "recordNumber=T-118",
                   "verbatimIdentification=crinoid slab", "objectQuantity=3", "objectForm=slab",
                   "quantityHow=counted", "materialClass=invertebrate", "horizon=H-A",
                   "inPlace=in place", NULL);
}

static void tear_down(void)
{
    outside_end();
    workbench_done(&b);
}

TestSuite(attach, .init = set_up, .fini = tear_down);

static const char *sha256(const char *path)
{
    struct mb_str said;

    cr_assert_eq(outside_run(b.arena, &said, "sha256sum '%s'", path), 0);
    return mb_arena_copy(b.arena, said.at, 64);
}

static const char *stored(const char *hex)
{
    return mb_attach_path(b.arena, b.folder, hex);
}

static int files_in_ledger(void)
{
    struct mb_str said;
    int count = -1;

    outside_run(b.arena, &said, "find '%s/files' -type f 2>/dev/null | wc -l", b.folder);
    sscanf(mb_arena_copy(b.arena, said.at, said.len), "%d", &count);
    return count;
}

Test(attach, a_photo_is_stored_under_its_hash_and_once)
{
    const char *path = outside_file(b.arena, "front.txt", MB_STR("seen from the front\n"));
    const char *hex = sha256(path);
    struct stat about;
    int64_t seq;

    seq = workbench_must(&b, "note", "specimen/26-0115", "text=a photo",
                         mb_arena_printf(b.arena, "--attach %s", path), NULL);
    cr_assert_str_eq(workbench_field(&b, seq, "photos", NULL),
                     mb_arena_printf(b.arena,
                                     "[{\"file\":{\"bytes\":20,\"file\":\"%s\",\"type\":"
                                     "\"text/plain\"}}]",
                                     hex),
                     "without its name, which may tell the place");
    cr_assert_eq(stat(stored(hex), &about), 0);
    cr_assert_eq(about.st_size, 20);
    cr_assert_str_eq(sha256(stored(hex)), hex);
    seq = workbench_must(&b, "note", "specimen/26-0115", "text=again",
                         mb_arena_printf(b.arena, "photos=file:%s; view:front", path),
                         mb_arena_printf(b.arena, "--attach placePhotos=%s", path), NULL);
    cr_assert(strstr(workbench_field(&b, seq, "placePhotos", NULL), "\"name\":\"front.txt\""));
    cr_assert_eq(files_in_ledger(), 1);
    cr_assert_str_eq(workbench_verify(&b), "unknown-ledger");
    cr_assert_eq(unlink(stored(hex)), 0);
    cr_assert_str_eq(workbench_verify(&b), "file-missing unknown-ledger");
}

Test(attach, a_refused_entry_leaves_no_file_behind)
{
    const char *path = outside_file(b.arena, "front.txt", MB_STR("seen from the front\n"));

    cr_assert_eq(workbench_record(&b, "note", "specimen/26-0115",
                                  mb_arena_printf(b.arena, "--attach %s", path), NULL),
                 MB_REFUSED);
    cr_assert_eq(files_in_ledger(), 0);
}

/* What the door lets through can still be refused: the file is in the folder by then. */
Test(attach, a_file_goes_again_where_the_signer_may_not_record_it)
{
    static const char *const may[] = { "condition" };
    struct mb_key_adding adding = { .label = "wren", .holder = "P003", .may = may, .may_count = 1,
                                    .passphrase = MB_STR(WORKBENCH_PASSPHRASE) };
    const char *path = outside_file(b.arena, "front.txt", MB_STR("seen from the front\n"));
    const char *hex = sha256(path), *attach = mb_arena_printf(b.arena, "--attach %s", path);
    struct workbench founder;

    cr_assert_eq(mb_key_add(b.ledger, b.arena, &adding, &b.out, &b.err), MB_OK, "%s", b.err.text);
    founder = b;
    cr_assert_eq(mb_ledger_open(b.arena, b.folder, MB_WRITE, &b.ledger, &b.err), MB_OK);
    cr_assert_eq(mb_ledger_unlock(b.ledger, "wren", MB_STR(WORKBENCH_PASSPHRASE), &b.err), MB_OK);
    cr_assert_eq(workbench_record(&b, "note", "specimen/26-0115", "text=x", attach, NULL),
                 MB_REFUSED);
    cr_assert(strstr(b.err.text, "may not record"), "%s", b.err.text);
    cr_assert_eq(files_in_ledger(), 0);
    /* the founder records the very file: then it stays, whoever else is refused it */
    workbench_must(&founder, "note", "specimen/26-0115", "text=x", attach, NULL);
    cr_assert_eq(workbench_record(&b, "note", "specimen/26-0115", "text=x", attach, NULL),
                 MB_REFUSED);
    cr_assert_str_eq(sha256(stored(hex)), hex);
    mb_ledger_close(founder.ledger);
}

/* Stored by one, recorded meanwhile by another, refused to the first. */
Test(attach, a_file_that_somebody_else_recorded_meanwhile_stays)
{
    const char *one = outside_file(b.arena, "one.txt", MB_STR("seen from the front\n"));
    const char *two = outside_file(b.arena, "two.txt", MB_STR("seen from behind\n"));
    struct mb_attached first, second;
    struct workbench other = b;

    cr_assert_eq(mb_attach_look(b.arena, one, &first, &b.err), MB_OK);
    cr_assert_eq(mb_attach_look(b.arena, two, &second, &b.err), MB_OK);
    cr_assert_eq(mb_fresh_store(b.ledger, &first, &b.err), MB_OK);
    cr_assert_eq(mb_fresh_store(b.ledger, &second, &b.err), MB_OK);
    cr_assert_eq(mb_ledger_open(b.arena, b.folder, MB_WRITE, &other.ledger, &b.err), MB_OK);
    cr_assert_eq(mb_ledger_unlock(other.ledger, NULL, MB_STR(WORKBENCH_PASSPHRASE), &b.err),
                 MB_OK);
    workbench_must(&other, "note", "specimen/26-0115", "text=x",
                   mb_arena_printf(b.arena, "--attach %s", one), NULL);
    cr_assert_eq(files_in_ledger(), 2);
    mb_fresh_drop(b.ledger, true);
    cr_assert_eq(files_in_ledger(), 1);
    cr_assert_str_eq(sha256(stored(first.hex)), first.hex);
    cr_assert_str_eq(workbench_verify(&other), "unknown-ledger");
    mb_ledger_close(other.ledger);
}

Test(attach, a_batch_given_up_takes_its_files_along)
{
    const char *one = mb_arena_printf(b.arena, "--attach %s",
                                      outside_file(b.arena, "one.txt", MB_STR("front\n")));
    const char *two = mb_arena_printf(b.arena, "--attach %s",
                                      outside_file(b.arena, "two.txt", MB_STR("behind\n")));

    for (int keep = 0; keep < 2; keep++) {
        mb_batch *batch;

        cr_assert_eq(mb_batch_begin(b.ledger, b.arena, NULL, &batch, &b.err), MB_OK, "%s",
                     b.err.text);
        cr_assert_eq(workbench_add(&b, batch, "row 1", "note", "specimen/26-0115", "text=x", one,
                                   NULL),
                     MB_OK, "%s", b.err.text);
        cr_assert_eq(workbench_add(&b, batch, "row 2", "note", "specimen/26-0115", "text=x", two,
                                   NULL),
                     MB_OK, "%s", b.err.text);
        cr_assert_eq(files_in_ledger(), 2);
        if (keep)
            cr_assert_eq(mb_batch_end(batch, &b.err), MB_OK, "%s", b.err.text);
        else
            mb_batch_cancel(batch);
        cr_assert_eq(files_in_ledger(), keep ? 2 : 0);
    }
    cr_assert_str_eq(workbench_verify(&b), "unknown-ledger");
}

Test(attach, what_cannot_be_attached_is_refused)
{
    const char *empty = outside_file(b.arena, "empty.txt", MB_STR(""));
    const char *some = outside_file(b.arena, "some.pdf", MB_STR("%PDF-1.4"));

    cr_assert_eq(workbench_record(&b, "note", "specimen/26-0115", "text=x",
                                  mb_arena_printf(b.arena, "--attach %s", empty), NULL),
                 MB_REFUSED);
    cr_assert(strstr(b.err.text, "is empty"), "%s", b.err.text);
    cr_assert_eq(workbench_record(&b, "note", "specimen/26-0115", "text=x", "--attach nowhere.jpg",
                                  NULL),
                 MB_REFUSED);
    cr_assert_str_eq(b.err.text, "cannot open nowhere.jpg: No such file or directory");
    cr_assert_eq(workbench_record(&b, "note", "specimen/26-0115", "text=x",
                                  mb_arena_printf(b.arena, "--attach text=%s", some), NULL),
                 MB_REFUSED);
    cr_assert_str_eq(b.err.text, "field text: it takes no file");
    cr_assert_eq(workbench_record(&b, "document", "specimen/26-0115", "docType=permit",
                                  mb_arena_printf(b.arena, "--attach file=%s", some),
                                  mb_arena_printf(b.arena, "--attach file=%s", some), NULL),
                 MB_REFUSED);
    cr_assert_str_eq(b.err.text, "field file: it takes one file");
    cr_assert_eq(workbench_record(&b, "condition", "specimen/26-0115",
                                  mb_arena_printf(b.arena, "--attach identifyingMarks=%s", some),
                                  NULL),
                 MB_REFUSED);
    cr_assert_str_eq(b.err.text, "field identifyingMarks: a row needs more than a file; write"
                                 " mark:...; photo:PATH");
}

Test(attach, the_type_is_told_by_the_first_bytes)
{
    static const struct {
        const char *name, *bytes;
        size_t len;
        const char *type;
    } files[] = {
        { "a.jpg", "\xff\xd8\xff\xe0", 4, "image/jpeg" },
        { "a.txt", "\x89PNG\r\n\x1a\n", 8, "image/png" },
        { "a.pdf", "%PDF-1.7", 8, "application/pdf" },
        { "a.tif", "II*\0", 4, "image/tiff" },
        { "a.json", "{}", 2, "application/json" },
        { "a.CSV", "a,b\n", 4, "text/csv" },
        { "a.bin", "\0\1\2", 3, "application/octet-stream" },
        { "a.unknown", "gr\xc3\xbc\xc3\x9f", 6, "text/plain" },
    };

    for (size_t i = 0; i < sizeof files / sizeof *files; i++) {
        struct mb_attached attached;
        const char *path = outside_file(b.arena, files[i].name,
                                        (struct mb_str){ files[i].bytes, files[i].len });

        cr_assert_eq(mb_attach_look(b.arena, path, &attached, &b.err), MB_OK);
        cr_expect_str_eq(attached.type, files[i].type, "%s: %s", files[i].name, attached.type);
    }
}

/* Exif 2.32: APP1 with "Exif", a TIFF block of one directory whose only tag leads to the GPS
 * one. */
/* A photo that no sheet could show is refused while it can still be copied again; among papers of
 * the place it is kept as it is. What is no photo at all is kept, and that is said. */
Test(attach, a_damaged_photo_is_refused)
{
    struct sample_jpeg how = { .width_px = 640, .height_px = 480, .turn = 1 };
    struct mb_str whole = sample_jpeg(b.arena, &how);
    const char *cut = outside_file(b.arena, "cut.jpg",
                                   (struct mb_str){ whole.at, whole.len / 2 });
    const char *notes = outside_file(b.arena, "notes.txt", MB_STR("no photo"));
    const mb_json *warnings;

    cr_assert_eq(workbench_record(&b, "note", "specimen/26-0115", "text=x",
                                  mb_arena_printf(b.arena, "--attach %s", cut), NULL),
                 MB_REFUSED);
    cr_assert_str_eq(b.err.text, "cut.jpg: the photo is damaged or was cut short on its way; copy"
                                 " it again from where it came from");
    workbench_must(&b, "note", "specimen/26-0115", "text=x",
                   mb_arena_printf(b.arena, "--attach placePhotos=%s", cut), NULL);
    workbench_must(&b, "note", "specimen/26-0115", "text=x",
                   mb_arena_printf(b.arena, "--attach %s", notes), NULL);
    warnings = mb_json_get(b.out, "warnings");
    cr_assert_eq(warnings->count, 1);
    cr_assert_str_eq(mb_json_cstr(b.arena, warnings->first),
                     "notes.txt is neither a JPEG nor a PNG: it is kept, and no sheet can show it");
}

/* What a camera writes into a photo stays in the house: the copy that a buyer sees is without
 * it. */
Test(attach, a_photo_for_a_sale_is_kept_clean)
{
    struct sample_jpeg how = { .width_px = 64, .height_px = 48, .turn = 6,
                               .secret = "38.94127N 100.31442W" };
    const char *path = outside_file(b.arena, "field.jpg", sample_jpeg(b.arena, &how));
    struct mb_str said;
    const mb_json *fields, *file;
    const char *hex;

    workbench_must(&b, "note", "specimen/26-0115", "text=x",
                   mb_arena_printf(b.arena, "--attach %s", path), NULL);
    fields = mb_json_get(b.out, "fields");
    file = mb_json_get(mb_json_get(fields, "photos")->first, "file");
    hex = mb_json_cstr(b.arena, mb_json_get(file, "file"));
    cr_assert_str_neq(hex, sha256(path));
    cr_assert_str_eq(sha256(stored(hex)), hex);
    outside_run(b.arena, &said, "grep -c 38.94127N '%s'", stored(hex));
    cr_assert_eq(said.at[0], '0');
    cr_assert_eq(mb_json_get(b.out, "warnings")->count, 0);
}

Test(attach, a_file_that_changed_meanwhile_is_not_taken)
{
    const char *path = outside_file(b.arena, "a.txt", MB_STR("one"));
    struct mb_attached attached;

    cr_assert_eq(mb_attach_look(b.arena, path, &attached, &b.err), MB_OK);
    outside_file(b.arena, "a.txt", MB_STR("two"));
    cr_assert_eq(mb_attach_store(b.folder, &attached, &b.err), MB_UNABLE);
    cr_assert(strstr(b.err.text, "changed while it was being read"), "%s", b.err.text);
    cr_assert_eq(files_in_ledger(), 0);
}

/* In JSON a file may be named by the hash that the ledger holds it under. */
Test(attach, a_file_in_the_ledger_can_be_named_by_its_hash)
{
    const char *path = outside_file(b.arena, "front.txt", MB_STR("seen from the front\n"));
    const char *hex = sha256(path);
    const mb_json *json;
    struct mb_typed typed[] = { { .name = "text", .value = "x" }, { .name = "placePhotos" } };
    struct mb_recording what = { .kind = "note", .subject = "specimen/26-0115", .typed = typed,
                                 .count = 2 };

    workbench_must(&b, "note", "specimen/26-0115", "text=a photo",
                   mb_arena_printf(b.arena, "--attach %s", path), NULL);
    unlink(path);
    cr_assert_eq(mb_json_read(b.arena,
                              mb_str_of(mb_arena_printf(
                                  b.arena, "[{\"file\":{\"file\":\"%s\",\"name\":\"other.txt\"}}]",
                                  hex)),
                              MB_JSON_PLAIN, &json, &b.err),
                 MB_OK);
    typed[1].value_json = json;
    cr_assert_eq(mb_record(b.ledger, b.arena, &what, &b.out, &b.err), MB_OK, "%s", b.err.text);
    cr_assert(strstr(workbench_field(&b, mb_json_int(mb_json_get(b.out, "seq"), -1),
                                     "placePhotos", NULL),
                     "\"name\":\"other.txt\""));
    cr_assert_eq(files_in_ledger(), 1);
}
