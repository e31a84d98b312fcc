/*
 * One entry: a signed statement about one subject, as an SD-JWT (RFC 9901) over a compact JWS
 * (RFC 7515) with Ed25519 (RFC 8037). docs/format.md section 2 is the promise this file keeps.
 *
 * Reading (mb_entry_read, mb_entry_disclose) is strict: whatever this program would not have
 * written is refused, but for the order of members and blanks between them. Signatures, chains and
 * rights are not judged here; see keyring.h, verify.h.
 */
#ifndef MB_ENTRY_H
#define MB_ENTRY_H

#include <stdbool.h>
#include <stdint.h>

#include <markerbed/json.h>

#include "codec.h"
#include "crypto.h"

#define MB_ENTRY_TYPE "markerbed-entry+sd-jwt"
#define MB_ENTRY_MAX 65535            /* bytes of the JWS: a tile bundle counts in 16 bits */
#define MB_DISCLOSURE_MAX (1u << 20)  /* bytes of one disclosure */
#define MB_THUMBPRINT_LEN 43

/* Who may see a field when it leaves the ledger; fixed when it is recorded. */
enum mb_class {
    MB_OPEN,
    MB_SALE,
    MB_SCIENCE,
    MB_LAND,
    MB_PRIVATE,
    MB_OWN,
    MB_CLASS_COUNT
};
extern const char *const mb_class_name[MB_CLASS_COUNT];
bool mb_class_of(struct mb_str name, enum mb_class *out);

/* One salted field or list element that an entry commits to. */
struct mb_slot {
    struct mb_hash digest;
    enum mb_class in;
    int shown;      /* index of its disclosure, -1 if not shown here */
    bool element;   /* an element of a list salted one by one */
};

struct mb_disclosure {
    struct mb_str text;   /* base64url, as hashed */
    struct mb_hash digest;
    struct mb_str salt;
    struct mb_str name;   /* {NULL, 0} for a list element */
    const mb_json *value; /* with shown list elements put in and hidden ones left out */
    int slot;             /* index of the slot that holds its digest, -1 if none does */
};

struct mb_entry {
    struct mb_str jws;
    struct mb_hash leaf;
    struct mb_str signed_part; /* header.payload */
    struct mb_sig sig;
    struct mb_str kid;
    struct mb_str iss, sub, kind;
    int64_t iat, seq, nth;
    bool has_prev, has_prior;
    struct mb_hash prev, prior;
    const mb_json *body; /* as signed */
    mb_json *lists; /* those of its open lists that have hidden elements, as a reader sees them */
    struct mb_slot *slots;
    size_t slot_count;
    struct mb_disclosure *disclosures;
    size_t disclosure_count;
};

/* Reads the JWS alone. MB_REFUSED where it is malformed, MB_UNABLE for a version, algorithm or
 * critical header that this program does not know. Points into jws and the arena. */
MB_CHECK enum mb_rc mb_entry_read(mb_arena *arena, struct mb_str jws, struct mb_entry *out,
                                  struct mb_error *err);

/* Adds "D1~D2~...~Dn~" (may be empty) to an entry just read. MB_REFUSED where a disclosure is
 * malformed, stands twice, or repeats a name. One that the entry does not hold is kept with slot
 * -1: the verifier makes a finding of it. */
MB_CHECK enum mb_rc mb_entry_disclose(mb_arena *arena, struct mb_entry *entry, struct mb_str tail,
                                      struct mb_error *err);

/* "JWS~D1~...~Dn~": reads both. */
MB_CHECK enum mb_rc mb_entry_read_sd(mb_arena *arena, struct mb_str sd_jwt, struct mb_entry *out,
                                     struct mb_error *err);

/* The value of a field, open or shown; NULL if it is not there or not shown. *in (may be NULL)
 * gets its class. */
const mb_json *mb_entry_field(const struct mb_entry *entry, const char *name, enum mb_class *in);
const mb_json *mb_entry_open(const struct mb_entry *entry, const char *name);

/* Calls `each` for every field that can be seen, open ones first, in a fixed order. */
typedef void mb_field_fn(void *ctx, struct mb_str name, const mb_json *value, enum mb_class in);
void mb_entry_fields(const struct mb_entry *entry, mb_field_fn *each, void *ctx);

/* True if the JWS is signed by this key. */
bool mb_entry_signed_by(const struct mb_entry *entry, const struct mb_key *key);

/* A field about to be recorded. */
struct mb_field {
    const char *name;
    enum mb_class in;
    const mb_json *value;
    bool salted; /* an array whose elements are salted one by one */
    struct mb_str
        made; /* its disclosure, if mb_disclosure_make made it beforehand; else {NULL, 0} */
};

struct mb_draft {
    struct mb_str iss;
    const char *sub, *kind;
    int64_t iat, seq, nth;
    const struct mb_hash *prev, *prior; /* NULL where there is none */
    const struct mb_field *fields;
    size_t count;
};

/* Salts a field beforehand, so that its digest is known before the entry is written: a certificate
 * commits to the digests of its own fields. */
struct mb_str mb_disclosure_make(mb_arena *arena, const char *name, const mb_json *value,
                                 struct mb_hash *digest);

/* Signs a draft. *jws and *tail ("D1~...~Dn~") live in the arena. MB_REFUSED if it grows past the
 * limits; nothing is recorded by this. */
MB_CHECK enum mb_rc mb_entry_write(mb_arena *arena, const struct mb_draft *draft,
                                   const mb_secret *secret, struct mb_str *jws,
                                   struct mb_str *tail, struct mb_error *err);

/* RFC 7638 thumbprint of {"crv":"Ed25519","kty":"OKP","x":...}, 43 characters and a zero. */
void mb_thumbprint(const struct mb_key *key, char out[MB_THUMBPRINT_LEN + 1]);
/* {"crv":"Ed25519","kty":"OKP","x":"..."} and back; false unless it has exactly these members. */
mb_json *mb_jwk_make(mb_arena *arena, const struct mb_key *key);
bool mb_jwk_read(const mb_json *jwk, struct mb_key *out);

/* {"ref":"site/S001"} with nothing else: its subject, else {NULL, 0}. */
struct mb_str mb_ref_of(const mb_json *value);
/* "prefix/ID", or "ledger" alone; for keys the ID is a thumbprint. */
bool mb_subject_ok(struct mb_str subject);

#endif
