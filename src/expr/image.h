/* Names and compiled expressions in an image (base/image.h). Included by rules/. */
#ifndef KEYWAY_EXPR_IMAGE_H
#define KEYWAY_EXPR_IMAGE_H

#include "base/image.h"
#include "expr/expr.h"

/* Each writes what it is given, or reads (then what it is given counts for nothing). */

/* Names, and every distinct expression; they are named by the two functions below. A graph that was read serves
 * evaluation only: nothing can be compiled into it. */
void language_image(struct image *image, const struct names **names, struct graph **graph);
const struct expr *expr_image(struct image *image, const struct expr *expr, const struct graph *graph); /* or NULL */
const struct name *name_image(struct image *image, const struct name *name, const struct names *names); /* or NULL */

#endif
