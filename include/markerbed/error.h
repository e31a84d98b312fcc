/*
 * How every call of the library says what became of it.
 *
 * The codes are the program's exit codes, so that nothing is translated on the way up.
 * A failing call writes one sentence into the caller's struct mb_error: what is wrong, where,
 * and how to mend it. The first cause wins; callers above never reword it. A call that fails
 * leaves its outputs and the ledger untouched.
 */
#ifndef MARKERBED_ERROR_H
#define MARKERBED_ERROR_H

enum mb_rc {
    MB_OK = 0,      /* done, or: yes */
    MB_NO = 1,      /* checked, and it is not so */
    MB_REFUSED = 2, /* wrong use or refused input; nothing changed */
    MB_UNABLE = 3   /* could not do it, or could not check it */
};

struct mb_error {
    enum mb_rc code;  /* MB_OK until something failed */
    char text[1000];  /* one sentence, UTF-8, no line end; cut at a character boundary if longer */
};

#define MB_CHECK __attribute__((warn_unused_result))
#define MB_PRINTF(f, a) __attribute__((format(printf, f, a)))

/* Records the first failure in err (which may be NULL) and returns code. Never allocates. */
enum mb_rc mb_fail(struct mb_error *err, enum mb_rc code, const char *format, ...) MB_PRINTF(3, 4);

/* Puts "prefix: " before an already recorded sentence: the file or line that it happened in. */
void mb_fail_where(struct mb_error *err, const char *format, ...) MB_PRINTF(2, 3);

#endif
