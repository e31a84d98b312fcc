/* Which fields of one entry an audience is shown, and why not the others. */
#ifndef MB_SHOWING_H
#define MB_SHOWING_H

#include <markerbed/certificate.h>

#include "bundle.h"
#include "guard.h"
#include "story.h"

/* What the subjects themselves say about being shown; NULL story: nothing. */
struct mb_showing {
    enum mb_audience audience;
    const struct mb_issue *issue;
    const struct mb_str *specimens; /* whose elements of salted lists may be shown */
    size_t specimen_count;
    const struct mb_guard *guard; /* of places on federal land; may be NULL */
    const struct mb_recalled *recalled; /* NULL: the policy decides */
};

/* What was decided when a certificate was issued: it decides again, whatever the policy would say
 * today. Digests in base64url. */
struct mb_recalled {
    const mb_json *const *withheld; /* of each of the k certificates: [{"digest",...}] */
    size_t withheld_count;
    const mb_json *revealed; /* [digest]; NULL: none */
};

/* The reason why this disclosure is kept back from the audience, or NULL if it is shown.
 * *listed is true if the keeping back has to be said in `withheld`. `own_story` is the story of the
 * entry's subject with all its fields. */
const char *mb_showing_refuses(const struct mb_showing *showing, const struct mb_entry *entry,
                               const struct mb_disclosure *disclosure, enum mb_class in,
                               bool element, const mb_story *own_story, bool *listed);

/* Was the field asked to be shown beyond its class? */
bool mb_showing_reveals(const struct mb_showing *showing, struct mb_str name);

#endif
