#include "views_tables.h"

#define COLUMNS(c) .columns = c, .count = sizeof(c) / sizeof *(c)

static const struct mb_view_column party[] = {
    { "party_type", "partyType", C_WORDS },
    { "name", "name", C_WORDS },
    { "named_to", "namedTo", C_WORDS },
    { "neutral_label", "neutralLabel", C_WORDS },
    { "role", "role", C_WORDS },
    { "died", "died", C_WORDS },
    { "represented_by", "representedBy", C_WORDS },
    { "authority", "authority", C_WORDS },
};

static const struct mb_view_column site[] = {
    { "site_name", "siteName", C_WORDS },
    { "site_number", "siteNumber", C_WORDS },
    { "country", "countryCode", C_WORDS },
    { "state", "stateProvince", C_WORDS },
    { "county", "county", C_WORDS },
    { "municipality", "municipality", C_WORDS },
    { "site_type", "siteType", C_WORDS },
    { "latitude", "decimalLatitude", C_REAL },
    { "longitude", "decimalLongitude", C_REAL },
    { "datum", "geodeticDatum", C_WORDS },
    { "source", "coordinateSource", C_WORDS },
    { "uncertainty_m", "coordinateUncertaintyInMeters", C_REAL },
    { "boundary", "boundary", C_JSON },
    { "land_description", "legalDescription", C_WORDS },
    { "land_read", "legalDescription.read", C_LAND },
    { "land_township", "legalDescription.township", C_LAND },
    { "land_range", "legalDescription.range", C_LAND },
    { "land_sections", "legalDescription.sections", C_LAND },
    { "land_parts", "legalDescription.parts", C_LAND },
    { "land_lots", "legalDescription.lots", C_LAND },
    { "land_meridian", "legalDescription.meridian", C_LAND },
    { "land_acres", "legalDescription.nominalAcres", C_LAND },
    { "unit", "administrativeUnit", C_WORDS },
    { "held_back_by", "placeHeldBackBy", C_WORDS },
    { "finest_allowed", "placeFinestAllowed", C_WORDS },
    { "coarse_place", "coarsePlace", C_WORDS },
};

static const struct mb_view_column land[] = {
    { "category", "landCategory", C_WORDS },
    { "from_date", "from", C_WORDS },
    { "from_day", "from", C_FIRST },
    { "until_date", "until", C_WORDS },
    { "until_day", "until", C_LAST },
    { "area", "area", C_JSON },
    { "surface_owner", "surfaceOwner", C_WORDS },
    { "land_manager", "landManager", C_WORDS },
    { "fossil_owner", "fossilOwner", C_WORDS },
    { "minerals_severed", "mineralsSevered", C_WORDS },
    { "casual_collecting", "casualCollecting", C_WORDS },
    { "protected_as", "protectedAs", C_WORDS },
    { "evidence", "landEvidence", C_WORDS },
    { "evidence_date", "evidenceDate", C_WORDS },
    { "evidence_day", "evidenceDate", C_LAST },
    { "evidence_document", "evidenceDocument", C_WORDS },
};

static const struct mb_view_column land_closure[] = {
    { "what", "what", C_WORDS },
    { "from_day", "from", C_FIRST },
    { "until_day", "until", C_LAST },
    { "document", "document", C_WORDS },
};

static const struct mb_view_column horizon[] = {
    { "layer_name", "layerName", C_WORDS },
    { "layer_state", "layerState", C_WORDS },
    { "formation", "formation", C_WORDS },
    { "group_name", "group", C_WORDS },
    { "member", "member", C_WORDS },
    { "bed", "bed", C_WORDS },
    { "earliest_stage", "earliestStage", C_WORDS },
    { "latest_stage", "latestStage", C_WORDS },
    { "chart_version", "chartVersion", C_WORDS },
    { "zone", "zone", C_WORDS },
    { "lithology", "lithology", C_WORDS },
    { "thickness", "thickness", C_WORDS },
    { "base_height", "baseHeight", C_WORDS },
    { "base_datum", "baseDatum", C_WORDS },
    { "section", "section", C_WORDS },
};

