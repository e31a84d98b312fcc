#include "finding.h"

#include "text.h"

const struct mb_finding_kind mb_finding_kinds[MB_FINDING_COUNT] = {
#define MB_FINDING(id, name, severity, means, mend) [MB_F_##id] = { name, severity, means, mend },
#include "findings.def"
#undef MB_FINDING
};

const char *const mb_severity_name[3] = { "fault", "unsure", "remark" };

struct mb_findings {
    mb_arena *arena;
    size_t max_each;
    struct mb_str file;
    size_t count[MB_FINDING_COUNT];
    struct mb_finding *first, *last;
};

mb_findings *mb_findings_new(mb_arena *arena, size_t max_each)
{
    mb_findings *findings = MB_NEW(arena, mb_findings);

    findings->arena = arena;
    findings->max_each = max_each;
    return findings;
}

void mb_findings_in_file(mb_findings *findings, const char *file)
{
    findings->file = mb_str_of(file ? mb_arena_text(findings->arena, file) : NULL);
}

void mb_find(mb_findings *findings, enum mb_finding_id id, struct mb_str subject, int64_t seq,
             const char *format, ...)
{
    struct mb_error clean = { 0 };
    struct mb_finding *finding;
    va_list args;

    if (findings->max_each && findings->count[id] >= findings->max_each) {
        findings->count[id]++;
        return;
    }
    findings->count[id]++;
    finding = MB_NEW(findings->arena, struct mb_finding);
    finding->id = id;
    finding->file = findings->file;
    finding->subject = subject.at ? mb_arena_str(findings->arena, subject) : subject;
    finding->seq = seq;
    va_start(args, format);
    /* what strangers wrote is quoted: as in errors, one clean line of bounded length */
    mb_fail(&clean, MB_NO, "%s", mb_arena_vprintf(findings->arena, format, args));
    va_end(args);
    finding->text = mb_arena_text(findings->arena, clean.text);
    if (findings->last)
        findings->last->next = finding;
    else
        findings->first = finding;
    findings->last = finding;
}

const struct mb_finding *mb_findings_first(const mb_findings *findings)
{
    return findings->first;
}

size_t mb_findings_count(const mb_findings *findings, enum mb_severity severity)
{
    size_t count = 0;

    for (int id = 0; id < MB_FINDING_COUNT; id++)
        if (mb_finding_kinds[id].severity == severity)
            count += findings->count[id];
    return count;
}

size_t mb_findings_of(const mb_findings *findings, enum mb_finding_id id)
{
    return findings->count[id];
}

enum mb_rc mb_findings_rc(const mb_findings *findings)
{
    if (mb_findings_count(findings, MB_FAULT))
        return MB_NO;
    return mb_findings_count(findings, MB_UNSURE) ? MB_UNABLE : MB_OK;
}

mb_json *mb_findings_json(mb_arena *arena, const mb_findings *findings)
{
    mb_json *list = mb_json_array(arena);

    for (const struct mb_finding *f = findings->first; f; f = f->next) {
        mb_json *row = mb_json_add(list, mb_json_object(arena));

        mb_json_put_text(arena, row, "name", mb_finding_kinds[f->id].name);
        mb_json_put_text(arena, row, "severity",
                         mb_severity_name[mb_finding_kinds[f->id].severity]);
        if (f->file.at)
            mb_json_put(arena, row, "file", mb_json_string_str(arena, f->file));
        if (f->subject.at)
            mb_json_put(arena, row, "subject", mb_json_string_str(arena, f->subject));
        if (f->seq >= 0)
            mb_json_put_int(arena, row, "seq", f->seq);
        mb_json_put_text(arena, row, "text", f->text);
        mb_json_put_text(arena, row, "mend", mb_finding_kinds[f->id].mend);
    }
    return list;
}
