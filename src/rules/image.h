/* A set of compiled packs in an image (base/image.h). Included by cli/, rules/freeze.c and tests. */
#ifndef KEYWAY_RULES_IMAGE_H
#define KEYWAY_RULES_IMAGE_H

#include "base/image.h"
#include "rules/pack.h"

/* Writes it, or reads one (NULL when the image is broken). What is read serves audits: it has no nodes, sources or
 * places, and nothing can be compiled into it. Packs that replace or silence rules are not written. */
const struct packs *packs_image(struct image *image, const struct packs *packs);

#endif