static const struct mb_view_column permission[] = {
    { "permission_type", "permissionType", C_WORDS },
    { "permit_number", "permitNumber", C_WORDS },
    { "grantor", "grantor", C_WORDS },
    { "grantor_capacity", "grantorCapacity", C_WORDS },
    { "grantor_authority", "grantorAuthority", C_WORDS },
    { "holder", "holder", C_WORDS },
    { "supervised_allowed", "supervisedAllowed", C_WORDS },
    { "signed_on", "signedOn", C_WORDS },
    { "signed_day", "signedOn", C_FIRST },
    { "valid_from", "validFrom", C_WORDS },
    { "valid_from_day", "validFrom", C_FIRST },
    { "valid_until", "validUntil", C_WORDS },
    { "valid_until_day", "validUntil", C_LAST },
    { "area", "area", C_JSON },
    { "area_text", "areaText", C_WORDS },
    { "beds", "beds", C_WORDS },
    { "materials", "materials", C_WORDS },
    { "taxa", "taxa", C_WORDS },
    { "methods", "methods", C_WORDS },
    { "sale_allowed", "saleAllowed", C_WORDS },
    { "title_passes", "titlePasses", C_WORDS },
    { "owner_keeps", "ownerKeeps", C_WORDS },
    { "owner_choice_days", "ownerChoiceDays", C_INT },
    { "place_may_be_published", "placeMayBePublished", C_WORDS },
    { "repository", "repository", C_WORDS },
    { "repository_acceptance", "repositoryAcceptance", C_WORDS },
    { "regime", "regime", C_WORDS },
    { "document", "document", C_WORDS },
    { "until_now", NULL, X_UNTIL_NOW },
    { "until_now_day", NULL, X_UNTIL_NOW_DAY },
    { "last_change", NULL, X_LAST_CHANGE },
    { "last_change_day", NULL, X_LAST_CHANGE_DAY },
    { "holder_now", NULL, X_HOLDER_NOW },
};

static const struct mb_view_column permission_site[] = { { "site", ".", C_WORDS } };

static const struct mb_view_column permission_person[] = {
    { "party", "party", C_WORDS },
    { "role", "role", C_WORDS },
    { "alone", "alone", C_WORDS },
};

static const struct mb_view_column permission_limit[] = {
    { "amount", "amount", C_VALUE },
    { "unit", "unit", C_WORDS },
    { "per", "per", C_WORDS },
    { "whose", "whose", C_WORDS },
    { "matrix_counted", "matrixCounted", C_WORDS },
};

static const struct mb_view_column report_due[] = {
    { "what", "what", C_WORDS },
    { "due_on", "dueOn", C_WORDS },
    { "due_day", "dueOn", C_LAST },
    { "to_party", "to", C_WORDS },
};

static const struct mb_view_column permission_change[] = {
    { "what", "what", C_WORDS },
    { "from_date", "from", C_WORDS },
    { "from_day", "from", C_FIRST },
    { "until_date", "until", C_WORDS },
    { "until_day", "until", C_LAST },
    { "new_until", "newValidUntil", C_WORDS },
    { "new_until_day", "newValidUntil", C_LAST },
    { "new_area", "newArea", C_JSON },
    { "new_holder", "newHolder", C_WORDS },
    { "new_value", "newValue", C_WORDS },
    { "document", "document", C_WORDS },
    { "by_party", "by", C_WORDS },
};

static const struct mb_view_column permission_report[] = {
    { "filed_on", "filedOn", C_WORDS },
    { "filed_day", "filedOn", C_LAST },
    { "to_party", "to", C_WORDS },
    { "reported", "specimensReported", C_INT },
    { "deposited", "specimensDeposited", C_INT },
    { "destroyed", "specimensDestroyed", C_INT },
    { "held", "specimensHeld", C_INT },
    { "document", "document", C_WORDS },
    { "accepted_on", "acceptedOn", C_WORDS },
};

static const struct mb_view_column report_cover[] = {
    { "from_day", "from", C_FIRST },
    { "until_day", "until", C_LAST },
};

