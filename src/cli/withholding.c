#include "withholding.h"

#include <string.h>

enum mb_rc withholding_read(const struct call *call, const struct mb_withhold **out,
                            size_t *out_count, struct mb_error *err)
{
    struct mb_withhold *list = MB_ARRAY(call->arena, call->given_count + 1, struct mb_withhold);
    size_t count = 0, reasoned = 0;

    for (size_t i = 0; i < call->given_count; i++) {
        const struct given *given = &call->given[i];
        if (strcmp(given->option->name, "withhold") == 0)
            list[count++] = (struct mb_withhold){ given->value, NULL };
        if (strcmp(given->option->name, "because") != 0)
            continue;
        if (reasoned == count)
            return mb_fail(err, MB_REFUSED,
                           "--because goes behind the --withhold that it gives the reason for");
        while (reasoned < count)
            list[reasoned++].because = given->value;
    }
    if (reasoned < count)
        return mb_fail(err, MB_REFUSED,
                       "say why %s is withheld: --withhold %s --because \"landowner's request\"",
                       list[reasoned].field, list[reasoned].field);
    *out = list;
    *out_count = count;
    return MB_OK;
}
