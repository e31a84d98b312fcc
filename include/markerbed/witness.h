/* What others need to hold a ledger to its word: proofs that a program of theirs can check, and
 * witnesses who sign what they saw. docs/witness.md tells how it is used. */
#ifndef MARKERBED_WITNESS_H
#define MARKERBED_WITNESS_H

#include <markerbed/ledger.h>

/*
 * Proof that an entry stands in the log: a C2SP tlog-proof v1 file under the newest signed
 * checkpoint. It holds neither the entry nor any of its fields; who checks it needs the entry's
 * signed bytes, or its leaf hash, from elsewhere.
 *
 * `entry` is a number ("12", "#12") or a leaf hash in base64url, such as a certificate's identity.
 * {"file":text of the proof,"seq","leaf","subject","kind","size":of the checkpoint's tree}
 * MB_REFUSED if there is no such entry; MB_UNABLE if no checkpoint was signed since it was
 * recorded.
 */
MB_CHECK enum mb_rc mb_proof(mb_ledger *ledger, mb_arena *arena, const char *entry,
                             const mb_json **out, struct mb_error *err);

/* ---- being a witness for others' ledgers ---- */

/*
 * A witness has a folder and a key of its own, which is nobody's signing key and no ledger's
 * checkpoint key. It signs (C2SP tlog-cosignature, type 0x04) that a checkpoint was, at that time,
 * the largest tree that it had seen of that ledger and that it goes on from the one before. What it
 * signed is on disk, synced, before its signature is handed out. One program at a time.
 */
typedef struct mb_witness mb_witness;

/* Makes the folder and the key. `name` is what the witness is known by for ever, like
 * witness.quillpost.example. {"name","vkey","folder"} */
MB_CHECK enum mb_rc mb_witness_new(mb_arena *arena, const char *folder, const char *name,
                                   struct mb_str passphrase, const mb_json **out,
                                   struct mb_error *err);
/* MB_REFUSED if there is no witness in the folder; MB_UNABLE while another program has it open. */
MB_CHECK enum mb_rc mb_witness_open(mb_arena *arena, const char *folder, mb_witness **out,
                                    struct mb_error *err);
MB_CHECK enum mb_rc mb_witness_unlock(mb_witness *witness, struct mb_str passphrase,
                                      struct mb_error *err);
mb_witness *mb_witness_close(mb_witness *witness); /* accepts NULL, returns NULL */

/* {"name","vkey","folder","ledgers":[{"origin","vkey","size"?,"root"?,"seenAt"?}]} */
MB_CHECK enum mb_rc mb_witness_about(mb_witness *witness, mb_arena *arena, const mb_json **out,
                                     struct mb_error *err);
/* Tells it of a ledger: by its checkpoint key (a vkey), or by the bytes of one of its
 * certificates, which must hold by itself. {"origin","vkey","fingerprintGrouped"?,"new":bool} */
MB_CHECK enum mb_rc mb_witness_know(mb_witness *witness, mb_arena *arena, struct mb_str what,
                                    const mb_json **out, struct mb_error *err);

/* The answer to a request (C2SP tlog-witness add-checkpoint), whichever way it came.
 * {"status":200|400|403|404|409|422,"body":what the standard answers with,"origin"?,"size"?,
 *  "seenSize"?,"seen"?:checkpoint signed before,"asked"?:the one refused,"why"?,"proof"?:path}
 * MB_OK: cosigned. MB_NO: refused, for the reason given. MB_UNABLE: it could not be kept on disk,
 * so nothing was signed. */
MB_CHECK enum mb_rc mb_witness_answer(mb_witness *witness, mb_arena *arena, struct mb_str request,
                                      const mb_json **out, struct mb_error *err);

/* The same over HTTP on this machine's own address (127.0.0.1) or another that is named:
 * POST /add-checkpoint, GET /HEX/checkpoint. Port 0: any free one. Returns when it listens;
 * mb_witness_serve_end waits for answers under way. */
typedef struct mb_witness_server mb_witness_server;
MB_CHECK enum mb_rc mb_witness_serve(mb_witness *witness, const char *address, unsigned port,
                                     mb_witness_server **out, struct mb_error *err);
unsigned mb_witness_serve_port(const mb_witness_server *server);
void mb_witness_serve_end(mb_witness_server *server);

/* ---- having a ledger of one's own witnessed ---- */

/* A witness that this ledger asks: kept in the ledger's folder, file `witnesses`, in the words of
 * C2SP tlog-policy. `vkey` is what the witness told. {"name","vkey","new":bool} */
MB_CHECK enum mb_rc mb_anchor_witness(mb_ledger *ledger, mb_arena *arena, const char *vkey,
                                      const mb_json **out, struct mb_error *err);
/* [{"name","vkey","size"?:of the largest checkpoint it cosigned,"seenAt"?}] */
MB_CHECK enum mb_rc mb_anchor_list(mb_ledger *ledger, mb_arena *arena, const mb_json **out,
                                   struct mb_error *err);
/* The request for this witness, from the size that it last cosigned (since < 0) or the one given,
 * to the newest signed checkpoint. {"request":bytes,"witness","from","size"} */
MB_CHECK enum mb_rc mb_anchor_request(mb_ledger *ledger, mb_arena *arena, const char *witness,
                                      int64_t since, const mb_json **out, struct mb_error *err);
/* Files the witness's answer, after checking it. MB_NO if it is no cosignature of a checkpoint of
 * this ledger by a witness that is known. [{"witness","size","seenAt","new":bool}] */
MB_CHECK enum mb_rc mb_anchor_file(mb_ledger *ledger, mb_arena *arena, struct mb_str answer,
                                   const mb_json **out, struct mb_error *err);
/* A certificate of this ledger, with the cosigned checkpoints that came since put into it: the
 * bytes of the new file. Its identity and all that it says stay as they were.
 * {"file":bytes,"anchors":how many} */
MB_CHECK enum mb_rc mb_anchor_carry(mb_ledger *ledger, mb_arena *arena, struct mb_str certificate,
                                    const mb_json **out, struct mb_error *err);

/* ---- publishing ---- */

/*
 * Static files for any web host, into `folder`: checkpoint, hash tiles (C2SP tlog-tiles; the
 * entries themselves only if `entries`), the signed list of withdrawn certificates, the public keys
 * as JWKS (RFC 7517), the page that checks certificates, and a page for people. Each file appears
 * whole, and the checkpoint last, so that the folder can be copied at any moment. What stands there
 * already and has not changed is not written again. The open key signs the list.
 *
 * MB_NO if the folder holds a longer or another history of this ledger: nothing is published.
 * {"folder","size","written":files,"withdrawn":certificates}
 */
MB_CHECK enum mb_rc mb_publish(mb_ledger *ledger, mb_arena *arena, const char *folder, bool entries,
                               const mb_json **out, struct mb_error *err);

#endif
