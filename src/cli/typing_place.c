/* Coordinates in any form, typed as verbatimCoordinates before a talk: latitude and longitude are
 * not asked for any more. (Without a talk the library does it, when all is known.) */
#include <markerbed/land.h>

#include <stdio.h>
#include <string.h>

#include "text.h"
#include "typing.h"

static const char *typed(const struct typing *typing, const char *name)
{
    const struct mb_typed *value = typing_get(typing, name);

    if (value == NULL)
        return NULL;
    return value->value != NULL ? value->value
                                : mb_json_cstr(typing->arena, value->value_json);
}

enum mb_rc typing_place(struct typing *typing, struct mb_error *err)
{
    const char *text = typed(typing, "verbatimCoordinates");
    const mb_json *place;
    enum mb_rc rc;

    if (typing->kind == NULL || text == NULL || typing_get(typing, "fromFeature") != NULL
        || (strcmp(typing->kind, "site") != 0 && strcmp(typing->kind, "collecting") != 0)
        || typing_get(typing, "decimalLatitude") != NULL
        || typing_get(typing, "decimalLongitude") != NULL)
        return MB_OK;
    rc = mb_place_read(typing->arena, text, typed(typing, "geodeticDatum"), &place, err);
    if (rc != MB_OK)
        return rc;
    typing_put(typing, "decimalLatitude",
               mb_json_cstr(typing->arena, mb_json_get(place, "decimalLatitude")), NULL);
    typing_put(typing, "decimalLongitude",
               mb_json_cstr(typing->arena, mb_json_get(place, "decimalLongitude")), NULL);
    if (typing_get(typing, "uncertaintyParts") == NULL && mb_json_get(place, "parts")->count > 0)
        typing_put(typing, "uncertaintyParts", NULL, mb_json_get(place, "parts"));
    MB_JSON_EACH(note, mb_json_get(place, "notes"))
        fprintf(stderr, "Please note: %.*s\n", MB_STR_ARG(note->text));
    return MB_OK;
}