static const struct mb_view_column field_day[] = {
    { "event_date", "eventDate", C_WORDS },
    { "day_first", "eventDate", C_FIRST },
    { "day_last", "eventDate", C_LAST },
    { "site", "site", C_WORDS },
    { "field_number", "fieldNumber", C_WORDS },
    { "permission", "permission", C_WORDS },
    { "recorded_by", "recordedBy", C_WORDS },
    { "purpose", "purpose", C_WORDS },
    { "tools", "tools", C_WORDS },
    { "notebook", "notebookPages", C_WORDS },
};

static const struct mb_view_column present[] = {
    { "party", "party", C_WORDS },
    { "role", "role", C_WORDS },
    { "supervised_by", "supervisedBy", C_WORDS },
    { "waiver_signed", "waiverSigned", C_WORDS },
};

static const struct mb_view_column took[] = {
    { "party", "party", C_WORDS },
    { "material", "material", C_WORDS },
    { "mass", "mass", C_VALUE },
    { "unit", "unit", C_WORDS },
    { "pieces", "pieces", C_INT },
};

static const struct mb_view_column dealing[] = {
    { "dealing_type", "type", C_WORDS },
    { "opened", "opened", C_WORDS },
    { "opened_day", "opened", C_FIRST },
    { "due_back", "dueBack", C_WORDS },
    { "due_day", "dueBack", C_LAST },
    { "terms", "terms", C_WORDS },
    { "status", "status", C_WORDS },
};

static const struct mb_view_column dealing_party[] = {
    { "party", "party", C_WORDS },
    { "role", "role", C_WORDS },
};

static const struct mb_view_column dealing_piece[] = { { "specimen", ".", C_WORDS } };

static const struct mb_view_column document[] = {
    { "leaf", NULL, X_LEAF },
    { "doc_type", "docType", C_WORDS },
    { "title", "title", C_WORDS },
    { "doc_date", "docDate", C_WORDS },
    { "doc_day", "docDate", C_LAST },
    { "issued_by", "issuedBy", C_WORDS },
    { "number", "number", C_WORDS },
    { "file", "file|fileForScience|fileForSale|filePrivate", C_WORDS },
    { "valid_from", "validFrom", C_WORDS },
    { "valid_until", "validUntil", C_WORDS },
    { "confirmed", "confirmedWithIssuer", C_WORDS },
};

static const struct mb_view_column claim[] = {
    { "nature", "nature", C_WORDS },
    { "status", "status", C_WORDS },
    { "date", "date", C_WORDS },
    { "day", "date", C_FIRST },
    { "by_party", "by", C_WORDS },
    { "by_label", "byLabel", C_WORDS },
    { "reference", "reference", C_WORDS },
    { "hold", "hold", C_WORDS },
    { "until_date", "untilFurther", C_WORDS },
    { "concerns", "concerns", C_SEQ },
    { "changed_by", NULL, X_CHANGED_BY },
    { "is_open", NULL, X_OPEN },
};

static const struct mb_view_column place[] = {
    { "place_name", "placeName", C_WORDS },
    { "store", "store", C_WORDS },
};

static const struct mb_view_column placement[] = {
    { "what", ".", C_WORDS },
    { "date", "^date", C_WORDS },
    { "day", "^date", C_LAST },
    { "moved_by", "^movedBy", C_WORDS },
};

static const struct mb_view_column find[] = {
    { "field_day", "fieldDay", C_WORDS },
    { "event_date", "eventDate", C_WORDS },
    { "day_first", "eventDate", C_FIRST },
    { "day_last", "eventDate", C_LAST },
    { "site", "site", C_WORDS },
    { "horizon", "horizon", C_WORDS },
    { "permission", "permission", C_WORDS },
    { "purpose", "purpose", C_WORDS },
    { "tools", "tools", C_WORDS },
    { "in_place", "inPlace", C_WORDS },
    { "found_by", "foundBy", C_WORDS },
    { "gave_up_claim", "finderGaveUpClaim", C_WORDS },
    { "record_number", "recordNumber", C_WORDS },
    { "object_form", "objectForm", C_WORDS },
    { "quantity", "objectQuantity", C_INT },
    { "material_class", "materialClass", C_WORDS },
    { "common_kind", "commonKind", C_WORDS },
    { "mass", "mass", C_VALUE },
    { "mass_unit", "mass", C_UNIT },
    { "mass_kg", "mass", C_KG },
    { "mass_how", "massHow", C_WORDS },
    { "with_matrix", "massWithMatrix", C_WORDS },
    { "latitude", "decimalLatitude", C_REAL },
    { "longitude", "decimalLongitude", C_REAL },
    { "datum", "geodeticDatum", C_WORDS },
    { "uncertainty_m", "coordinateUncertaintyInMeters", C_REAL },
    { "radius_m", "coordinateUncertaintyInMeters", X_RADIUS },
    { "made_from", "madeFrom", C_WORDS },
};

