#include "docs.h"

#include <markerbed/record.h>

#include <string.h>

#include "lists.h"
#include "options.h"
#include "text.h"
#include "wording.h"

/* The first words of all commands, each once, and the second ones of a first. */
static void put_command_words(struct mb_buf *buf, const char *of)
{
    struct mb_str last = { NULL, 0 };

    for (size_t i = 0; commands[i] != NULL; i++) {
        struct mb_str first, second;
        bool two = mb_str_cut(mb_str_of(commands[i]->name), ' ', &first, &second);
        if (commands[i]->flags & HIDDEN)
            continue;
        if (of == NULL && (last.at == NULL || !mb_str_equal(first, last)))
            mb_buf_printf(buf, " %.*s", MB_STR_ARG(first));
        if (of != NULL && two && mb_str_is(first, of))
            mb_buf_printf(buf, " %.*s", MB_STR_ARG(second));
        last = first;
    }
}

static void put_option_words(struct mb_buf *buf, const struct command *command)
{
    for (const struct option *o = command->options; o != NULL && o->name != NULL; o++)
        mb_buf_printf(buf, " --%s", o->name);
    for (const struct option *o = common_options; o->name != NULL; o++)
        if (command_takes(command, o))
            mb_buf_printf(buf, " --%s", o->name);
}

static void put_words_case(struct mb_buf *buf, const struct command *command)
{
    static const char *const actions[] = {
        [OFFER_FILES] = "files=yes", [OFFER_FOLDERS] = "folders=yes"
    };

    mb_buf_printf(buf, "        \"%s\") options=\"", command->name);
    put_option_words(buf, command);
    mb_buf_add_text(buf, "\"");
    if (command->words == OFFER_FILES || command->words == OFFER_FOLDERS)
        mb_buf_printf(buf, "; %s", actions[command->words]);
    if (strcmp(command->name, "list") == 0) {
        mb_buf_add_text(buf, "; words=\"");
        for (size_t i = 0; list_names[i] != NULL; i++)
            mb_buf_printf(buf, " %s", list_names[i]);
        mb_buf_add_char(buf, '"');
    }
    if (strcmp(command->name, "help") == 0)
        mb_buf_add_text(buf, "; words=$commands");
    if (strcmp(command->name, "record") == 0)
        mb_buf_add_text(buf, "; _markerbed_record \"$one\"");
    mb_buf_add_text(buf, " ;;\n");
}

/* What may stand behind an option that takes a value. */
static void put_value_case(struct mb_buf *buf, const struct option *option)
{
    if (option->value == NULL)
        return;
    mb_buf_add_text(buf, "        ");
    if (option->letter != 0)
        mb_buf_printf(buf, "-%c|", option->letter);
    mb_buf_printf(buf, "--%s) ", option->name);
    if (option->choices != NULL) {
        mb_buf_add_text(buf, "_markerbed_offer \"");
        for (size_t i = 0; option->choices[i] != NULL; i++)
            mb_buf_printf(buf, " %s", option->choices[i]);
        mb_buf_add_text(buf, "\"; ");
    } else if (option->offer == OFFER_FILES || option->offer == OFFER_FOLDERS) {
        mb_buf_printf(buf, "_markerbed_files %s; ", option->offer == OFFER_FILES ? "-f" : "-d");
    }
    mb_buf_add_text(buf, "return ;;\n");
}

static bool valued_before(size_t command, const char *name)
{
    for (size_t i = 0; i < command; i++)
        for (const struct option *o = commands[i]->options; o != NULL && o->name != NULL; o++)
            if (o->value != NULL && strcmp(o->name, name) == 0)
                return true;
    return false;
}

static void put_values(struct mb_buf *buf)
{
    for (const struct option *o = common_options; o->name != NULL; o++)
        put_value_case(buf, o);
    for (size_t i = 0; commands[i] != NULL; i++)
        for (const struct option *o = commands[i]->options; o != NULL && o->name != NULL; o++)
            if (!valued_before(i, o->name))
                put_value_case(buf, o);
}

/* The options whose next word is theirs, for finding the command among the words. */
static void put_valued(struct mb_buf *buf)
{
    const char *mark = "";

    for (const struct option *o = common_options; o->name != NULL; o++) {
        if (o->value == NULL)
            continue;
        mb_buf_printf(buf, "%s--%s", mark, o->name);
        mark = "|";
        if (o->letter != 0)
            mb_buf_printf(buf, "|-%c", o->letter);
    }
    for (size_t i = 0; commands[i] != NULL; i++)
        for (const struct option *o = commands[i]->options; o != NULL && o->name != NULL; o++)
            if (o->value != NULL && !valued_before(i, o->name))
                mb_buf_printf(buf, "|--%s", o->name);
}

static enum mb_rc put_kinds(struct mb_buf *buf, mb_arena *arena, struct mb_error *err)
{
    const mb_json *kinds, *common = NULL;
    enum mb_rc rc = mb_kinds(arena, &kinds, err);

