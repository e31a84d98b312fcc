/*
 * A certificate file taken apart: {"format":"markerbed-certificate/1",...} (docs/format.md
 * section 6). Only its form is checked here; verify.h judges what it says.
 */
#ifndef MB_BUNDLE_H
#define MB_BUNDLE_H

#include "entry.h"
#include "merkle.h"
#include "note.h"

#define MB_BUNDLE_FORMAT "markerbed-certificate/1"
#define MB_BUNDLE_MAX (64u << 20) /* bytes of the whole file */
#define MB_FOREIGN_MAX 16         /* certificates of other ledgers, nesting included */

struct mb_bundle_entry {
    int64_t index;
    struct mb_str sd_jwt;
    struct mb_path path;
    struct mb_entry entry; /* once read; check `readable` */
    bool readable;
    bool signed_well; /* its signature fits a key that the file enrols */
};

struct mb_bundle_file {
    struct mb_str name;  /* SHA-256, hex */
    struct mb_str bytes; /* decoded */
};

struct mb_bundle_anchor {
    struct mb_str note;
    struct mb_path path;
    bool good;     /* once checked: signed by the ledger, and of one history with the checkpoint */
    uint64_t size; /* of a good one */
};

struct mb_bundle {
    struct mb_str origin, note;
    struct mb_bundle_entry *entries;
    size_t count;
    struct mb_bundle_file *files;
    size_t file_count;
    struct mb_bundle_anchor *anchors;
    size_t anchor_count;
    const mb_json **foreign;
    size_t foreign_count;
};

/* MB_REFUSED with what is wrong and where. */
MB_CHECK enum mb_rc mb_bundle_read(mb_arena *arena, const mb_json *json, struct mb_bundle *out,
                                   struct mb_error *err);

/*
 * Which subjects must come along (docs/format.md section 6.2): calls `each` for every subject whose
 * whole chain the entry asks for by a reference that is shown. On an entry of one of the file's
 * specimens: every reference but to specimens, keys and the ledger. On one of a site or permission
 * that came along: the land owner (surfaceOwner, fossilOwner, landManager) and the grantor.
 */
typedef void mb_needs_fn(void *ctx, struct mb_str subject);
void mb_entry_needs(const struct mb_entry *entry, bool of_specimen, mb_needs_fn *each, void *ctx);
bool mb_is_specimen(struct mb_str subject);

/* base64url(SHA-256(the hashes in base64url, sorted, joined with LF)): `held` and `shown`. */
struct mb_str mb_digest_of_set(mb_arena *arena, const struct mb_hash *hashes, size_t count);

enum mb_audience { MB_PUBLIC, MB_BUYER, MB_INSTITUTION, MB_AUDITOR, MB_AUDIENCE_COUNT };
extern const char *const mb_audience_name[MB_AUDIENCE_COUNT];
bool mb_audience_of(struct mb_str name, enum mb_audience *out);
bool mb_audience_sees(enum mb_audience audience, enum mb_class in);

#endif
