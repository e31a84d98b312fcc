#include "dwca.h"

#include <stdlib.h>
#include <string.h>

#include "asset.h"
#include "buf.h"
#include "dwca_rows.h"
#include "text.h"

enum { TABLE_MAX = 512 << 20, META_MAX = 1 << 20, FILES_MAX = MB_DWCA_TABLES + 2 };

static const struct {
    const char *file, *row_type;
} tables[MB_DWCA_TABLES] = {
    [MB_DWCA_CORE] = { "occurrence.txt", "http://rs.tdwg.org/dwc/terms/Occurrence" },
    [MB_DWCA_IDENTIFICATION] = { "identification.txt",
                                 "http://rs.tdwg.org/dwc/terms/Identification" },
    [MB_DWCA_FACT] = { "measurementorfact.txt",
                       "http://rs.tdwg.org/dwc/terms/MeasurementOrFact" },
    [MB_DWCA_MEDIA] = { "multimedia.txt", "http://rs.tdwg.org/ac/terms/Multimedia" },
    [MB_DWCA_RELATION] = { "resourcerelationship.txt",
                           "http://rs.tdwg.org/dwc/terms/ResourceRelationship" },
    [MB_DWCA_PREPARATION] = { "preparation.txt",
                              "http://data.ggbn.org/schemas/ggbn/terms/Preparation" },
    [MB_DWCA_PERMIT] = { "permit.txt", "http://data.ggbn.org/schemas/ggbn/terms/Permit" },
    [MB_DWCA_PRESERVATION] = { "preservation.txt",
                               "http://data.ggbn.org/schemas/ggbn/terms/Preservation" },
    [MB_DWCA_LOAN] = { "loan.txt", "http://data.ggbn.org/schemas/ggbn/terms/Loan" },
};

/* ---- the list of terms ---- */

static enum mb_rc read_terms(struct mb_dwca *d, struct mb_error *err)
{
    const struct mb_asset *asset = mb_asset_find("vocab/dwc-terms.tsv");
    struct mb_str rest, line, name, iri, class_name;

    if (!asset)
        return mb_fail(err, MB_UNABLE, "schema/vocab/dwc-terms.tsv is not built in");
    rest = (struct mb_str){ asset->data, asset->size };
    d->terms = MB_ARRAY(d->arena, asset->size / 16 + 1, struct mb_dwca_term);
    while (mb_str_cut(rest, '\n', &line, &rest) || line.len > 0) {
        if (line.len == 0 || line.at[0] == '#' || !mb_str_cut(line, '\t', &name, &line)
            || !mb_str_cut(line, '\t', &iri, &line))
            continue;
        mb_str_cut(line, '\t', &class_name, &line);
        d->terms[d->term_count++] = (struct mb_dwca_term){
            mb_arena_copy(d->arena, name.at, name.len), mb_arena_copy(d->arena, iri.at, iri.len),
            mb_arena_copy(d->arena, class_name.at, class_name.len)
        };
    }
    return MB_OK;
}

/* ---- one table ---- */

struct columns {
    const char **at; /* names of terms, sorted; of the core occurrenceID first */
    size_t count;
};

