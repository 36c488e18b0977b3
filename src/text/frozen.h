/* Trees of YAML nodes as bytes that can be read back at once: how the files under rules/ are built into the program, so
 * that starting it does not mean parsing YAML. Included by text/yaml.c and rules/freeze.c (the tool that writes them).
 * Places are left out: what is built in has been read before. */
#ifndef KEYWAY_TEXT_FROZEN_H
#define KEYWAY_TEXT_FROZEN_H

#include "text/yaml.h"

#include <stdio.h>

/* false on a write error. */
bool frozen_write(FILE *out, const struct node *root);

/* The tree; texts point into the source's bytes, the rest lives in `arena`. NULL when the bytes are no such tree. */
const struct node *frozen_read(struct arena *arena, const struct source *source);

#endif
