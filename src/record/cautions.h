/*
 * The usual cautions of methods and materials (schema/vocab: each term of prep-method and material
 * names its hazards, each hazard its guard, limits and source), and of what a piece itself may have
 * in it. They are what is usual, not all there is: local codes, licensed practice, and a product's
 * safety data sheet come first, which mb_cautions_sentence says.
 */
#ifndef MB_CAUTIONS_H
#define MB_CAUTIONS_H

#include "kinds.h"

struct mb_cautions {
    mb_arena *arena;
    /* [{"hazard","title","for":["air abrasion",...],"guard","limit"?,"source","memory"?:true}], a
     * hazard once; limit is the US OSHA one, for 8 hours unless it says otherwise; memory: not
     * checked against a current table */
    mb_json *list;
    bool solvent_named; /* in the row at hand */
    const mb_json *methods, *materials, *hazards; /* the vocabularies, read when first needed */
};

extern const char mb_cautions_sentence[];

struct mb_cautions mb_cautions_new(mb_arena *arena);
/* Of a recorded value: methods, materials, acids and solvents in it. */
void mb_cautions_value(struct mb_cautions *cautions, const struct mb_kind_field *field,
                       const mb_json *value);
/* Of what was seen in or on the piece: values of the fields hazards and hazardsSeen. */
void mb_cautions_piece(struct mb_cautions *cautions, struct mb_str field, const mb_json *value);
/* "air abrasion: respirable crystalline silica: keep the rock wet ... US limit: ..." */
const char *mb_caution_words(mb_arena *arena, const mb_json *caution);

#endif
