/* Fuzzing the reader of attached files in PDFs: whatever the bytes, it ends, with the file, "no
 * such file" or one clean sentence, and never gives more than was allowed. */
#include <stdint.h>
#include <stdlib.h>

#include "fuzz.h"
#include "pdf.h"
#include "text.h"

#define MAX 100000

static void must(bool holds)
{
    if (!holds)
        abort();
}

int LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t len)
{
    mb_arena *arena = mb_arena_new();
    struct mb_error err = { 0 };
    struct mb_str out = { 0 };
    enum mb_rc rc = mb_pdf_attachment(arena, (struct mb_str){ (const char *)bytes, len },
                                      "certificate.json", MAX, &out, &err);

    if (rc == MB_OK) {
        must(out.at != NULL && out.len <= MAX && err.code == MB_OK);
    } else {
        must((rc == MB_NO || rc == MB_REFUSED) && err.code == rc && out.at == NULL);
        must(err.text[0] != '\0' && mb_text_allowed(mb_str_of(err.text), false));
    }
    mb_arena_free(arena);
    return 0;
}
