/* The door: what is refused, in which words, and that nothing is changed by it; what passes. */
#include <criterion/criterion.h>
#include <stdio.h>
#include <string.h>

#include "text.h"
#include "workbench.h"

static struct workbench b;

static void set_up(void)
{
    workbench_house(&b);
}

static void tear_down(void)
{
    workbench_done(&b);
}

TestSuite(door, .init = set_up, .fini = tear_down);

enum { FIELDS = 12 };

struct refusal {
    const char *kind, *subject;
    const char *fields[FIELDS];
    const char *sentence;
};

/* What makes a find whole; a row's own fields go over these. */
static const char *const find_fields[] = {
    "fieldDay=D001",        "recordNumber=T-1",          "verbatimIdentification=fish",
    "objectForm=slab",      "objectQuantity=1",          "quantityHow=counted",
    "materialClass=vertebrate", "horizon=H-A",           "inPlace=in place",
};

static size_t name_len(const char *field)
{
    return (size_t)(strchr(field, '=') - field);
}

static struct mb_recording recording_of(const struct refusal *row)
{
    size_t most = FIELDS + sizeof find_fields / sizeof *find_fields;
    struct mb_typed *typed = MB_ARRAY(b.arena, most, struct mb_typed);
    const char *all[FIELDS + sizeof find_fields / sizeof *find_fields];
    bool find = strcmp(row->kind, "collecting") == 0;
    size_t count = 0, n = 0;

    while (count < FIELDS && row->fields[count]) {
        all[count] = row->fields[count];
        count++;
    }
    for (size_t i = 0; find && i < sizeof find_fields / sizeof *find_fields; i++) {
        bool given = false;

        for (size_t j = 0; j < count; j++)
            given |= name_len(all[j]) == name_len(find_fields[i])
                     && strncmp(all[j], find_fields[i], name_len(all[j])) == 0;
        if (!given)
            all[count++] = find_fields[i];
    }
    for (; n < count; n++)
        typed[n] = (struct mb_typed){ .name = mb_arena_copy(b.arena, all[n], name_len(all[n])),
                                      .value = all[n] + name_len(all[n]) + 1 };
    return (struct mb_recording){ .kind = row->kind, .subject = row->subject, .typed = typed,
                                  .count = count };
}

