#include "passphrase.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <termios.h>
#include <unistd.h>

#include "text.h"

enum { PASSPHRASE_MAX = 4096, TRIES = 3 };

/* The memory is the arena's, but this file got it to write into and may overwrite it. */
void passphrase_wipe(struct mb_str passphrase)
{
    union {
        const char *is;
        char *was;
    } memory = { passphrase.at };

    if (passphrase.len > 0)
        explicit_bzero(memory.was, passphrase.len);
}

/* Up to the first line end. Pipes are fine: they keep a passphrase off the disk. */
static ssize_t read_line(int fd, char *to, size_t room)
{
    size_t len = 0;

    for (;;) {
        char c;
        ssize_t n = read(fd, &c, 1);
        if (n < 0)
            return -1;
        if (n == 0 || c == '\n')
            return (ssize_t)len;
        if (len == room) {
            errno = EFBIG;
            return -1;
        }
        to[len++] = c;
    }
}

static enum mb_rc read_file(mb_arena *arena, const char *path, struct mb_str *out,
                            struct mb_error *err)
{
    char *text = mb_arena_array(arena, PASSPHRASE_MAX + 1, 1);
    bool standard = strcmp(path, "-") == 0;
    int fd = standard ? STDIN_FILENO : open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY);
    ssize_t len;
    int reason;

    if (fd < 0)
        return mb_fail(err, MB_REFUSED, "cannot open the passphrase file %s: %m", path);
    len = read_line(fd, text, PASSPHRASE_MAX);
    reason = errno;
    if (!standard)
        close(fd);
    errno = reason;
    if (len < 0)
        return mb_fail(err, MB_REFUSED, "cannot read the passphrase file %s: %m", path);
    if (len > 0 && text[len - 1] == '\r')
        len--;
    if (len == 0)
        return mb_fail(err, MB_REFUSED,
                       "the passphrase file %s is empty; the passphrase is its first line", path);
    *out = (struct mb_str){ text, (size_t)len };
    return MB_OK;
}

enum mb_rc passphrase_from_file(const struct call *call, const char *option, const char *variable,
                                struct mb_str *out, struct mb_error *err)
{
    const char *path = call_value(call, option);

    *out = (struct mb_str){ NULL, 0 };
    if (path == NULL)
        path = getenv(variable);
    if (path == NULL || *path == '\0')
        return MB_OK;
    return read_file(call->arena, path, out, err);
}

/* ---- asking ---- */

static volatile sig_atomic_t caught;

static void catch (int number)
{
    caught = number;
}

static const int to_catch[] = { SIGINT, SIGTERM, SIGHUP, SIGQUIT, SIGTSTP };
enum { CATCH_COUNT = sizeof to_catch / sizeof *to_catch };

/* Reads a line while the terminal shows nothing, and puts the terminal back whatever happens. */
static ssize_t read_unseen(int tty, char *to, size_t room)
{
    struct sigaction action = { .sa_handler = catch }, before[CATCH_COUNT];
    struct termios seen, unseen;
    bool can = tcgetattr(tty, &seen) == 0;
    ssize_t len;
    int reason;

    caught = 0;
    sigemptyset(&action.sa_mask);
    for (size_t i = 0; i < CATCH_COUNT; i++)
        sigaction(to_catch[i], &action, &before[i]);
    if (can) {
        unseen = seen;
        unseen.c_lflag &= ~(tcflag_t)ECHO;
        unseen.c_lflag |= ICANON;
        tcsetattr(tty, TCSAFLUSH, &unseen);
    }
    len = read_line(tty, to, room);
    reason = errno;
    if (can)
        tcsetattr(tty, TCSAFLUSH, &seen);
    for (size_t i = 0; i < CATCH_COUNT; i++)
        sigaction(to_catch[i], &before[i], NULL);
    errno = reason;
    return len;
}

static enum mb_rc ask_at(int tty, const char *prompt, char *text, ssize_t *len,
                         struct mb_error *err)
{
    for (;;) {
        dprintf(tty, "%s: ", prompt);
        *len = read_unseen(tty, text, PASSPHRASE_MAX);
        dprintf(tty, "\n");
        if (*len >= 0)
            return MB_OK;
        if (caught == 0)
            return mb_fail(err, MB_UNABLE, "cannot read from the terminal: %m");
        raise(caught); /* after a stop we come back here, and ask again */
    }
}

