/* Curves and tables of settings files and job sheets. Included by read/field.c. */
#ifndef KEYWAY_READ_GRID_H
#define KEYWAY_READ_GRID_H

#include "read/field.h"

/* false when refused; all problems of the curve are added. Lists may be given as {unit: U, at: [...]} or bare. */
bool grid_read_curve(struct field_reader *r, const struct entry *entry, const struct node *node, struct curve *out);

/* The same; value is {unit: U, rows: [[...], ...]} or the rows alone, one row for each y. */
bool grid_read_table(struct field_reader *r, const struct entry *entry, const struct node *node, struct table *out);

#endif