static const struct mb_view_column collector[] = { { "party", ".", C_WORDS } };

static const struct mb_view_column arrival[] = {
    { "received_on", "receivedOn", C_WORDS },
    { "day_first", "receivedOn", C_FIRST },
    { "day_last", "receivedOn", C_LAST },
    { "received_from", "receivedFrom", C_WORDS },
    { "from_label", "fromLabel", C_WORDS },
    { "reason", "reason", C_WORDS },
    { "owner", "owner", C_WORDS },
    { "owner_shown_by", "ownerShownBy", C_WORDS },
    { "quantity", "objectQuantity", C_INT },
    { "quantity_declared", "quantityDeclared", C_INT },
    { "material_class", "materialClass", C_WORDS },
    { "label_link", "labelLink", C_WORDS },
    { "stated_site", "statedSite", C_WORDS },
    { "reading_sure", "readingSure", C_WORDS },
    { "country", "countryOfDiscovery", C_WORDS },
    { "left_country_on", "leftThatCountryOn", C_WORDS },
    { "export_paper", "exportPaper", C_WORDS },
    { "dealing", "dealing", C_WORDS },
    { "due_back", "dueBack", C_WORDS },
    { "due_day", "dueBack", C_LAST },
    { "made_from", "madeFrom", C_WORDS },
};

static const struct mb_view_column identification[] = {
    { "what_it_is", "whatItIs", C_WORDS },
    { "vernacular_name", "vernacularName", C_WORDS },
    { "scientific_name", "scientificName", C_WORDS },
    { "qualifier", "identificationQualifier", C_WORDS },
    { "taxon_rank", "taxonRank", C_WORDS },
    { "preservation", "preservation", C_WORDS },
    { "identified_by", "identifiedBy", C_WORDS },
    { "identifier_tie", "identifierTie", C_WORDS },
    { "date", "dateIdentified", C_WORDS },
    { "day", "dateIdentified", C_LAST },
    { "sure", "sure", C_WORDS },
    { "accepted", "isAcceptedIdentification", C_WORDS },
    { "type_status", "typeStatus", C_WORDS },
};

static const struct mb_view_column preparation[] = {
    { "date", "preparationDate", C_WORDS },
    { "day_first", "preparationDate", C_FIRST },
    { "day_last", "preparationDate", C_LAST },
    { "prepared_by", "preparedBy", C_WORDS },
    { "whose", "whose", C_WORDS },
    { "lost", "lostInWork", C_WORDS },
    { "stage", "stage", C_WORDS },
};

static const struct mb_view_column step[] = {
    { "method", "method", C_WORDS },
    { "tool", "tool", C_WORDS },
    { "medium", "medium", C_WORDS },
    { "material", "material", C_WORDS },
    { "strength", "strength", C_WORDS },
    { "solvent", "solvent", C_WORDS },
    { "removable_with", "removableWith", C_WORDS },
    { "part", "where", C_WORDS },
};

static const struct mb_view_column condition[] = {
    { "date", "examinedOn", C_WORDS },
    { "day", "examinedOn", C_LAST },
    { "examined_by", "examinedBy", C_WORDS },
    { "tie", "examinerTie", C_WORDS },
    { "occasion", "occasion", C_WORDS },
    { "means", "means", C_WORDS },
    { "not_examined", "notExamined", C_WORDS },
    { "frame", "frame", C_WORDS },
    { "stability", "stability", C_WORDS },
    { "mass", "mass", C_WORDS },
};

