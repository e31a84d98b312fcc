/* Bytes of published vectors out of the texts that they are printed as. A text that is none ends
 * the test: the table is wrong, not the program. */
#ifndef MB_BYTES_OF_H
#define MB_BYTES_OF_H

#include "codec.h"
#include "crypto.h"

struct mb_str bytes_of_hex(mb_arena *arena, const char *hex);
struct mb_hash hash_of_hex(const char *hex);
struct mb_hash hash_of_base64(const char *text);
struct mb_key key_of_hex(const char *hex);
struct mb_sig sig_of_hex(const char *hex);
/* The seed first, first+1, ... first+31: the keys of the published certificate and of design's own
 * examples (checkpoint 00, owner 20, spare 40, preparator 60). */
mb_secret *secret_of_seed(unsigned first);

/* A file of the source tree, as the tests are run in its top folder; NULL text if it is not there.
 * */
struct mb_str file_of_tree(mb_arena *arena, const char *path);

#endif