static int by_name(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

static void add_column(struct columns *columns, const struct mb_dwca *d, struct mb_str name)
{
    for (size_t i = 0; i < columns->count; i++)
        if (mb_str_is(name, columns->at[i]))
            return;
    columns->at[columns->count++] = mb_arena_copy(d->arena, name.at, name.len);
}

static struct columns columns_of(const struct mb_dwca *d, enum mb_dwca_table table)
{
    struct columns columns = { MB_ARRAY(d->arena, d->term_count + 1, const char *), 0 };

    MB_JSON_EACH(row, d->rows[table])
        MB_JSON_EACH(cell, row)
            if (!mb_str_is(cell->name, "id")
                && mb_dwca_term(d, mb_arena_copy(d->arena, cell->name.at, cell->name.len)))
                add_column(&columns, d, cell->name);
    if (columns.count > 0)
        qsort(columns.at, columns.count, sizeof *columns.at, by_name);
    return columns;
}

static struct mb_str write_table(const struct mb_dwca *d, enum mb_dwca_table table,
                                 const struct columns *columns)
{
    MB_BUF_AUTO struct mb_buf buf = { 0 };

    mb_buf_init(&buf, TABLE_MAX);
    mb_buf_add_text(&buf, "id");
    for (size_t i = 0; i < columns->count; i++)
        mb_buf_printf(&buf, "\t%s", strchr(columns->at[i], ':') + 1);
    mb_buf_add_char(&buf, '\n');
    MB_JSON_EACH(row, d->rows[table])
    {
        mb_buf_add_str(&buf, mb_json_str(mb_json_get(row, "id")));
        for (size_t i = 0; i < columns->count; i++) {
            mb_buf_add_char(&buf, '\t');
            mb_buf_add_str(&buf, mb_json_str(mb_json_get(row, columns->at[i])));
        }
        mb_buf_add_char(&buf, '\n');
    }
    return mb_arena_str(d->arena, mb_buf_str(&buf));
}

/* ---- meta.xml ---- */

static void describe(const struct mb_dwca *d, enum mb_dwca_table table,
                     const struct columns *columns, struct mb_buf *meta)
{
    const char *element = table == MB_DWCA_CORE ? "core" : "extension";

    mb_buf_printf(meta,
                  "  <%s encoding=\"UTF-8\" fieldsTerminatedBy=\"\\t\" linesTerminatedBy=\"\\n\""
                  " fieldsEnclosedBy=\"\" ignoreHeaderLines=\"1\" rowType=\"%s\">\n"
                  "    <files><location>%s</location></files>\n"
                  "    <%s index=\"0\"/>\n",
                  element, tables[table].row_type, tables[table].file,
                  table == MB_DWCA_CORE ? "id" : "coreid");
    for (size_t i = 0; i < columns->count; i++)
        mb_buf_printf(meta, "    <field index=\"%zu\" term=\"%s\"/>\n", i + 1,
                      mb_dwca_term(d, columns->at[i])->iri);
    mb_buf_printf(meta, "  </%s>\n", element);
}

/* ---- eml.xml ---- */

static void element(struct mb_buf *buf, const char *open, const char *text, const char *close)
{
    mb_buf_add_text(buf, open);
    mb_buf_add_escaped(buf, mb_str_of(text));
    mb_buf_printf(buf, "%s\n", close);
}

/* The profile of GBIF 1.3 needs title, creator, pubDate, abstract and contact, in this order. */
static struct mb_str write_eml(const struct mb_dwca *d)
{
    MB_BUF_AUTO struct mb_buf buf = { 0 };
    const struct mb_handing *h = d->h;
    const char *id = mb_arena_printf(d->arena, "%s/%s", h->origin, h->pages[0]->id);
    const char *title = mb_arena_printf(d->arena, "%zu fossil %s from the ledger %s, %s", h->count,
                                        h->count == 1 ? "specimen" : "specimens", h->origin,
                                        h->day);
    const char *abstract = mb_arena_printf(
        d->arena, "What the ledger of %s records of %zu %s, handed over with %s: place, layer, age,"
                  " finders, preparation, condition, measurements, pictures and relations.",
        h->issuer, h->count, h->count == 1 ? "specimen" : "specimens",
        h->count == 1 ? "it" : "them");

    mb_buf_init(&buf, META_MAX);
    mb_buf_add_text(&buf, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n"
                          "<eml:eml xmlns:eml=\"https://eml.ecoinformatics.org/eml-2.2.0\"");
    element(&buf, " packageId=\"", id, "\" system=\"markerbed\" scope=\"system\" xml:lang=\"en\">");
    mb_buf_add_text(&buf, "  <dataset>\n");
    element(&buf, "    <alternateIdentifier>", id, "</alternateIdentifier>");
    element(&buf, "    <title xml:lang=\"en\">", title, "</title>");
    element(&buf, "    <creator><organizationName>", h->issuer, "</organizationName></creator>");
    element(&buf, "    <metadataProvider><organizationName>", h->issuer,
            "</organizationName></metadataProvider>");
    element(&buf, "    <pubDate>", h->day, "</pubDate>");
    mb_buf_add_text(&buf, "    <language>en</language>\n");
    element(&buf, "    <abstract><para>", abstract, "</para></abstract>");
    element(&buf, "    <contact><organizationName>", h->issuer, "</organizationName></contact>");
    mb_buf_add_text(&buf, "  </dataset>\n</eml:eml>\n");
    return mb_arena_str(d->arena, mb_buf_str(&buf));
}

/* ---- the whole ---- */

enum mb_rc mb_dwca_make(const struct mb_handing *h, struct mb_dwca_file **files, size_t *count,
                        struct mb_error *err)
{
    struct mb_dwca d = { .arena = h->arena, .h = h };
    struct mb_dwca_file *out = MB_ARRAY(h->arena, FILES_MAX, struct mb_dwca_file);
    MB_BUF_AUTO struct mb_buf meta = { 0 };
    enum mb_rc rc = read_terms(&d, err);

    if (rc)
        return rc;
    for (int table = 0; table < MB_DWCA_TABLES; table++)
        d.rows[table] = mb_json_array(h->arena);
    for (size_t i = 0; i < h->count; i++)
        mb_dwca_specimen(&d, i);
    mb_buf_init(&meta, META_MAX);
    mb_buf_add_text(&meta, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<archive"
                           " xmlns=\"http://rs.tdwg.org/dwc/text/\" metadata=\"eml.xml\">\n");
    *count = 2;
    for (int table = 0; table < MB_DWCA_TABLES; table++) {
        struct columns columns = columns_of(&d, (enum mb_dwca_table)table);

        if (table != MB_DWCA_CORE && columns.count == 0)
            continue;
        describe(&d, (enum mb_dwca_table)table, &columns, &meta);
        out[(*count)++] = (struct mb_dwca_file){
            tables[table].file, write_table(&d, (enum mb_dwca_table)table, &columns)
        };
    }
    mb_buf_add_text(&meta, "</archive>\n");
    out[0] = (struct mb_dwca_file){ "meta.xml", mb_arena_str(h->arena, mb_buf_str(&meta)) };
    out[1] = (struct mb_dwca_file){ "eml.xml", write_eml(&d) };
    *files = out;
    return MB_OK;
}
