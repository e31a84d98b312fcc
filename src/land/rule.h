/*
 * Rules as data: one JSON file each, ours under schema/rules, a user's own in a folder of theirs.
 * docs/rules.md says what stands in one.
 */
#ifndef MB_RULE_H
#define MB_RULE_H

#include <markerbed/json.h>

enum mb_weight { MB_WEIGHTLESS, MB_NOTE, MB_GAP, MB_CONFLICT, MB_BAR };

enum { MB_ACTS = 4 };
extern const char *const mb_act_words[MB_ACTS]; /* collecting, keeping, selling, moving abroad */

struct mb_rule {
    const char *id, *name, *title;
    enum mb_weight severity;
    const char *citation, *effective, *written_down, *confidence; /* "" where there is none */
    bool checked;   /* against the text it cites; true where it cites none */
    bool own;       /* a user's */
    bool carries;   /* what is found of a piece holds for what came out of it */
    bool act[MB_ACTS];
    const char *mend;
    struct mb_str query;
    const mb_json *say;      /* sentences by reason: {"reason":"text with {column}"} */
    const mb_json *together; /* the same, of several cases at once */
    struct mb_rule *next;
};

struct mb_rules {
    struct mb_rule *first, *last;
    size_t count;
};

MB_CHECK enum mb_rc mb_rules_built_in(mb_arena *arena, struct mb_rules *rules,
                                      struct mb_error *err);
/* Adds those of a folder: every *.json in it. MB_REFUSED with the file's name. */
MB_CHECK enum mb_rc mb_rules_folder(mb_arena *arena, const char *folder, struct mb_rules *rules,
                                    struct mb_error *err);

enum mb_weight mb_weight_read(struct mb_str word);
const char *mb_weight_word(enum mb_weight severity);

#endif