static const struct refusal refusals[] = {
    { "colecting", "26-0001", { NULL },
      "there is no kind 'colecting'; did you mean collecting?" },
    { "founding", "ledger", { NULL },
      "a founding is made by `markerbed found` alone" },
    { "certificate", "26-0001", { NULL },
      "a certificate is made by `markerbed sheet` alone" },
    { "key-enrolment", "key/abc", { NULL },
      "a key-enrolment is made by `markerbed key add` alone" },
    { "collecting", "site/S001", { NULL },
      "collecting is recorded on specimen, not on 'site/S001'" },
    { "collecting", "26 0001", { NULL },
      "'26 0001' is no ID: 1-64 letters, digits, '.', '_' and '-', beginning with a letter or "
      "digit" },
    { "collecting", "", { NULL },
      "say what it is about, like specimen/ID" },
    { "note", "26-0001",
      { "text=x" },
      "'26-0001' does not say what it is; write one of: party, site, horizon, permission, "
      "field-day, dealing, place, specimen, as party/ID" },
    { "preparation", "26-0001",
      { "lostInWork=none" },
      "unknown specimen/26-0001 (did you mean 26-0100?); if it is new, record collecting or "
      "arrival first" },
    { "land-status", "site/S01",
      { "landCategory=private" },
      "unknown site/S01 (did you mean S001?); if it is new, record site first" },
    { "collecting", "26-0001",
      { "eventDat=2026-05-02" },
      "collecting has no field 'eventDat'; did you mean eventDate?" },
    { "collecting", "26-0001",
      { "colour=blue" },
      "collecting has no field 'colour'; it has: fieldDay, eventDate, verbatimEventDate, site, "
      "horizon, inPlace, recordedBy, foundBy, finderGaveUpClaim, permission, purpose, tools and "
      "39 more; see `markerbed record collecting --help`" },
    { "collecting", "26-0001",
      { "eventDate=2026-13-02" },
      "field eventDate: '2026-13-02' is no date; write 2026-05-02, 2026-05 or 2026" },
    { "collecting", "26-0001",
      { "eventDate=2026-06-03" },
      "field eventDate: '2026-06-03' is in the future; today is 2026-06-01" },
    { "collecting", "26-0001",
      { "eventDate=2027" },
      "field eventDate: '2027' is in the future; today is 2026-06-01" },
    { "collecting", "26-0001",
      { "eventDate=2026-05-04/2026-05-02" },
      "field eventDate: '2026-05-04/2026-05-02' is no date; write the first day, then the last: "
      "2026-05-02/2026-05-04" },
    { "collecting", "26-0001",
      { "eventDate=5/20/2026" },
      "field eventDate: '5/20/2026' is no date; write the year, the month and the day, like"
      " 2026-05-02" },
    { "collecting", "26-0001",
      { "eventDate=20.5.2026" },
      "field eventDate: '20.5.2026' is no date; write the year, the month and the day, like"
      " 2026-05-02" },
    { "collecting", "26-0001",
      { "eventDate=2026/05/20" },
      "field eventDate: '2026/05/20' is no date; write the year, the month and the day, like"
      " 2026-05-02" },
    { "collecting", "26-0001",
      { "eventDate=46162" },
      "field eventDate: '46162' is no date; it looks like the number that a spreadsheet has for a"
      " day; have the column shown as 2026-05-02" },
    { "collecting", "26-0001",
      { "site=S002" },
      "field site: unknown site/S002 (did you mean S001?); if it is new, record site first" },
    { "collecting", "26-0001",
      { "site=permission/L001" },
      "field site: 'permission/L001' is no site; write site/ID" },
    { "collecting", "26-0001",
      { "site=not known" },
      "field site: 'not known' is no answer to this; write site/ID, and record the site first,"
      " however little is known of it" },
    { "collecting", "26-0001",
      { "site=S 1" },
      "field site: 'S 1' is no ID: 1-64 letters, digits, '.', '_' and '-', beginning with a "
      "letter or digit" },
    { "collecting", "26-0001",
      { "recordedBy=P003 | P0O1" },
      "field recordedBy: unknown party/P0O1 (did you mean P001?); if it is new, record party "
      "first" },
    { "collecting", "26-0001",
      { "recordedBy=P003 | " },
      "field recordedBy: a part of the list is empty; write a | b" },
    { "collecting", "26-0001",
      { "objectForm=slabb" },
      "field objectForm: 'slabb' is none of its values (did you mean 'slab'?); allowed: single, "
      "slab, part, counterpart, lot, jacket, block, bulk sample" },
    { "collecting", "26-0001",
      { "inPlace=float" },
      "field inPlace: 'float' is none of its values (did you mean 'float below its bed'?); "
      "allowed: in place, float below its bed, talus or dump, spoil, screened, not known" },
    { "collecting", "26-0001",
      { "inPlace=upside down" },
      "field inPlace: 'upside down' is none of its values; allowed: in place, float below its "
      "bed, talus or dump, spoil, screened, not known" },
    { "collecting", "26-0001",
      { "objectQuantity=-3" },
      "field objectQuantity: '-3' is below 0, the least it can be" },
    { "collecting", "26-0001",
      { "objectQuantity=three" },
      "field objectQuantity: 'three' is no count; write a whole number, like 240" },
    { "collecting", "26-0001",
      { "objectQuantity=1,512" },
      "field objectQuantity: '1,512' is no count; write it without commas, like 1512" },
    { "collecting", "26-0001",
      { "objectQuantity=1.5" },
      "field objectQuantity: '1.5' is no count; write a whole number, like 240" },
    { "collecting", "26-0001",
      { "mass=12.5", "massHow=weighed", "massWithMatrix=no" },
      "field mass: '12.5' has no unit; write it behind the number: kg, g, lb" },
    { "collecting", "26-0001",
      { "mass=12.5 stone", "massHow=weighed", "massWithMatrix=no" },
      "field mass: 'stone' is no unit of this; allowed: kg, g, lb" },
    { "collecting", "26-0001",
      { "mass=12,5 kg", "massHow=weighed", "massWithMatrix=no" },
      "field mass: '12,5 kg' is no number; write it with a point, like 12.5" },
    { "collecting", "26-0001",
      { "mass=-1 kg", "massHow=weighed", "massWithMatrix=no" },
      "field mass: '-1' is below 0, the least it can be" },
    { "collecting", "26-0001",
      { "mass=1 kg" },
      "still missing: massHow, massWithMatrix (or 'not known'); see `markerbed record collecting "
      "--help`" },
    { "collecting", "26-0001",
      { "decimalLatitude=91", "decimalLongitude=0" },
      "field decimalLatitude: '91' is above 90, the most it can be" },
    { "collecting", "26-0001",
      { "decimalLatitude=38.9 m" },
      "field decimalLatitude: 'm' is no unit of this; allowed: degree" },
    { "collecting", "26-0001",
      { "decimalLatitude=38.9" },
      "still missing: decimalLongitude, geodeticDatum, coordinateUncertaintyInMeters (or 'not "
      "known'); see `markerbed record collecting --help`" },
    { "collecting", "26-0001",
      { "objectQuantity=1", "objectQuantity=2" },
      "field objectQuantity: it is given twice" },
    { "collecting", "26-0001",
      { "fieldTreatment=acrylic copolymer resin" },
      "field fieldTreatment: row 1: 'acrylic copolymer resin' names no column; write "
      "column:value; column:value with: material, strength, where" },
    { "collecting", "26-0001",
      { "fieldTreatment=materail:plaster" },
      "field fieldTreatment: row 1: there is no column 'materail' (did you mean material?); "
      "there are: material, strength, where" },
    { "collecting", "26-0001",
      { "fieldTreatment=strength:5 %" },
      "field fieldTreatment: row 1: the column material is missing" },
    { "collecting", "26-0001",
      { "fieldTreatment=[1]" },
      "field fieldTreatment: row 1: it is no row; write {\"column\":\"value\"}" },
    { "collecting", "26-0001",
      { "fieldTreatment=[{\"material\":\"x\"" },
      "field fieldTreatment: line 1, column 17: the text ends here, but a comma or } should "
      "follow" },
    { "collecting", "26-0001",
      { "verbatimIdentification=fish\a" },
      "field verbatimIdentification: it holds bytes that are no UTF-8, or characters that cannot "
      "be seen; type it again" },
    { "collecting", "26-0001",
      { "notebookPage=nowhere.jpg" },
      "field notebookPage: cannot open nowhere.jpg: No such file or directory" },
    { "collecting", "26-0001",
      { "madeFrom=memory" },
      "still missing: source (or 'not known'); see `markerbed record collecting --help`" },
    { "collecting", "26-0001",
      { "madeFrom=memory", "source=#9999" },
      "field source: there is no entry #9999; the last is #9" },
    { "collecting", "26-0001",
      { "horizon=", "inPlace=", "objectForm=(remove)" },
      "still missing: objectForm; see `markerbed record collecting --help`" },
    { "site", "S002",
      { "siteName=Bracken", "countryCode=Kansas" },
      "field countryCode: 'Kansas' is none of its values; allowed: AD, AE, AF, AG, AI, AL, AM, "
      "AO, AQ, AR, AS, AT and 238 more; see `markerbed record site --help`" },
    { "site", "S002",
      { "siteName=Bracken", "countryCode=US", "stateProvince=Kansas", "county=Gove",
        "decimalLatitude=38.9", "decimalLongitude=not known" },
      "still missing: geodeticDatum, coordinateSource (or 'not known'); see `markerbed record "
      "site --help`" },
    { "site", "S002",
      { "siteName=Bracken", "countryCode=US", "stateProvince=Kansas", "county=Gove",
        "decimalLatitude=not known", "decimalLongitude=not known",
        "boundary={\"type\":\"Polygon\",\"coordinates\":[[[0,0],[1,0],[1,1]]]}" },
      "field boundary: a ring has at least four positions, the last as the first" },
    { "site", "S002",
      { "siteName=Bracken",
        "boundary={\"type\":\"Polygon\",\"coordinates\":[[[38,-100],[38,-101],[39,-101],"
        "[38,-100]]]}" },
      "field boundary: corner 1: latitude -100 cannot be; the order is longitude, latitude" },
    { "site", "S002",
      { "siteName=Bracken",
        "boundary={\"type\":\"Polygon\",\"coordinates\":[[[0,0],[1,0],[1,1],[0,2]]]}" },
      "field boundary: a ring does not end where it began; repeat its first corner" },
    { "site", "S002",
      { "siteName=Bracken", "boundary={\"type\":\"Polygone\"}" },
      "field boundary: it is no GeoJSON geometry; bring a Polygon or another of RFC 7946" },
    { "permission", "L002",
      { "permissionType=lease", "grantor=P002", "holder=P001", "validFrom=2025-01-01",
        "validUntil=2024-12-31", "document=none" },
      "field validUntil: '2024-12-31' lies before validFrom '2025-01-01'" },
    { "permission", "L002",
      { "permissionType=agency permit", "grantor=P002", "holder=P001", "validFrom=2025-01-01",
        "validUntil=2027-12-31", "document=none" },
      "still missing: permitNumber, repository (or 'not known'), repositoryAcceptance (or "
      "'none'); see `markerbed record permission --help`" },
    { "permission", "L002",
      { "permissionType=lease", "grantor=Delphine" },
      "field grantor: unknown party/Delphine: record party first" },
    { "party", "P004",
      { "partyType=person", "name=x", "namedTo=anyone", "role=collecter" },
      "field role: 'collecter' is none of its values (did you mean 'collector'?); allowed: "
      "collector, preparator, client, landowner, land manager, lessee, agent, dealer, carrier, "
      "buyer, museum staff, specialist and 1 more; see `markerbed record party --help`" },
    { "field-day", "F002",
      { "site=S001", "present=party:P003" },
      "field present: row 1: the column role is missing" },
    { "horizon", "H-B",
      { "layerName=B", "earliestStage=Santonien" },
      "field earliestStage: 'Santonien' is none of its values (did you mean 'Santonian'?); "
      "allowed: Phanerozoic, Cenozoic, Quaternary, Holocene, Meghalayan, Northgrippian, "
      "Greenlandian, Pleistocene, Upper Pleistocene, Chibanian, Calabrian, Gelasian and 167 "
      "more; see `markerbed record horizon --help`" },
    { "correction", "site/S001",
      { "action=change fields", "why=typing" },
      "field target: say which entry is put right, like #123" },
    { "correction", "site/S001",
      { "target=#5", "why=typing" },
      "field action: say what to do: change fields, or void (wrong specimen), (double) or (did "
      "not happen)" },
    { "correction", "site/S001",
      { "target=#5", "action=change fields", "why=typing" },
      "no field is changed; give it as field=value, with the value it should have" },
    { "correction", "site/S001",
      { "target=#2", "action=change fields", "why=typing", "name=x" },
      "field target: that entry is of another record; a correction stands on the same one as "
      "what it puts right, not on site/S001" },
    { "correction", "site/S001",
      { "target=#5", "action=change fields", "why=typing", "sitename=x" },
      "site has no field 'sitename'; did you mean siteName?" },
    { "correction", "site/S001",
      { "target=#5", "action=change fields", "why=typing", "county=(remove)" },
      "field county: a site cannot be without; give what it should be" },
    { "correction", "site/S001",
      { "target=#5", "action=change fields", "why=typing", "municipality=(remove)" },
      "field municipality: entry #5 has none to remove" },
    { "correction", "site/S001",
      { "target=#5", "action=void (did not happen)", "why=typing", "county=Logan" },
      "field county: a voided entry says nothing, so there is nothing to change" },
    { "correction", "site/S001",
      { "target=#5", "action=void (wrong specimen)", "why=wrong piece" },
      "still missing: movedTo (or 'not known'); see `markerbed record correction --help`" },
    { "correction", "site/S001",
      { "target=5", "action=change fields", "why=typing" },
      "field target: '5' is no entry; write its number, like #123" },
    { "claim", "site/S001",
      { "nature=ownership", "status=settled", "date=2026-05-01", "by=not known",
        "byLabel=neighbour", "hold=none" },
      "field byLabel: 'neighbour' is none of its values; allowed: us, client, collector, "
      "preparator, dealer, auction house, museum, estate, landowner, agency, private person, "
      "another ledger and 1 more; see `markerbed record claim --help`" },
    { "collecting", "26-0001",
      { "foundWith=26-0999" },
      "field foundWith: unknown specimen/26-0999 (did you mean 26-0100?); if it is new, record "
      "collecting or arrival first" },
    { "permission", "permission/L001/x", { NULL },
      "'L001/x' is no ID: 1-64 letters, digits, '.', '_' and '-', beginning with a letter or "
      "digit" },
    { "measurement", "26-0001",
      { "what=length" },
      "unknown specimen/26-0001 (did you mean 26-0100?); if it is new, record collecting or "
      "arrival first" },
    { "identification", "26-0100",
      { "whatItIs=natural fossil", "scientificName=Uintacrinus socialis Grinnell, 1876" },
      "field scientificName: 'Uintacrinus socialis Grinnell, 1876' is no scientific name; write "
      "it without author and year, like Uintacrinus socialis" },
    { "identification", "26-0100",
      { "whatItIs=natural fossil", "vernacularName=crinnoid" },
      "field vernacularName: 'crinnoid' is none of its values (did you mean 'crinoid'?); "
      "allowed: fish, fish tooth, large fish, shark tooth, shark, ray or skate, coelacanth or "
      "lungfish, amphibian, turtle, lizard or snake, mosasaur, plesiosaur and 59 more; see "
      "`markerbed record identification --help`" },
    { "title", "26-0100",
      { "price=2800" },
      "field price: '2800' has no unit; write it behind the number: AED, AFN, ALL, AMD, ANG, "
      "AOA, ARS, AUD, AWG, AZN, BAM, BBD and 141 more" },
    { "title", "26-0100",
      { "part=3/2" },
      "field part: '3/2' is no part of a whole; write it like 1/2" },
    { "measurement", "26-0100",
      { "what=length", "value=42 cm", "unit=cm", "how=caliper" },
      "field value: '42 cm': write the number here and its unit under unit" },
    { "document", "26-0100",
      { "docType=publication", "doi=11.5/x" },
      "field doi: '11.5/x' is no DOI; write it like 10.1000/182" },
    { "correction", "26-0100",
      { "target=#9", "action=change fields", "why=typing", "objectQuantity=two" },
      "field objectQuantity: 'two' is no count; write a whole number, like 240" },
    { "correction", "26-0100",
      { "target=#9", "action=change field", "why=typing", "objectQuantity=2" },
      "field action: 'change field' is none of its values (did you mean 'change fields'?); "
      "allowed: change fields, void (wrong specimen), void (double), void (did not happen)" },
    { "correction", "26-0100",
      { "target=#5", "action=change fields", "why=typing", "county=Logan" },
      "field target: that entry is of another record; a correction stands on the same one as "
      "what it puts right, not on specimen/26-0100" },
    { "correction", "26-0999",
      { "target=#5", "action=change fields", "why=typing" },
      "'26-0999' does not say what it is; write one of: party, site, horizon, permission, "
      "field-day, dealing, place, specimen, as party/ID" },
    { "collecting", "26-0100", { NULL },
      "specimen/26-0100 was recorded already, by entry #9: give another number, or put that "
      "entry right with a correction" },
    { "division", "26-0100",
      { "purpose=cut", "remains=no, used up", "into=specimen:26-0100; form:slab; quantity:1",
        "consumed=0", "sameIndividual=yes" },
      "field into: specimen/26-0100 cannot come out of or be part of itself" },
    { "division", "26-0100",
      { "purpose=cut", "remains=no, used up",
        "into=specimen:26-0101; form:slab; quantity:1 | specimen:26-0101; form:slab; quantity:1",
        "consumed=0", "sameIndividual=yes" },
      "field into: specimen/26-0101 is named twice" },
    { "division", "26-0100",
      { "side=came out", "purpose=cut", "sameIndividual=yes", "outOf=#9", "parent=26-0100",
        "objectForm=slab", "objectQuantity=1" },
      "field side: this side is written by the program; record the division on the piece that "
      "was divided, or the whole that was made" },
    { "joining", "26-0102",
      { "parts=26-0100 | 26-0103", "why=refit", "sameIndividual=yes",
        "association=found together", "removable=no" },
      "field parts: unknown specimen/26-0103 (did you mean 26-0100?); if it is new, record "
      "collecting or arrival first" },
    { "placement", "site/B-1",
      { "what=26-0100" },
      "placement is recorded on place, not on 'site/B-1'" },
};

Test(door, refuses_nonsense_in_one_sentence_and_changes_nothing)
{
    struct refusal first = { .kind = "collecting", .subject = "26-0100" };
    struct mb_recording find = recording_of(&first);
    size_t wrong = 0;
    int64_t size;

    cr_assert_eq(mb_record(b.ledger, b.arena, &find, &b.out, &b.err), MB_OK, "%s", b.err.text);
    size = workbench_size(&b);

    for (size_t i = 0; i < sizeof refusals / sizeof *refusals; i++) {
        struct mb_recording what = recording_of(&refusals[i]);
        struct mb_error err = { 0 };
        enum mb_rc rc = mb_record(b.ledger, b.arena, &what, &b.out, &err);

        if (rc != MB_REFUSED || strcmp(err.text, refusals[i].sentence) != 0) {
            fprintf(stderr, "row %zu (%s %s): %d\n  says   %s\n  wanted %s\n", i, refusals[i].kind,
                    refusals[i].subject, rc, err.text, refusals[i].sentence);
            wrong++;
        }
    }
    cr_assert_eq(wrong, 0);
    cr_assert_eq(workbench_size(&b), size);
}