enum mb_rc passphrase_ask(const struct call *call, const char *prompt, const char *option,
                          const char *variable, struct mb_str *out, struct mb_error *err)
{
    char *text = mb_arena_array(call->arena, PASSPHRASE_MAX + 1, 1);
    int tty = open("/dev/tty", O_RDWR | O_NOCTTY | O_CLOEXEC);
    ssize_t len = 0;
    enum mb_rc rc;

    if (tty < 0)
        return mb_fail(err, MB_REFUSED,
                       "there is no terminal to ask on (%s): put it into a file and name the file"
                       " with --%s%s%s",
                       prompt, option, variable != NULL ? " or " : "",
                       variable != NULL ? variable : "");
    rc = ask_at(tty, prompt, text, &len, err);
    close(tty);
    if (rc == MB_OK && len == 0)
        rc = mb_fail(err, MB_REFUSED, "nothing was typed (%s), so nothing was done", prompt);
    if (rc == MB_OK)
        *out = (struct mb_str){ text, (size_t)len };
    return rc;
}

enum mb_rc passphrase_new(const struct call *call, const char *what, const char *option,
                          const char *variable, struct mb_str *out, struct mb_error *err)
{
    struct mb_str again = { NULL, 0 };
    enum mb_rc rc = passphrase_from_file(call, option, variable, out, err);

    if (rc != MB_OK || out->at != NULL)
        return rc;
    rc = passphrase_ask(call, mb_arena_printf(call->arena, "New passphrase for %s", what), option,
                        variable, out, err);
    if (rc != MB_OK)
        return rc;
    rc = passphrase_ask(call, "The same once more", option, variable, &again, err);
    if (rc == MB_OK && !mb_str_equal(*out, again))
        rc = mb_fail(err, MB_REFUSED, "the two passphrases differ; nothing was done");
    if (again.at != NULL)
        passphrase_wipe(again);
    return rc;
}

/* ---- the key to sign with ---- */

static const char *key_label(const struct call *call)
{
    const char *label = call_value(call, "key");

    if (label == NULL)
        label = getenv("MARKERBED_KEY");
    return label != NULL && *label != '\0' ? label : NULL;
}

/* MB_NO: it is not the key's passphrase. */
static enum mb_rc unlock_with(const struct call *call, const char *label, struct mb_str passphrase,
                              struct mb_error *err)
{
    enum mb_rc rc = mb_ledger_unlock(call->ledger, label, passphrase, err);

    passphrase_wipe(passphrase);
    return rc;
}

enum mb_rc passphrase_unlock(const struct call *call, struct mb_error *err)
{
    const char *label = key_label(call);
    const char *prompt = label == NULL
                             ? "Passphrase"
                             : mb_arena_printf(call->arena, "Passphrase of the key %s", label);
    struct mb_str passphrase;
    enum mb_rc rc = passphrase_from_file(call, "passphrase-file", "MARKERBED_PASSPHRASE_FILE",
                                         &passphrase, err);

    if (rc != MB_OK)
        return rc;
    if (passphrase.at != NULL) {
        rc = unlock_with(call, label, passphrase, err);
        return rc == MB_NO ? MB_REFUSED : rc; /* of a command that records: a wrong input */
    }
    for (int i = 0; i < TRIES; i++) {
        struct mb_error why = { 0 };
        rc = passphrase_ask(call, prompt, "passphrase-file", "MARKERBED_PASSPHRASE_FILE",
                            &passphrase, err);
        if (rc != MB_OK)
            return rc;
        rc = unlock_with(call, label, passphrase, &why);
        if (rc != MB_NO || i + 1 == TRIES)
            return rc == MB_OK ? rc : mb_fail(err, rc == MB_NO ? MB_REFUSED : rc, "%s", why.text);
        fprintf(stderr, "markerbed: %s\n", why.text);
    }
    return rc;
}