static const struct mb_view_column measurement[] = {
    { "what", "what", C_WORDS },
    { "value", "value", C_VALUE },
    { "unit", "unit", C_WORDS },
    { "how", "how", C_WORDS },
    { "date", "on", C_WORDS },
    { "day", "on", C_LAST },
    { "recount", "recount", C_INT },
};

static const struct mb_view_column numbering[] = {
    { "number", "number", C_WORDS },
    { "number_type", "numberType", C_WORDS },
    { "given_by", "givenBy", C_WORDS },
    { "date", "date", C_WORDS },
    { "on_object", "onObject", C_WORDS },
};

static const struct mb_view_column custody[] = {
    { "from_party", "from", C_WORDS },
    { "from_label", "fromLabel", C_WORDS },
    { "to_party", "to", C_WORDS },
    { "to_label", "toLabel", C_WORDS },
    { "handed_over", "handedOver", C_WORDS },
    { "handed_day", "handedOver", C_FIRST },
    { "received", "received", C_WORDS },
    { "received_day", "received", C_FIRST },
    { "reason", "reason", C_WORDS },
    { "capacity", "capacity", C_WORDS },
    { "due_back", "dueBack", C_WORDS },
    { "due_day", "dueBack", C_LAST },
    { "from_country", "fromCountry", C_WORDS },
    { "to_country", "toCountry", C_WORDS },
    { "border_papers", "borderPapers", C_WORDS },
    { "dealing", "dealing", C_WORDS },
    { "acknowledged", "acknowledged", C_WORDS },
    { "countersigned", NULL, X_COUNTERSIGNED },
    { "giver_held", NULL, X_GIVER },
};

static const struct mb_view_column title[] = {
    { "from_party", "from", C_WORDS },
    { "from_label", "fromLabel", C_WORDS },
    { "to_party", "to", C_WORDS },
    { "to_label", "toLabel", C_WORDS },
    { "date", "date", C_WORDS },
    { "day", "date", C_FIRST },
    { "manner", "manner", C_WORDS },
    { "basis", "basis", C_WORDS },
    { "part", "part", C_WORDS },
    { "acting_for", "actingFor", C_WORDS },
    { "authority", "authority", C_WORDS },
    { "conditions", "conditions", C_WORDS },
    { "burdens", "burdens", C_WORDS },
    { "undoes", "undoes", C_SEQ },
    { "acknowledged", "acknowledged", C_WORDS },
    { "countersigned", NULL, X_COUNTERSIGNED },
    { "giver_owned", NULL, X_GIVER },
};

static const struct mb_view_column loss[] = {
    { "nature", "nature", C_WORDS },
    { "date", "date", C_WORDS },
    { "day", "date", C_FIRST },
    { "quantity", "quantity", C_INT },
    { "in_whose_care", "inWhoseCare", C_WORDS },
    { "report_number", "reportNumber", C_WORDS },
    { "consent", "consent", C_WORDS },
    { "closes", "closes", C_SEQ },
    { "closed_by", NULL, X_CLOSED_BY },
};

static const struct mb_view_column joining[] = {
    { "side", "side", C_WORDS },
    { "date", "date", C_WORDS },
    { "day", "date", C_FIRST },
    { "why", "why", C_WORDS },
    { "same_individual", "sameIndividual", C_WORDS },
    { "association", "association", C_WORDS },
    { "removable", "removable", C_WORDS },
    { "whole", "whole", C_WORDS },
};

static const struct mb_view_column making[] = {
    { "what", "what", C_WORDS },
    { "taken_from", "takenFrom", C_WORDS },
    { "number", "number", C_INT },
    { "run_size", "runSize", C_INT },
    { "material", "material", C_WORDS },
    { "date", "date", C_WORDS },
    { "day", "date", C_FIRST },
    { "consent", "consent", C_WORDS },
};

static const struct mb_view_column certificate[] = {
    { "leaf", NULL, X_LEAF },
    { "audience", "audience", C_WORDS },
    { "to_party", "to", C_WORDS },
    { "day", NULL, X_DAY },
    { "replaces", "replaces", C_SEQ },
    { "replaced_by", NULL, X_REPLACED_BY },
    { "withdrawn_by", NULL, X_WITHDRAWN_BY },
    { "withdrawn_why", NULL, X_WITHDRAWN_WHY },
};

