/*
 * The statement of a certificate: lines that follow from entries by a table (schema/statement.json;
 * docs/format.md section 7). The issuer uses this to write them, the verifier to work them out
 * again; neither decides what a line may be, the table does.
 *
 * A line: {"name","value","unit"?,"from":[leaf hashes in base64url]}. An attested line instead of
 * `from` has "attested":true; only names whose operation in the table is "attested" may be so.
 */
#ifndef MB_STATEMENT_H
#define MB_STATEMENT_H

#include "story.h"

/* The stories of all subjects in a file or closure. */
typedef struct mb_stories mb_stories;
mb_stories *mb_stories_new(mb_arena *arena);
/* In rising order of seq; the entry must live as long. */
void mb_stories_add(mb_stories *stories, const struct mb_entry *entry);
const mb_story *mb_stories_of(const mb_stories *stories, struct mb_str subject); /* NULL if none */
size_t mb_stories_count(const mb_stories *stories);
struct mb_str mb_stories_subject(const mb_stories *stories, size_t index);

/* The table of a derivation, by the base64url SHA-256 of its bytes; NULL if it is not known. */
const mb_json *mb_statement_table(mb_arena *arena, struct mb_str derivation);
/* The digest of the table that this program writes statements by. */
struct mb_str mb_statement_current(mb_arena *arena);

/* The derivable lines for one specimen out of what `stories` hold below entry `before` (the
 * specimen's certificate): an array of lines. */
mb_json *mb_statement_lines(mb_arena *arena, const mb_json *table, const mb_stories *stories,
                            struct mb_str specimen, int64_t before);
/* True if the table lets this line be attested. */
bool mb_statement_may_attest(const mb_json *table, struct mb_str name);
/* The title of a line, or its name where the table has none. */
struct mb_str mb_statement_title(const mb_json *table, struct mb_str name);

#endif