    if (rc != MB_OK)
        return rc;
    MB_JSON_EACH(kind, kinds)
        if (mb_json_text_is(mb_json_get(kind, "kind"), "common"))
            common = kind;
    mb_buf_add_text(buf, "_markerbed_record() {\n    case $1 in\n        \"\") words=\"");
    MB_JSON_EACH(kind, kinds)
        if (kind != common && mb_json_get(kind, "writer") == NULL)
            mb_buf_printf(buf, " %s", wording_of(arena, kind, "kind"));
    mb_buf_add_text(buf, "\" ;;\n");
    MB_JSON_EACH(kind, kinds) {
        if (kind == common || mb_json_get(kind, "writer") != NULL)
            continue;
        mb_buf_printf(buf, "        %s) fields=\"", wording_of(arena, kind, "kind"));
        MB_JSON_EACH(field, mb_json_get(kind, "fields"))
            mb_buf_printf(buf, " %s=", wording_of(arena, field, "name"));
        mb_buf_add_text(buf, "\"\n            subjects=\"");
        MB_JSON_EACH(subject, mb_json_get(kind, "subject"))
            mb_buf_printf(buf, " %s/", wording(arena, subject));
        mb_buf_add_text(buf, "\" ;;\n");
    }
    mb_buf_add_text(buf, "    esac\n}\n\n");
    return MB_OK;
}

static const char head[] =
    "# Completion of markerbed for bash; made by \"markerbed docs\".\n"
    "# shellcheck shell=bash\n\n"
    "_markerbed_offer() {\n"
    "    local word\n"
    "    while read -r word; do COMPREPLY+=(\"$word\"); done < <(compgen -W \"$1\" -- \"$cur\")\n"
    "}\n\n"
    "_markerbed_files() {\n"
    "    local word\n"
    "    compopt -o filenames 2> /dev/null\n"
    "    while read -r word; do COMPREPLY+=(\"$word\"); done < <(compgen \"$1\" -- \"$cur\")\n"
    "}\n\n";

static const char middle[] =
    ") i=$((i + 1)) ;;\n"
    "            -*) ;;\n"
    "            *)\n"
    "                if [ -z \"$command\" ]; then command=${COMP_WORDS[i]}\n"
    "                elif [ \"$command\" = key ]; then command=\"key ${COMP_WORDS[i]}\"\n"
    "                elif [ -z \"$one\" ]; then one=${COMP_WORDS[i]}\n"
    "                elif [ -z \"$two\" ]; then two=${COMP_WORDS[i]}\n"
    "                fi ;;\n"
    "        esac\n"
    "    done\n";

static const char tail[] =
    "    esac\n"
    "    if [[ $cur == -* ]]; then _markerbed_offer \"$options\"; return; fi\n"
    "    if [ -n \"$subjects\" ] && [ -z \"$two\" ]; then words=$subjects\n"
    "    elif [ -n \"$fields\" ]; then words=$fields\n"
    "    fi\n"
    "    if [[ -n $subjects ]]; then compopt -o nospace 2> /dev/null; fi\n"
    "    if [ -n \"$words\" ]; then _markerbed_offer \"$words\"; fi\n"
    "    if [ -n \"$files\" ]; then _markerbed_files -f; fi\n"
    "    if [ -n \"$folders\" ]; then _markerbed_files -d; fi\n"
    "}\n\n"
    "complete -F _markerbed markerbed\n";

enum mb_rc docs_completion(struct mb_buf *buf, mb_arena *arena, struct mb_error *err)
{
    enum mb_rc rc;

    mb_buf_add_text(buf, head);
    rc = put_kinds(buf, arena, err);
    if (rc != MB_OK)
        return rc;
    mb_buf_add_text(
        buf, "_markerbed() {\n"
             "    local cur=${COMP_WORDS[COMP_CWORD]} command='' one='' two='' i\n"
             "    local prev=${COMP_WORDS[COMP_CWORD - 1]}\n"
             "    local options='' words='' files='' folders='' fields='' subjects='' commands=\"");
    put_command_words(buf, NULL);
    mb_buf_add_text(buf, "\"\n    COMPREPLY=()\n    case $prev in\n");
    put_values(buf);
    mb_buf_add_text(buf, "    esac\n    for ((i = 1; i < COMP_CWORD; i++)); do\n"
                         "        case ${COMP_WORDS[i]} in\n            ");
    put_valued(buf);
    mb_buf_add_text(buf, middle);
    mb_buf_add_text(buf, "    case $command in\n        \"\") words=$commands; options=\"");
    for (const struct option *o = common_options; o->name != NULL; o++)
        mb_buf_printf(buf, " --%s", o->name);
    mb_buf_add_text(buf, "\" ;;\n        key) words=\"");
    put_command_words(buf, "key");
    mb_buf_add_text(buf, "\" ;;\n");
    for (size_t i = 0; commands[i] != NULL; i++)
        if (!(commands[i]->flags & HIDDEN))
            put_words_case(buf, commands[i]);
    mb_buf_add_text(buf, tail);
    return mb_buf_ok(buf) ? MB_OK : mb_fail(err, MB_UNABLE, "the completion grew too long");
}