#define OF_SUBJECT(table, of, c) \
    { .name = table, .kind = of, .key = "sub", .by_subject = true, COLUMNS(c) }
#define LIST_OF_SUBJECT(table, of, field, as, c) \
    { .name = table, .kind = of, .list = field, .key = as, .by_subject = true, COLUMNS(c) }
#define OF_ENTRY(table, of, as, c) { .name = table, .kind = of, .key = as, COLUMNS(c) }
#define LIST_OF_ENTRY(table, of, field, as, c) \
    { .name = table, .kind = of, .list = field, .key = as, COLUMNS(c) }

const struct mb_view_table mb_view_tables[] = {
    OF_SUBJECT("v_party", "party", party),
    OF_SUBJECT("v_site", "site", site),
    OF_ENTRY("v_land", "land-status", "site", land),
    LIST_OF_ENTRY("v_land_closure", "land-status", "closures", "site", land_closure),
    OF_SUBJECT("v_horizon", "horizon", horizon),
    OF_SUBJECT("v_permission", "permission", permission),
    LIST_OF_SUBJECT("v_permission_site", "permission", "sites", "permission", permission_site),
    LIST_OF_SUBJECT("v_permission_person", "permission", "namedPersons", "permission",
                    permission_person),
    LIST_OF_SUBJECT("v_permission_limit", "permission", "limits", "permission",
                    permission_limit),
    LIST_OF_SUBJECT("v_report_due", "permission", "reportsDue", "permission", report_due),
    OF_ENTRY("v_permission_change", "permission-change", "permission", permission_change),
    OF_ENTRY("v_permission_report", "permission-report", "permission", permission_report),
    LIST_OF_ENTRY("v_report_cover", "permission-report", "covers", "permission", report_cover),
    OF_SUBJECT("v_field_day", "field-day", field_day),
    LIST_OF_SUBJECT("v_present", "field-day", "present", "field_day", present),
    LIST_OF_SUBJECT("v_took", "field-day", "took", "field_day", took),
    OF_SUBJECT("v_dealing", "dealing", dealing),
    LIST_OF_SUBJECT("v_dealing_party", "dealing", "parties", "dealing", dealing_party),
    LIST_OF_SUBJECT("v_dealing_piece", "dealing", "specimens", "dealing", dealing_piece),
    OF_ENTRY("v_document", "document", "sub", document),
    OF_ENTRY("v_claim", "claim", "sub", claim),
    OF_SUBJECT("v_place", "placement", place),
    LIST_OF_ENTRY("v_placement", "placement", "what", "place", placement),
    OF_ENTRY("v_find", "collecting", "sub", find),
    LIST_OF_ENTRY("v_collector", "collecting", "recordedBy", "sub", collector),
    OF_ENTRY("v_arrival", "arrival", "sub", arrival),
    OF_ENTRY("v_identification", "identification", "sub", identification),
    OF_ENTRY("v_preparation", "preparation", "sub", preparation),
    LIST_OF_ENTRY("v_step", "preparation", "steps", "sub", step),
    OF_ENTRY("v_condition", "condition", "sub", condition),
    OF_ENTRY("v_measurement", "measurement", "sub", measurement),
    OF_ENTRY("v_numbering", "numbering", "sub", numbering),
    OF_ENTRY("v_custody", "custody", "sub", custody),
    OF_ENTRY("v_title", "title", "sub", title),
    OF_ENTRY("v_loss", "loss", "sub", loss),
    OF_ENTRY("v_joining", "joining", "sub", joining),
    OF_ENTRY("v_making", "making", "sub", making),
    OF_ENTRY("v_certificate", "certificate", "sub", certificate),
};

const size_t mb_view_tables_count = sizeof mb_view_tables / sizeof *mb_view_tables;

_Static_assert(sizeof mb_view_tables / sizeof *mb_view_tables <= MB_VIEW_TABLES_MOST,
               "a replay keeps a statement for each table");
