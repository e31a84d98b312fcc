/* What a workbench's ledger holds where more than one find is needed: the invented lab of the demo,
 * in small. */
#ifndef MB_STOCK_H
#define MB_STOCK_H

#include "workbench.h"

/*
 * workbench_house, and
 *   parties   P004 Marguerite Oduya (client; institutions and land managers only), P005 the museum
 *             (anyone), P006 Delphine Tessaly (ranch owner; institutions ...), P011 Priya Lindqvist
 *             (buyer; nobody)
 *   site S002 Tessaly Ranch cut, its place held back by the landowner, no finer than the state;
 *             land status of both sites: S001 is P001's, S002 P006's
 *   permission L002 a lease of P006 to P001
 *   field-day D002 on 2026-05-29 at S002, under L002, with P003
 */
void stock_house(struct workbench *b);

/* A find of one slab on D001 (S001, H-A, L001). Returns the entry's number. */
int64_t stock_find(struct workbench *b, const char *id);
/* A lot of `count` pieces found on D002 (S002, H-A, L002). */
int64_t stock_lot(struct workbench *b, const char *id, int count);
/* What a buyer has to know: identified, prepared, looked at, owned, sold to P011. */
void stock_sold(struct workbench *b, const char *id);
/* Divides a lot: `into` as typed ("specimen:26-0241; form:lot; quantity:80"). */
int64_t stock_divide(struct workbench *b, const char *id, const char *into, const char *remainder,
                     const char *consumed);

#endif
