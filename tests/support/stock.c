#include "stock.h"

#include "text.h"

void stock_house(struct workbench *b)
{
    workbench_house(b);
    workbench_must(b, "party", "P004", "partyType=person", "name=Marguerite Oduya",
                   "namedTo=institutions and land managers only", "neutralLabel=a client", NULL);
    workbench_must(b, "party", "P005", "partyType=museum",
                   "name=Western Strand Museum of Natural History", "namedTo=anyone",
                   "neutralLabel=a museum", NULL);
    workbench_must(b, "party", "P006", "partyType=person", "name=Delphine Tessaly",
                   "namedTo=institutions and land managers only", "neutralLabel=a ranch owner",
                   NULL);
    workbench_must(b, "party", "P011", "partyType=person", "name=Priya Lindqvist",
                   "namedTo=nobody", "neutralLabel=a buyer", NULL);
    workbench_must(b, "site", "S002", "siteName=Tessaly Ranch cut", "countryCode=US",
                   "stateProvince=Kansas", "county=Logan", "municipality=Russell Springs",
                   "decimalLatitude=38.81530", "decimalLongitude=-101.10220",
                   "geodeticDatum=EPSG:4326", "coordinateSource=GPS receiver",
                   "placeHeldBackBy=landowner", "placeFinestAllowed=state", NULL);
    workbench_must(b, "land-status", "site/S001", "landCategory=private", "from=2011-04-01",
                   "surfaceOwner=P001", "fossilOwner=P001", "mineralsSevered=no",
                   "landEvidence=deed seen", NULL);
    workbench_must(b, "land-status", "site/S002", "landCategory=private", "from=1994-01-01",
                   "surfaceOwner=P006", "fossilOwner=P006", "mineralsSevered=not known",
                   "landEvidence=owner's word", NULL);
    workbench_must(b, "permission", "L002", "permissionType=lease", "grantor=P006", "holder=P001",
                   "validFrom=2025-04-01", "validUntil=2026-10-31", "sites=S001 | S002",
                   "saleAllowed=yes", "titlePasses=on collecting", "document=none", NULL);
    workbench_must(b, "field-day", "D002", "eventDate=2026-05-29", "site=S002",
                   "permission=L002", "recordedBy=P003", "present=party:P003; role:named",
                   "purpose=commercial", "tools=hand tools", NULL);
}

int64_t stock_find(struct workbench *b, const char *id)
{
    return workbench_must(b, "collecting", id, "fieldDay=D001",
                          mb_arena_printf(b->arena, "recordNumber=T-%s", id),
                          "verbatimIdentification=crinoid slab", "objectQuantity=1",
                          "objectForm=slab", "quantityHow=counted", "materialClass=invertebrate",
                          "horizon=H-A", "inPlace=in place", "remarks=left of the fence", NULL);
}

int64_t stock_lot(struct workbench *b, const char *id, int count)
{
    return workbench_must(b, "collecting", id, "fieldDay=D002",
                          mb_arena_printf(b->arena, "recordNumber=L-%s", id),
                          "verbatimIdentification=shark teeth",
                          mb_arena_printf(b->arena, "objectQuantity=%d", count), "objectForm=lot",
                          "quantityHow=counted", "materialClass=vertebrate", "horizon=H-A",
                          "inPlace=screened", NULL);
}

void stock_sold(struct workbench *b, const char *id)
{
    workbench_must(b, "identification", id, "whatItIs=natural fossil",
                   "vernacularName=crinoid", "scientificName=not known",
                   "preservation=original mineral kept", "identifiedBy=P002",
                   "identifierTie=preparator",
                   "sure=likely", NULL);
    workbench_must(b, "preparation", id, "steps=method:airscribe; where:left margin",
                   "lostInWork=none", "preparedBy=P002", NULL);
    workbench_must(b, "condition", id, "occasion=for sale", "means=eye | lens",
                   "examinerTie=did the work", "notExamined=reverse", "form=natural",
                   "frame=visible fossil surface in the named views",
                   "shares=view:front; substance:original; percent:94; low:91; high:96; "
                   "how:outline | view:front; substance:restored; percent:6; low:4; high:9; "
                   "how:outline",
                   "joins=none",
                   "identifyingMarks=mark:rust spot; where:left of crown A | mark:bent arm; "
                   "where:crown B | mark:oyster; where:lower edge",
                   "dimensions=which:length; value:42; unit:cm", "mass=3.4 kg", "outlines=none",
                   NULL);
    workbench_must(b, "title", id, "from=nobody before", "to=P001", "fromLabel=nobody before",
                   "toLabel=us", "date=2026-05-30", "manner=found on own land", "basis=L001",
                   "conditions=none", "burdens=none stated", "acknowledged=one side only", NULL);
    workbench_must(b, "title", id, "from=P001", "to=P011", "fromLabel=us",
                   "toLabel=private person", "date=2026-06-01", "manner=sale",
                   "basis=none", "conditions=none", "burdens=none stated",
                   "acknowledged=one side only", "price=1200 EUR", NULL);
    workbench_must(b, "custody", id, "from=P001", "to=P011", "fromLabel=us",
                   "toLabel=private person", "reason=sale", "capacity=owner",
                   "acknowledged=one side only", "fromCountry=US", "toCountry=US", NULL);
}

int64_t stock_divide(struct workbench *b, const char *id, const char *into, const char *remainder,
                     const char *consumed)
{
    return workbench_must(b, "division", id, "purpose=drawn from lot", "remains=yes, smaller",
                          mb_arena_printf(b->arena, "into=%s", into),
                          mb_arena_printf(b->arena, "remainder=%s", remainder),
                          mb_arena_printf(b->arena, "consumed=%s", consumed),
                          "sameIndividual=does not apply", "doneBy=P002", NULL);
}
